"""Dial-in: the next setting of an oxidant feeder from the residuals read so far.

Contents: dial_in. The readings and what they leave possible: demand_fit. The rules: dial_rules.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import MissingInput, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import (
    Answer,
    Interval,
    q,
    result,
)
from equipment.engineering.units import Quantity

from .demand_fit import (
    Evidence,
    Reading,
    checked_reading,
    read_reading,
)
from .dial_rules import Advice, Case, advise
from .feed_setting import LEVEL_UNKNOWN, MAXIMUM_USE_LEVEL, MIDDLE_SETTING
from .feeding import (
    FEED_SOURCE,
    FEEDER_CAUTION,
    FEEDER_OUTPUT,
    FLOW,
    HIGHEST_SETTING,
    LOWEST_SETTING,
    STRENGTH,
    dose_per_percent,
)
from .oxidants import FOLLOW_LABEL, NOT_TOGETHER

MG_L = "mg/L"
PERCENT = "percent"
#: common practice: excess peroxide that may show as bubbles once the carbon has split it
BUBBLE_NOTICE = 30.0
#: common practice: waited steps in one visit
STEPS_IN_A_VISIT = 4

OXIDANT = Key(
    name="oxidant",
    kind="choice",
    choices=("peroxide", "chlorine", "permanganate"),
    required=True,
    help="what the feeder feeds",
)
READING = Key(
    name="reading",
    kind="repeated",
    reader=read_reading,
    help="setting:low-high[:turnovers], percent and mg/L after retention, before carbon, in the "
    "order taken; 40:5-10, 40:>25, 40:0-0.5:2, 40:12 (give or take 10 percent)",
)
TARGET_LOW = Key(
    name="target_low", unit=MG_L, required=True, low=0, high=100, help="residual wanted, at least"
)
TARGET_HIGH = Key(
    name="target_high", unit=MG_L, required=True, low=0, high=100, help="residual wanted, at most"
)
IRON_CLEAR = Key(
    name="iron_clear", kind="bool", help="no iron at the tap after the carbon at the last reading"
)
ODOUR_CLEAR = Key(
    name="odour_clear",
    kind="bool",
    help="no sulfide odour at the tap after the carbon at the last reading, cold and hot",
)
MAXIMUM_DOSE = Key(
    name="maximum_dose", unit=MG_L, low=0.01, high=500, help="largest dose to be fed at this job"
)
COMPUTED = Key(
    name="computed_setting",
    unit=PERCENT,
    low=0,
    low_open=True,
    high=1000,
    help="setting from feed-setting; where the start comes from while there is no reading",
)
CHECKED = Key(
    name="feeder_checked",
    kind="bool",
    help="prime, tube, injector, valves and solution checked since the last reading",
)


class DialIn(Answer):
    method: ClassVar[str] = "dial-in/2"

    next_setting: Quantity = result(PERCENT, "setting to try next, or to leave")
    next_dose: Quantity = result(MG_L, "dose at that setting, by the feeder's calibration")
    setting_limits: Interval | None = result(
        PERCENT, "lowest and highest setting one step may go to"
    )
    expected_residual: Interval | None = result(
        MG_L, "residual that the readings allow at that setting"
    )
    demand: Interval | None = result(
        MG_L,
        "demand that the readings allow, with the best slope; the "
        "high end is all the feeder can give while only zeros were read",
    )
    slope: Quantity = result(MG_L, "residual gained with one percent of setting, best estimate")
    stop: bool = result("", "true when this setting is the final one")
    reason: str = result("", "why")


def dial_in(
    *,
    oxidant: str,
    flow: Quantity,
    strength: Quantity,
    feeder_output: Quantity,
    target_low: Quantity,
    target_high: Quantity,
    reading: list[Reading] | None = None,
    iron_clear: bool | None = None,
    odour_clear: bool | None = None,
    maximum_dose: Quantity | None = None,
    maximum_use_level: Quantity | None = None,
    computed_setting: Quantity | None = None,
    feeder_checked: bool = False,
) -> DialIn:
    """Next setting of a feeder from readings that are few, coarse and noisy.

    residual = k x - D, not below 0;  g = F100 C / (100 Q)  is what k should be

    Each reading is an interval. All (k, D) with k in 0.6 g to 1.3 g and D >= 0 that fit the
    settled readings are kept; the estimate inside them is least squares with g +- 20 percent as
    prior, so with one reading k = g. The next setting aims at the middle of the target.

    oxidant            peroxide, chlorine, permanganate; only peroxide starts high
    flow               Q, past the injector while the feeder runs  [flow]  0.1 to 5000 gpm
    strength           C  [concentration]  0.1 to 1500 g/L active
    feeder_output      F100  [flow]  gpd at 100 percent, measured if possible
    target_low, _high  [concentration]  0 to 100 mg/L, after retention and before carbon
    reading            in the order taken; only those at 3 turnovers or more count
    iron_clear, odour_clear   at the tap after the carbon, at the last reading
    maximum_dose, maximum_use_level  [concentration]  never passed
    computed_setting   percent, where the start comes from
    feeder_checked     lets it raise again after two zeros in a row

    Limits of a step: half down to half up, the feeder's range, the largest dose; not down at all
    while the tap is not clear, and half as far while that is not known. Raises MissingInput
    without a reading and without anything to start from, OutOfRange for a value outside its
    range. Source: dose = demand + residual (operator training texts); the limits of the steps,
    the slope range and the start are common practice, no source.
    """
    if oxidant not in OXIDANT.choices:
        raise WrongInput("oxidant", f"{oxidant!r} is not one of {', '.join(OXIDANT.choices)}")
    calibration = dose_per_percent(
        FLOW.amount(flow), STRENGTH.amount(strength), FEEDER_OUTPUT.amount(feeder_output)
    )
    low, high = TARGET_LOW.amount(target_low), TARGET_HIGH.amount(target_high)
    if high < low:
        raise WrongInput("target_high", f"{high:g} mg/L is below target_low, {low:g} mg/L")
    case = Case(
        oxidant=oxidant,
        readings=tuple(checked_reading("reading", given) for given in reading or ()),
        calibration=calibration,
        target_low=low,
        target_high=high,
        maximum=_largest(maximum_dose, maximum_use_level),
        computed=None if computed_setting is None else COMPUTED.amount(computed_setting),
        iron_clear=iron_clear,
        odour_clear=odour_clear,
        feeder_checked=feeder_checked,
    )
    _check_start(case)
    return _answer(case, advise(case))


def _largest(maximum_dose: Quantity | None, maximum_use_level: Quantity | None) -> float | None:
    given = [
        key.amount(value)
        for key, value in ((MAXIMUM_DOSE, maximum_dose), (MAXIMUM_USE_LEVEL, maximum_use_level))
        if value is not None
    ]
    return min(given) if given else None


def _check_start(case: Case) -> None:
    """Without a reading there must be something to start from."""
    if case.readings or case.computed is not None:
        return
    if case.oxidant != "peroxide" or case.maximum is None:
        raise MissingInput(
            "computed_setting",
            "is missing; without a reading the start comes from the setting that feed-setting "
            "computes" + (", or from maximum_dose" if case.oxidant == "peroxide" else ""),
        )


def _answer(case: Case, advice: Advice) -> DialIn:
    evidence = advice.evidence
    return DialIn(
        next_setting=q(advice.setting, PERCENT),
        next_dose=q(case.calibration * advice.setting, MG_L),
        setting_limits=_interval(advice.limits, PERCENT),
        expected_residual=_interval(advice.residual, MG_L),
        demand=_interval(advice.demand, MG_L),
        slope=q(evidence.slope if evidence else case.calibration, MG_L),
        stop=advice.stop,
        reason=advice.reason,
        warnings=(
            *_reading_warnings(case, evidence),
            *_setting_warnings(case, advice),
        ),
        cautions=_cautions(case, advice),
        sources=(
            "Dose = demand + residual (operator training texts).",
            FEED_SOURCE,
            "Start, limits of a step and slope range: common practice, no source.",
        ),
        working=_working(case, advice, evidence),
    )


def _interval(pair: tuple[float, float] | None, unit_name: str) -> Interval | None:
    return None if pair is None else Interval(q(pair[0], unit_name), q(pair[1], unit_name))


def _reading_warnings(case: Case, evidence: Evidence | None) -> list[str]:
    warnings = [
        f"{reading.text} does not count: {reading.turnovers:.2f} turnovers, 3 are needed."
        for reading in case.readings
        if not reading.settled
    ]
    if evidence is None:
        return warnings
    if evidence.conflict == "misread":
        warnings.append("The readings agree only if one was misread by a pad: read again.")
    if evidence.conflict == "disagree":
        warnings.append(
            "The readings do not agree with each other, only the last one counts: check prime, "
            "flow and solution and take another reading at this setting."
        )
    last = case.readings[-1]
    if last.low > case.calibration * last.setting:
        warnings.append(
            "More residual than the feeder should feed: measure its output, the strength and the "
            "flow again, and look for siphoning."
        )
    if _fell(case.settled):
        warnings.append(
            "The residual fell at the same setting: weaker solution, worn tube or a rising "
            "demand; find out which before changing the setting."
        )
    most = case.calibration * 100 - case.middle
    if last.zero and not evidence.bounded and evidence.demand_low > most:
        warnings.append("The demand is near or above all that this feeder can give.")
    return warnings


def _fell(readings: tuple[Reading, ...]) -> bool:
    return any(
        first.setting == second.setting and second.high < first.low
        for first, second in zip(readings, readings[1:], strict=False)
    )


def _setting_warnings(case: Case, advice: Advice) -> list[str]:
    warnings = []
    if advice.setting < LOWEST_SETTING:
        warnings.append(
            "Below 10 percent the feeder is not accurate: dilute the solution to about "
            f"{advice.setting / MIDDLE_SETTING:.0%} of its strength."
        )
    elif advice.setting > HIGHEST_SETTING:
        warnings.append("Above 90 percent: use a stronger solution or a larger pump.")
    if case.calibration > max(case.width, 1.0):
        warnings.append(
            f"One percent of setting is worth {case.calibration:.3g} mg/L, more than the target "
            "band: dilute the solution."
        )
    if len(case.readings) >= STEPS_IN_A_VISIT and not advice.stop:
        warnings.append(
            f"{len(case.readings)} waited steps: leave a setting that keeps the tap clear and "
            "recheck within two working days."
        )
    if case.oxidant == "peroxide" and advice.residual and advice.residual[1] > BUBBLE_NOTICE:
        warnings.append(
            f"Up to {advice.residual[1]:.3g} mg/L of excess peroxide: the water may fizz after "
            "the carbon."
        )
    return warnings


def _cautions(case: Case, advice: Advice) -> tuple[str, ...]:
    cautions = [FOLLOW_LABEL, FEEDER_CAUTION]
    if case.maximum is None:
        cautions.insert(0, LEVEL_UNKNOWN)
    if case.oxidant != "permanganate":
        cautions.append(NOT_TOGETHER)
    if case.oxidant == "peroxide":
        if not advice.stop:
            cautions.insert(
                0,
                "House isolated, nobody uses the water: run to waste from a tap after the last "
                "tank until the final setting is read.",
            )
        cautions.append("At the tap after the carbon peroxide must read below 0.5 mg/L.")
    if case.oxidant == "chlorine":
        cautions.append("Nobody drinks the water while free chlorine at a tap is above 4 mg/L.")
    if case.oxidant == "permanganate":
        cautions.append("No pink water may reach the house.")
    cautions.append(
        "A residual after the tank does not prove that sulfide is gone: smell at the treated tap."
    )
    return tuple(cautions)


def _working(case: Case, advice: Advice, evidence: Evidence | None) -> tuple[str, ...]:
    lines = [f"calibration g = {case.calibration:.4g} mg/L for each percent"]
    if evidence is not None and advice.demand is not None:
        lines += [f"read {reading.text}" for reading in evidence.readings]
        lines.append(
            f"residual = k x - D with k = {evidence.slope:.4g} mg/L per percent, "
            f"D = {evidence.demand_low:.4g} to {evidence.demand_high:.4g} mg/L"
        )
    lines.append(f"target {case.target_low:g} to {case.target_high:g} mg/L")
    lines.append(
        f"next setting {advice.setting:.4g} percent, one step may go to "
        f"{advice.limits[0]:.4g} to {advice.limits[1]:.4g}"
    )
    return tuple(lines)


register(
    Calculation(
        name="dial-in",
        title="Next setting of an oxidant feeder",
        function=dial_in,
        answer=DialIn,
        keys=(
            OXIDANT,
            READING,
            FLOW,
            STRENGTH,
            FEEDER_OUTPUT,
            TARGET_LOW,
            TARGET_HIGH,
            IRON_CLEAR,
            ODOUR_CLEAR,
            MAXIMUM_DOSE,
            MAXIMUM_USE_LEVEL,
            COMPUTED,
            CHECKED,
        ),
    )
)
