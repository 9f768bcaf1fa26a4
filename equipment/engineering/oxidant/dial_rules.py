"""Rules for the next setting of an oxidant feeder, and the one judgement of when it stays.

What the readings say of slope and demand is in dial_grid, the figures in dial_figures. A step
never goes up from a reading above the aim nor down from one below it; a tap that is not clear is
never given less; a setting never passes the feeder's range or the largest dose, and is one the
pump can be set to.
"""

from __future__ import annotations

import math

from .dial_case import ROUNDING, Act, Advice, Case
from .dial_figures import (
    STEP_DOWN,
    STEP_UP,
    STRANGE_ZERO,
    UNDER_ALLOWED,
    UNKNOWN_TAP_SHARE,
    WORTHWHILE,
)
from .dial_grid import Edge, Weights, learnt
from .readings import Reading, turnovers_said

#: why a clear tap is smelled at once more
LATER = (
    "New carbon takes odour up by itself, so that it proves nothing today: leave this setting, and "
    "smell again at the recheck."
)


def advise(case: Case) -> Advice:
    """The next setting for a case."""
    if not case.readings:
        return _start(case)
    last = case.readings[-1]
    if last.setting > case.ceiling + ROUNDING:
        return Advice(
            act=Act.SET,
            setting=case.down_to_mark(case.ceiling) or case.ceiling,
            limits=(0.0, case.ceiling),
            weights=learnt(case.house, case.standing) if case.standing else None,
            reason="The last setting is above the largest dose allowed: go down to it at once.",
        )
    if not last.settled:
        return _stay(
            case,
            Act.HOLD,
            f"The last reading was taken after {turnovers_said(last.turnovers, 2)} turnovers, too "
            "early: leave the setting, let 3 turnovers pass and read again.",
        )
    if last.check == "mended":
        return _stay(
            case,
            Act.HOLD,
            "The dosing pump was mended after the last reading: leave the setting, let 3 turnovers "
            "pass and read again.",
        )
    if _feeder_is_suspect(case, last):
        return _stay(
            case,
            Act.CHECK,
            "Zero where the earlier readings do not explain it: check prime, air lock, tube, "
            "injector, foot valve and the age of the solution before the setting is touched.",
        )
    weights = learnt(case.house, case.standing)
    return _stop(case, last, weights) or _step(case, last, weights)


def _stay(case: Case, act: Act, reason: str, weights: Weights | None = None) -> Advice:
    """At the last setting; what the readings say is added where there is something."""
    at = case.readings[-1].setting
    if weights is None and case.standing:
        weights = learnt(case.house, case.standing)
    return Advice(act=act, setting=at, limits=(at, at), reason=reason, weights=weights)


def _start(case: Case) -> Advice:
    """The first setting; only peroxide starts above the computed one."""
    start = case.figures.start
    limits = [case.ceiling]
    if case.computed is not None:
        limits.append(case.computed * start)
    setting = case.down_to_mark(min(limits)) or min(limits)
    if case.oxidant == "peroxide":
        reason = (
            "Start high with the house isolated: the smallest of 100 percent, the setting at the "
            f"largest dose allowed, and {start:g} times the computed setting."
        )
    elif case.coloured:
        reason = f"Start low, at {start:g} times the computed setting, and move up."
    else:
        reason = f"Start at the computed setting and move up: {case.oxidant} never starts high."
    if case.computed is not None and setting < case.computed * min(start, 1) - case.step:
        reason += (
            " The computed setting itself is above the largest dose or the dosing pump's range."
        )
    return Advice(
        act=Act.START,
        setting=setting,
        limits=(0.0, case.ceiling),
        weights=None if case.computed is None else learnt(case.house, ()),
        reason=reason,
    )


def _feeder_is_suspect(case: Case, last: Reading) -> bool:
    """A zero that earlier readings leave hardly any chance, or a second one in a row."""
    earlier = case.standing[:-1]
    if not last.zero or last.check or not earlier:
        return False
    if case.coloured and last.tap is not False:
        return False
    before = case.settled[-2]
    again = before.zero and before.setting <= last.setting and not before.check
    if again and (not case.coloured or before.tap is False):
        return True
    chance = 1 - learnt(case.house, earlier).reached(last.setting, Edge(last.high))
    return chance < STRANGE_ZERO


# --- when it stays ------------------------------------------------------------------------------


def _stop(case: Case, last: Reading, weights: Weights) -> Advice | None:
    """The one judgement by which a setting stays and a record may close; None where it goes on."""
    figures, aims = case.figures, case.aims
    if not case.is_inside(last) or last.tap is False or case.colour_gone is False:
        return None
    enough = max(figures.floor, figures.enough - figures.less * (len(case.standing) - 1))
    near = weights.between(last.setting, aims.near_low, aims.near_high)
    short = 1 - weights.reached(last.setting, aims.met)
    if near < enough or short > figures.short_allowed:
        return None
    where = "The demand is met" if case.coloured else "The residual is in the target band"
    if last.tap is None and not case.tap_said:
        said = "iron and odour at the treated tap have not been checked; check them"
        return _stay(case, Act.HOLD, f"{where}, but {said} before stopping.", weights)
    if case.coloured and case.colour_gone is None:
        said = "the colour after the filter has not been looked at; look at it"
        return _stay(case, Act.HOLD, f"{where}, but {said} before stopping.", weights)
    also = " and without colour" if case.coloured else ""
    if case.new_carbon:
        return _stay(
            case, Act.STOP, f"{where} and the treated tap is clear{also}. {LATER}", weights
        )
    return _stay(
        case,
        Act.STOP,
        f"{where} and the treated tap is free of iron and odour{also}: leave this setting.",
        weights,
    )


# --- the next step ------------------------------------------------------------------------------


def _step(case: Case, last: Reading, weights: Weights) -> Advice:
    lowest, highest = _limits(case, last)
    marks = _marks(case, last, lowest, highest)
    best = _best(case, last, weights, marks)
    if best > last.setting and weights.reached(last.setting, case.aims.over) > (
        case.figures.over_allowed
    ):
        best = last.setting
    if best < last.setting and 1 - weights.reached(last.setting, case.aims.under) > UNDER_ALLOWED:
        best = last.setting
    if case.is_over(last) and best >= last.setting and last.tap is not False:
        best = _halfway(case, last, weights, lowest)
    if best < last.setting and last.tap is None:
        half = last.setting + UNKNOWN_TAP_SHARE * (best - last.setting)
        best = min(max(case.down_to_mark(half), lowest), last.setting)
    if abs(best - last.setting) < ROUNDING:
        return _held(case, last, weights)
    return Advice(
        act=Act.SET,
        setting=best,
        limits=(lowest, highest),
        weights=weights,
        reason=_way(case, last, best),
    )


def _limits(case: Case, last: Reading) -> tuple[float, float]:
    """Lowest and highest setting of one step, as marks of the pump."""
    step = case.step
    highest = max(case.down_to_mark(min(STEP_UP * last.setting, case.ceiling)), last.setting)
    if last.tap is False:
        return last.setting, highest
    lowest = round(math.ceil(STEP_DOWN * last.setting / step - ROUNDING) * step, 6)
    return min(max(lowest, step), last.setting), highest


def _marks(case: Case, last: Reading, lowest: float, highest: float) -> list[float]:
    """Settings that may be taken next, beside the one that runs."""
    reading = last
    straddles = reading.low < case.target_high < reading.high and not case.coloured
    no_raise = case.is_over(last) or (straddles and last.tap is True)
    no_lowering = case.is_under(last)
    count = int((highest - lowest) / case.step + 1.5)
    marks = [round(lowest + at * case.step, 6) for at in range(count)]
    return [
        mark
        for mark in marks
        if mark <= highest + ROUNDING
        and not (no_raise and mark > last.setting)
        and not (no_lowering and mark < last.setting)
    ]


def _lands_short(case: Case, weights: Weights, mark: float) -> bool:
    allowed = case.landing_allowed(case.readings[-1])
    return 1 - weights.reached(mark, case.aims.met) > allowed


def _best(case: Case, last: Reading, weights: Weights, marks: list[float]) -> float:
    """The mark with most worth, if it is worth a wait."""
    stays = _worth(case, weights, last.setting)
    best, most = last.setting, stays
    for mark in marks:
        worth = _worth(case, weights, mark)
        if worth > most and not (mark < last.setting and _lands_short(case, weights, mark)):
            best, most = mark, worth
    return best if most - stays >= WORTHWHILE else last.setting


def _worth(case: Case, weights: Weights, setting: float) -> float:
    aims = case.aims
    return (
        weights.between(setting, aims.low, aims.high)
        + 0.3 * weights.between(setting, aims.near_low, aims.near_high)
        - 2 * (1 - weights.reached(setting, aims.met))
        - 0.5 * weights.reached(setting, aims.far_over)
    )


def _halfway(case: Case, last: Reading, weights: Weights, lowest: float) -> float:
    """From a band above the aim at least one step down, at most half way, never short."""
    back = max(case.step, (last.middle - case.middle) / 2 / case.calibration)
    mark = max(lowest, case.down_to_mark(last.setting - back))
    while mark + 1.5 * case.step < last.setting and _lands_short(case, weights, mark):
        mark = round(mark + case.step, 6)
    return mark


def _held(case: Case, last: Reading, weights: Weights) -> Advice:
    wants_more = case.is_under(last) or (case.coloured and last.tap is False)
    if wants_more and case.down_to_mark(case.ceiling) <= last.setting + ROUNDING:
        return _stay(
            case,
            Act.LIMIT,
            "The target is not reached at the largest setting allowed: a stronger solution, a "
            "larger dosing pump, less iron or sulfide ahead of it, or another method is needed.",
            weights,
        )
    if last.tap is False and not case.is_under(last):
        return _stay(
            case,
            Act.HOLD,
            "The tap is not clear and the readings do not ask for more oxidant: do not lower. "
            "Look at contact time, carbon, backwash, the bypass and the raw water, and read again.",
            weights,
        )
    return _stay(
        case,
        Act.HOLD,
        "Not sure yet, and no other setting promises more: leave this one, let 3 turnovers pass "
        "and read once more.",
        weights,
    )


def _way(case: Case, last: Reading, best: float) -> str:
    """One sentence on why it goes up or down."""
    if best > last.setting:
        if last.zero and not case.coloured:
            return "No residual: the demand is not met yet; raise, at most by half."
        if case.is_under(last):
            return "The residual is below the target: raise."
        if last.tap is False:
            return "The tap is not clear: raise."
        return "The readings together say that more is needed: raise."
    told = "iron and odour at the tap have not been checked: lower by half of what it asks."
    if last.tap is True:
        told = "the tap is clear: lower."
    elif case.tap_said:
        told = "behind new carbon a clear tap proves nothing: lower by half of what it asks."
    if case.is_over(last):
        where = (
            "Colour ahead of the filter" if case.coloured else "The residual is above the target"
        )
    else:
        where = "The readings together say that less will do"
    return f"{where} and {told}"
