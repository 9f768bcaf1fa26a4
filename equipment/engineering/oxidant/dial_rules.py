"""Rules for the next setting of an oxidant feeder. Limits are common practice, no source.

A step goes at most halfway down or half up; a tap that is not clear is never given less; a
setting never passes the feeder's range or the largest dose allowed.
"""

from __future__ import annotations

from dataclasses import dataclass

from .demand_fit import (
    SLOPE_HIGH,
    SLOPE_LOW,
    Evidence,
    Reading,
    evidence_from,
)

STEP_DOWN = 0.5
STEP_UP = 1.5
#: a first residual of zero asks for at least this much more, a second for the whole step
LEAST_RISE = 1.25
#: a reading above the top pad asks for at least this much less
LEAST_CUT = 0.75
#: without word from the treated tap only this share of a step down is taken
UNKNOWN_TAP_SHARE = 0.5
#: peroxide starts at this many times the computed setting
START_HIGH = 2.0
FULL = 100.0
SMALLEST_STEP = 0.1
#: how far a reading may reach over the edge of the target, as a share of the band
EDGE_SHARE = 0.1
#: and how far when the change that is left is not worth another wait
FAR_EDGE_SHARE = 0.25
#: a change smaller than this share of the setting is not worth another wait
WORTHWHILE = 0.05


@dataclass(frozen=True, kw_only=True)
class Case:
    """All that the rules look at, in percent and mg/L."""

    oxidant: str
    readings: tuple[Reading, ...]
    calibration: float
    target_low: float
    target_high: float
    #: largest dose allowed, None when no limit is on file
    maximum: float | None
    computed: float | None
    #: True clear, False not clear, None not said
    iron_clear: bool | None
    odour_clear: bool | None
    feeder_checked: bool

    @property
    def settled(self) -> tuple[Reading, ...]:
        return tuple(reading for reading in self.readings if reading.settled)

    @property
    def middle(self) -> float:
        return (self.target_low + self.target_high) / 2

    @property
    def width(self) -> float:
        return self.target_high - self.target_low

    @property
    def ceiling(self) -> float:
        """Highest setting that the feeder and the largest dose allow."""
        return FULL if self.maximum is None else min(FULL, self.maximum / self.calibration)

    @property
    def not_clear(self) -> bool:
        return self.iron_clear is False or self.odour_clear is False

    @property
    def clear(self) -> bool:
        return self.iron_clear is True and self.odour_clear is True


@dataclass(frozen=True, kw_only=True)
class Advice:
    """The next setting and why; residual and demand are (low, high)."""

    setting: float
    reason: str
    stop: bool = False
    limits: tuple[float, float] = (0.0, FULL)
    residual: tuple[float, float] | None = None
    demand: tuple[float, float] | None = None
    evidence: Evidence | None = None


def advise(case: Case) -> Advice:
    """The next setting for a case."""
    if not case.readings:
        return _start(case)
    last = case.readings[-1]
    if not last.settled:
        return Advice(
            setting=min(last.setting, case.ceiling),
            limits=(min(last.setting, case.ceiling),) * 2,
            reason=f"The last reading was taken after {last.turnovers:.2f} turnovers, too early: "
            "leave the setting, let 3 turnovers pass and read again.",
        )
    evidence = evidence_from(case.settled, case.calibration)
    if case.ceiling < last.setting:
        return _advice(
            case,
            evidence,
            case.ceiling,
            "The last setting is above the largest dose allowed: go down to it at once.",
        )
    return _not_against(case, evidence, last, _judge(case, evidence, last))


def _not_against(case: Case, evidence: Evidence, last: Reading, advice: Advice) -> Advice:
    """Never up from a reading above the target, never down from one below it.

    The readings before may say otherwise; then one of them is wrong, and the last one, which
    stands at the setting that runs now, is the one that can hurt.
    """
    up = advice.setting > last.setting and last.low >= case.target_high
    down = advice.setting < last.setting and last.high <= case.target_low
    if not up and not down:
        return advice
    side, way = ("above", "raise") if up else ("below", "lower")
    return _advice(
        case,
        evidence,
        last.setting,
        f"The last reading lies {side} the target and the readings before it do not agree: do not "
        f"{way}. Leave the setting, look at prime, flow and solution, and read again.",
    )


def _start(case: Case) -> Advice:
    """The first setting; only peroxide starts high.

    The residual expected of it takes the demand as at most the computed dose.
    """
    limits = [case.ceiling]
    if case.computed is not None:
        limits.append(case.computed * (START_HIGH if case.oxidant == "peroxide" else 1))
    setting = min(limits)
    if case.oxidant == "peroxide":
        reason = (
            "Start high with the house isolated: the smallest of 100 percent, the setting at the "
            "largest dose allowed, and twice the computed setting."
        )
    else:
        reason = f"Start at the computed setting and move up: {case.oxidant} never starts high."
    if case.computed is not None and setting < case.computed:
        reason += " The computed setting itself is above the largest dose or the feeder's range."
    fed = case.calibration * setting
    covered = fed if case.computed is None else case.calibration * case.computed
    return Advice(
        setting=setting,
        limits=(0.0, case.ceiling),
        residual=(max(0.0, SLOPE_LOW * fed - covered), SLOPE_HIGH * fed),
        reason=reason,
    )


def _judge(case: Case, evidence: Evidence, last: Reading) -> Advice:
    """Below, within or above the target, seen through all settled readings."""
    low, high = evidence.residual(last.setting)
    around = low <= case.middle <= high and (low > 0 or case.target_low == 0)
    slack = 0.01 + EDGE_SHARE * case.width
    reach = max(case.target_low - low, high - case.target_high)
    if reach <= slack or (around and _near_enough(case, evidence, last, reach)):
        return _within(case, evidence, last, high)
    around = around and high - low > case.width + slack
    if around:
        return _advice(
            case,
            evidence,
            last.setting,
            "The target lies inside this reading, but the reading is coarser than the target: "
            "leave the setting and read with a finer strip or a kit.",
        )
    if (low + high) / 2 < case.middle or (last.zero and case.target_low > 0):
        return _raise(case, evidence, last)
    return _lower(case, evidence, last)


def _near_enough(case: Case, evidence: Evidence, last: Reading, reach: float) -> bool:
    """Whether the change that is left is too small to be worth another wait."""
    move = abs(_wanted(case, evidence) - last.setting)
    return reach <= FAR_EDGE_SHARE * case.width and move < WORTHWHILE * last.setting


def _within(case: Case, evidence: Evidence, last: Reading, high: float) -> Advice:
    if case.clear:
        return _advice(
            case,
            evidence,
            last.setting,
            "The residual is in the target band and the treated tap is free of iron and odour: "
            "leave this setting.",
            stop=True,
        )
    if not case.not_clear:
        return _advice(
            case,
            evidence,
            last.setting,
            "Residual only: it is in the target band, but iron and odour at the tap after the "
            "carbon have not been checked; check them before stopping.",
        )
    room = (case.target_high - high) / evidence.slope
    if last.zero:
        return _raise(case, evidence, last)
    if room > max(SMALLEST_STEP, 0.02 * last.setting):
        return _advice(
            case,
            evidence,
            last.setting + room,
            "The tap is not clear yet: go to the top of the target band.",
        )
    return _advice(
        case,
        evidence,
        last.setting,
        "The residual is in the target band and the tap is still not clear: more oxidant will not "
        "help. Look at contact time, carbon, backwash, the bypass and the raw water.",
    )


def _raise(case: Case, evidence: Evidence, last: Reading) -> Advice:
    if _second_zero(case, evidence):
        return _advice(
            case,
            evidence,
            last.setting,
            "Zero twice in a row: do not raise again before prime, air lock, tube, injector, foot "
            "valve and the age of the solution have been checked.",
        )
    if last.setting >= case.ceiling - SMALLEST_STEP:
        return _advice(
            case,
            evidence,
            case.ceiling,
            "The target is not reached at the largest setting allowed: a stronger solution, a "
            "larger pump, less iron or sulfide ahead of it, or another method is needed.",
        )
    if evidence.bounded:
        wanted = max(_wanted(case, evidence), last.setting + SMALLEST_STEP)
        reason = "The residual is below the target: raise."
    else:
        again = len(case.settled) >= 2 and case.settled[-2].zero
        least = last.setting * (STEP_UP if again else LEAST_RISE)
        wanted = max(least, last.setting + case.middle / case.calibration)
        found = "No residual" if last.zero else "Hardly any residual"
        reason = f"{found}: the demand is not met yet; raise, at most by half."
    return _advice(case, evidence, wanted, reason)


def _second_zero(case: Case, evidence: Evidence) -> bool:
    """Two zeros in a row that nothing else explains."""
    if case.feeder_checked or evidence.bounded or case.target_low == 0:
        return False
    settled = case.settled
    return len(settled) >= 2 and settled[-2].zero and settled[-2].setting <= settled[-1].setting


def _lower(case: Case, evidence: Evidence, last: Reading) -> Advice:
    if case.not_clear:
        return _advice(
            case,
            evidence,
            last.setting,
            "The residual is above the target and the tap is not clear: do not lower. Look at "
            "contact time, carbon, backwash, the bypass and the raw water.",
        )
    wanted = min(_wanted(case, evidence), last.setting - SMALLEST_STEP)
    if last.above_top:
        wanted = last.setting - (last.low - case.middle) / evidence.slope
        wanted = min(wanted, last.setting * LEAST_CUT)
    if not case.clear:
        wanted = last.setting + UNKNOWN_TAP_SHARE * (wanted - last.setting)
        reason = (
            "The residual is above the target: lower, by half of what it asks because iron and "
            "odour at the tap have not been checked."
        )
    else:
        reason = "The residual is above the target and the tap is clear: lower."
    return _advice(case, evidence, wanted, reason)


def _wanted(case: Case, evidence: Evidence) -> float:
    """Setting for the middle of the target; on the safe side if the demand is not known well.

    Peroxide ahead of carbon keeps the lower end of the target, chlorine and permanganate, which
    reach the tap, keep the upper end.
    """
    low, high = evidence.demand_low, evidence.demand_high
    if high - low <= case.width:
        return (case.middle + (low + high) / 2) / evidence.slope
    if case.oxidant == "peroxide":
        return (case.target_low + high) / evidence.slope
    return (case.target_high + low) / evidence.slope


def _advice(
    case: Case, evidence: Evidence, wanted: float, reason: str, *, stop: bool = False
) -> Advice:
    """A setting inside the limits of one step, with what it is expected to give."""
    last = case.readings[-1].setting
    lowest = last if case.not_clear else last * STEP_DOWN
    highest = min(last * STEP_UP, case.ceiling)
    lowest = min(lowest, highest)
    setting = min(max(wanted, lowest), highest)
    return Advice(
        setting=setting,
        reason=reason,
        stop=stop,
        limits=(lowest, highest),
        residual=evidence.residual(setting),
        demand=(evidence.demand_low, evidence.demand_high),
        evidence=evidence,
    )
