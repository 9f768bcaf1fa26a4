"""One cycle of a wash run by hand: its time and water, and the pause before the next.

Contents: wash_cycle.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .supply import wash_water

FLOW = Key(
    name="flow",
    unit="gpm",
    required=True,
    low=0,
    low_open=True,
    high=500,
    help="of the backwash, at the drain",
)
MINUTES = Key(name="minutes", unit="min", required=True, low=1, high=240, help="of the backwash")
RINSE_MINUTES = Key(
    name="rinse_minutes",
    unit="min",
    low=0,
    high=240,
    default="0 min",
    help="of the rinse after it, counted at the same flow",
)
WELL_YIELD = Key(
    name="well_yield",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="what the well gives for hours",
)


class WashCycle(Answer):
    method: ClassVar[str] = "wash-cycle/1"

    water: Quantity = result("gal", "water of one cycle, to the drain")
    time: Quantity = result("min", "length of one cycle")
    flow: Quantity = result("gpm", "flow it is counted with")
    recovery: Quantity | None = result("min", "time the well takes to make that water")
    pause: Quantity | None = result("min", "wait after a cycle, so that the well has made it again")


def wash_cycle(
    *,
    flow: Quantity,
    minutes: Quantity,
    rinse_minutes: Quantity | None = None,
    well_yield: Quantity | None = None,
) -> WashCycle:
    """Time and water of one cycle of wash and rinse, and the pause before another.

    W = Q (t + t_rinse);  recovery = W / y;  pause = max(0, recovery - t - t_rinse)

    flow           Q, of the wash at the drain     [flow]  above 0, at most 500 gpm
    minutes        t, of the wash                  [time]  1 to 240 min
    rinse_minutes  t_rinse, at the same flow       [time]  0 to 240 min, default 0
    well_yield     y                               [flow]  above 0, at most 500 gpm
    returns        water gal, time min, flow gpm, recovery min, pause min

    The rinse counts at the flow of the wash and nothing stored is counted: both err high.
    Raises OutOfRange outside those limits. Source: mass balance.
    """
    gpm, wash = FLOW.amount(flow), MINUTES.amount(minutes)
    length = wash + (RINSE_MINUTES.optional(rinse_minutes) or 0.0)
    water, gives = wash_water(gpm, length), WELL_YIELD.optional(well_yield)
    recovery = None if gives is None else water / gives
    pause = None if recovery is None else max(0.0, recovery - length)
    working = [f"water = {gpm:.3g} gpm x {length:g} min = {water:.0f} gal"]
    if recovery is not None:
        working.append(f"recovery = {water:.0f} gal / {gives:g} gpm = {recovery:.0f} min")
    return WashCycle(
        water=q(water, "gal"),
        time=q(length, "min"),
        flow=q(gpm, "gpm"),
        recovery=q(recovery, "min"),
        pause=q(pause, "min"),
        sources=("Mass balance; the rinse at the flow of the backwash (errs high).",),
        working=tuple(working),
    )


register(
    Calculation(
        name="wash-cycle",
        title="Water and time of one backwash cycle",
        function=wash_cycle,
        answer=WashCycle,
        keys=(FLOW, MINUTES, RINSE_MINUTES, WELL_YIELD),
    )
)
