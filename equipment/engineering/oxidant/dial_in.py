"""Dial-in: the next setting of an oxidant feeder from the residuals read so far.

Contents: dial_in. Readings: readings. What they leave possible: dial_grid. Rules: dial_rules, with
the figures of dial_figures. Width of strips and meters: kits.
"""

from __future__ import annotations

from dataclasses import replace
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

from .dial_case import Advice, Case
from .dial_rules import advise
from .dial_words import cautions, reading_warnings, setting_warnings, working
from .feed_setting import MAXIMUM_USE_LEVEL
from .feeding import (
    FEED_SOURCE,
    FEEDER_OUTPUT,
    FLOW,
    STRENGTH,
    dose_per_percent,
)
from .kits import KITS
from .readings import Reading, checked_reading, read_reading

MG_L = "mg/L"
PERCENT = "percent"
OXIDANT = Key(
    name="oxidant",
    kind="choice",
    choices=("peroxide", "chlorine", "permanganate"),
    required=True,
    help="what the dosing pump feeds",
)
READING = Key(
    name="reading",
    kind="repeated",
    reader=read_reading,
    help="setting:low-high[:turnovers][:clear or unclear][:sound or mended], percent and mg/L "
    "after the contact tank, before carbon, in the order taken; 40:5-10, 40:>25, 40:0-0.5:2, "
    "40:12 (give "
    "or take 10 percent), 40:5-10:clear (tap after the carbon), 40:0-0.5:mended (dosing pump, "
    "since)",
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
COLOUR_GONE = Key(
    name="colour_gone",
    kind="bool",
    help="permanganate: no colour left in the water after the filter at the last reading",
)
STEP = Key(
    name="pump_step",
    unit=PERCENT,
    low=0,
    low_open=True,
    high=50,
    help="smallest change the dosing pump can be set to; 1 percent where not given",
)
NEW_CARBON = Key(
    name="new_carbon",
    kind="bool",
    help="the carbon was filled in these days: it takes odour up by itself, so that only a tap "
    "that is not clear says something of the dose",
)
CHECKED = Key(
    name="feeder_checked",
    kind="bool",
    help="prime, tube, injector, valves and solution checked since the last reading and found "
    "sound; :mended behind the reading where something was put right",
)


class DialIn(Answer):
    method: ClassVar[str] = "dial-in/4"

    next_setting: Quantity = result(PERCENT, "setting to try next, or to leave")
    next_dose: Quantity = result(MG_L, "dose at that setting, by the dosing pump's calibration")
    setting_limits: Interval | None = result(
        PERCENT, "lowest and highest setting one step may go to"
    )
    expected_residual: Interval | None = result(
        MG_L, "residual that the readings allow at that setting"
    )
    demand: Interval | None = result(
        MG_L, "dose by the dosing pump's calibration less the residual last read"
    )
    slope: Quantity = result(MG_L, "residual gained with one percent of setting, best estimate")
    act: str = result(
        "", "start, set, hold (read once more), stop, check (the dosing pump) or limit"
    )
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
    pump_step: Quantity | None = None,
    colour_gone: bool | None = None,
    feeder_checked: bool = False,
    new_carbon: bool = False,
) -> DialIn:
    """Next setting of a feeder from readings that are few, coarse and noisy.

    residual = k x - D, not below 0;  g = F100 C / (100 Q)  is what k should be

    Each reading is a band, as wide as its kit. A grid of (k, D), k 0.55 g to 1.35 g and D up to 3.2
    times the computed demand, carries weights; each settled reading and what the tap said multiply
    them by how well each pair explains it. The next setting is the mark of the pump with the best
    chance of lying in the target without falling below the demand; it stays where the band lies
    inside the target, the tap is clear and that chance is high enough.

    oxidant            peroxide, chlorine, permanganate; only peroxide starts high. Permanganate has
                       no residual to aim at: colourless or faint ahead of the filter, none after it
    flow               Q, past the injector while the feeder runs  [flow]  0.1 to 5000 gpm
    strength           C  [concentration]  0.1 to 1500 g/L active
    feeder_output      F100  [flow]  gpd at 100 percent, measured if possible
    target_low, _high  [concentration]  0 to 100 mg/L, after retention and before carbon
    reading            in the order taken; only those at 3 turnovers or more count
    iron_clear, odour_clear   at the tap after the carbon, at the last reading
    maximum_dose, maximum_use_level  [concentration]  never passed
    computed_setting   percent, where the start comes from; without it the first setting read is
                       taken for such a start
    pump_step          percent, smallest change of the pump; settings are rounded down to it
    colour_gone        permanganate: no colour after the filter at the last reading
    feeder_checked     found sound since the last reading: a zero then is a zero
    new_carbon         a clear tap is no evidence, a tap that is not clear is; clear is proved later

    Limits of a step: half down to half up, the feeder's range, the largest dose; not up while the
    last band lies above the target, not down while it lies below or the tap is not clear, and
    half as far while that is not known. Raises MissingInput without a reading and without
    anything to start from, OutOfRange for a value outside its range. Source: dose = demand +
    residual (operator training texts); the limits of the steps are common practice, no source;
    the chances at which it stops and steps were chosen by simulated start-ups.
    """
    if oxidant not in OXIDANT.choices:
        raise WrongInput("oxidant", f"{oxidant!r} is not one of {', '.join(OXIDANT.choices)}")
    calibration = dose_per_percent(
        FLOW.amount(flow), STRENGTH.amount(strength), FEEDER_OUTPUT.amount(feeder_output)
    )
    low, high = TARGET_LOW.amount(target_low), TARGET_HIGH.amount(target_high)
    if high < low:
        raise WrongInput("target_high", f"{high:g} mg/L is below target_low, {low:g} mg/L")
    given = tuple(checked_reading("reading", each) for each in reading or ())
    words = _with_last_words(given, iron_clear, odour_clear, checked=feeder_checked)
    proving = [_proving(each) for each in words] if new_carbon else words
    case = Case(
        oxidant=oxidant,
        readings=tuple(_in_its_kit(oxidant, each) for each in proving),
        calibration=calibration,
        target_low=low,
        target_high=high,
        maximum=_largest(maximum_dose, maximum_use_level),
        computed=None if computed_setting is None else COMPUTED.amount(computed_setting),
        step=1.0 if pump_step is None else STEP.amount(pump_step),
        colour_gone=colour_gone,
        new_carbon=new_carbon,
        tap_said=words[-1].tap if words else None,
    )
    _check_start(case)
    return _answer(case, advise(case), _demand(calibration, given))


def _in_its_kit(oxidant: str, reading: Reading) -> Reading:
    """A value as the band of its kit; a strip's band stays as it is."""
    low, high = KITS[oxidant].around(reading.low, reading.high)
    return replace(reading, low=low, high=high)


def _proving(reading: Reading) -> Reading:
    """As it proves something beside new carbon: that its tap is clear does not."""
    return replace(reading, tap=None) if reading.tap else reading


def _with_last_words(
    readings: tuple[Reading, ...], iron: bool | None, odour: bool | None, *, checked: bool
) -> tuple[Reading, ...]:
    """What is said of the last reading beside it: the tap, and the feeder since."""
    if not readings:
        return readings
    last = readings[-1]
    if iron is False or odour is False:
        last = replace(last, tap=False)
    elif iron and odour:
        last = replace(last, tap=True)
    elif last.tap and (iron is not None or odour is not None):
        last = replace(last, tap=None)
    if checked and not last.check:
        last = replace(last, check="sound")
    return (*readings[:-1], last)


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


def _answer(case: Case, advice: Advice, demand: tuple[float, float] | None) -> DialIn:
    weights, setting = advice.weights, advice.setting
    residual = None
    if weights is not None:
        residual = (weights.residual(setting, 0.1), weights.residual(setting, 0.9))
    return DialIn(
        next_setting=q(setting, PERCENT),
        next_dose=q(case.calibration * setting, MG_L),
        setting_limits=_interval(advice.limits, PERCENT),
        expected_residual=_interval(residual, MG_L),
        demand=_interval(demand, MG_L),
        slope=q(weights.slope if weights else case.calibration, MG_L),
        act=advice.act.value,
        stop=advice.stop,
        reason=advice.reason,
        warnings=(*reading_warnings(case), *setting_warnings(case, advice, residual)),
        cautions=cautions(case, advice),
        sources=(
            "Dose = demand + residual (operator training texts).",
            FEED_SOURCE,
            "Limits of a step: common practice, no source. Chances at which it stops and steps: "
            "chosen by simulated start-ups, no other source.",
        ),
        working=working(case, advice),
    )


def _demand(calibration: float, readings: tuple[Reading, ...]) -> tuple[float, float] | None:
    """dose = demand + residual, at the last settled reading and by the calibration."""
    settled = [reading for reading in readings if reading.settled]
    if not settled:
        return None
    last, dose = settled[-1], calibration * settled[-1].setting
    low = 0.0 if last.above_top else max(0.0, dose - last.high)
    return low, max(low, dose - last.low)


def _interval(pair: tuple[float, float] | None, unit_name: str) -> Interval | None:
    return None if pair is None else Interval(q(pair[0], unit_name), q(pair[1], unit_name))


register(
    Calculation(
        name="dial-in",
        title="Next setting of an oxidant dosing pump",
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
            STEP,
            COLOUR_GONE,
            CHECKED,
            NEW_CARBON,
        ),
    )
)
