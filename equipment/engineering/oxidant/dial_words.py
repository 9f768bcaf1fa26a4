"""What is said beside the advice of the dial-in: warnings, cautions, and how it was worked out."""

from __future__ import annotations

from .dial_case import Advice, Case
from .dial_figures import COARSE_STEP
from .feed_setting import LEVEL_UNKNOWN, MIDDLE_SETTING
from .feeding import FEEDER_CAUTION, HIGHEST_SETTING, LOWEST_SETTING
from .oxidants import FOLLOW_LABEL, NOT_TOGETHER
from .readings import Reading, turnovers_said

#: common practice: excess peroxide that may show as bubbles once the carbon has split it
BUBBLE_NOTICE = 30.0


def reading_warnings(case: Case) -> list[str]:
    warnings = [
        f"{reading.text} does not count: {turnovers_said(reading.turnovers, 2)} turnovers, 3 are "
        "needed."
        for reading in case.readings
        if not reading.settled
    ]
    if not case.readings:
        return warnings
    last = case.readings[-1]
    if last.low > case.calibration * last.setting:
        warnings.append(
            "More residual than the dosing pump should feed: measure its output, the strength "
            "and the "
            "flow again, and look for siphoning."
        )
    if _fell(case.settled):
        warnings.append(
            "The residual fell at the same setting: weaker solution, worn tube or a rising "
            "demand; find out which before changing the setting."
        )
    return warnings


def _fell(readings: tuple[Reading, ...]) -> bool:
    return any(
        first.setting == second.setting and second.high < first.low
        for first, second in zip(readings, readings[1:], strict=False)
    )


def setting_warnings(case: Case, advice: Advice, residual: tuple[float, float] | None) -> list[str]:
    warnings = []
    if not case.coloured and case.calibration * case.step > COARSE_STEP * case.width:
        warnings.append(
            f"First dilute the solution: one step of the dosing pump is worth "
            f"{case.calibration * case.step:.3g} mg/L, more than a third of the target."
        )
    if advice.setting < LOWEST_SETTING:
        warnings.append(
            "Below 10 percent the dosing pump is not accurate: dilute the solution to about "
            f"{advice.setting / MIDDLE_SETTING:.0%} of its strength."
        )
    elif advice.setting > HIGHEST_SETTING:
        warnings.append("Above 90 percent: use a stronger solution or a larger dosing pump.")
    if case.oxidant == "peroxide" and residual and residual[1] > BUBBLE_NOTICE:
        warnings.append(
            f"Up to {residual[1]:.3g} mg/L of excess peroxide: the water may fizz after the carbon."
        )
    return warnings


def cautions(case: Case, advice: Advice) -> tuple[str, ...]:
    cautions = [FOLLOW_LABEL, FEEDER_CAUTION]
    if case.maximum is None:
        cautions.insert(0, LEVEL_UNKNOWN)
    if case.oxidant != "permanganate":
        cautions.append(NOT_TOGETHER)
    if not advice.stop:
        cautions.insert(
            0,
            "House isolated, nobody uses the water: run to waste from a tap after the last "
            "tank until the final setting is read.",
        )
    if case.oxidant == "peroxide":
        cautions.append("At the tap after the carbon peroxide must read below 0.5 mg/L.")
    if case.oxidant == "chlorine":
        cautions.append("Nobody drinks the water while free chlorine at a tap is above 4 mg/L.")
    if case.oxidant == "permanganate":
        cautions.append("No pink water may reach the house.")
    cautions.append(
        "A residual after the tank does not prove that sulfide is gone: smell at the treated tap."
    )
    return tuple(cautions)


def working(case: Case, advice: Advice) -> tuple[str, ...]:
    lines = [f"calibration g = {case.calibration:.4g} mg/L for each percent"]
    lines += [f"read {reading.text}" for reading in case.standing]
    weights, aims = advice.weights, case.aims
    if weights is not None and case.standing:
        at = advice.setting
        near = weights.between(at, aims.near_low, aims.near_high)
        lines.append(f"residual = k x - D, best k = {weights.slope:.4g} mg/L per percent")
        lines.append(
            f"at {at:.4g} percent: near the target {near:.0%}, demand met "
            f"{weights.reached(at, aims.met):.0%}"
        )
    if not case.coloured:
        lines.append(f"target {case.target_low:g} to {case.target_high:g} mg/L")
    lines.append(
        f"next setting {advice.setting:.4g} percent, one step may go to "
        f"{advice.limits[0]:.4g} to {advice.limits[1]:.4g}"
    )
    return tuple(lines)
