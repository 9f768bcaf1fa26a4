"""The longest cycle of a timer pump whose dose swings no more than is allowed.

Contents: timer_cycle. The swing is the largest of three: the highest dose of a cycle over the mean,
the lowest under it, and what a run of the well pump is fed more or less than it should be, wherever
in a cycle it ends.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .feeding import FLOW, PERCENT
from .ripple import MIXING, SECOND, ripple

LONGEST = Key(
    name="longest_cycle",
    unit=SECOND,
    required=True,
    low=0.1,
    high=3600,
    help="longest cycle the timer can be set to",
)
MARK = Key(
    name="cycle_step",
    unit=SECOND,
    required=True,
    low=0.1,
    high=600,
    help="one mark of the cycle, which is its shortest as well",
)
ON_SHARE = Key(
    name="on_share",
    unit=PERCENT,
    required=True,
    low=0.1,
    high=100,
    help="share of the cycle that the dosing pump runs",
)
BOUND = Key(
    name="largest_swing",
    unit=PERCENT,
    required=True,
    low=1,
    high=100,
    help="how far the dose may swing from its mean",
)
USUAL_RUN = Key(
    name="usual_run", unit=SECOND, low=1, high=86400, help="how long the well pump usually runs"
)
RESTART = Key(
    name="restart",
    kind="choice",
    choices=("on", "off", "continues"),
    help="what the timer does when the well pump starts: begins on, begins off, or goes on",
)


class TimerCycle(Answer):
    method: ClassVar[str] = "timer-cycle/1"

    cycle: Quantity = result(SECOND, "longest cycle whose swing stays inside")
    swing: Quantity = result(PERCENT, "swing of the dose at that cycle")
    swing_at_longest: Quantity = result(PERCENT, "swing at the longest cycle of the timer")


@dataclass(frozen=True)
class _Feed:
    """What the swing of a cycle rests on: share, flow and volume, and the run, in seconds."""

    share: float
    gpm: float
    gallons: float
    run: float | None

    def swing(self, cycle: float) -> float:
        """Of the dose, as a share of its mean."""
        exchange = math.inf if self.gallons == 0 else cycle / 60 * self.gpm / self.gallons
        peak, trough = ripple(self.share, exchange)
        by_run = 0.0 if self.run is None else (1 - self.share) * cycle / self.run
        return max(peak - 1, 1 - trough, by_run)


def timer_cycle(
    *,
    longest_cycle: Quantity,
    cycle_step: Quantity,
    on_share: Quantity,
    flow: Quantity,
    mixing_volume: Quantity,
    largest_swing: Quantity,
    usual_run: Quantity | None = None,
    restart: str | None = None,
) -> TimerCycle:
    """The longest cycle, on the marks of the timer, whose swing stays inside.

    swing(t) = largest of  peak - 1,  1 - trough  (dose-ripple),  (1 - s) t / run
    the last: a timer that begins anew with each run feeds s (1 - s) t more or less at most

    longest_cycle, cycle_step   t  [time]    0.1 to 3600 s, 0.1 to 600 s
    on_share       s  percent   0.1 to 100
    flow           [flow]       0.1 to 5000 gpm, past the injector
    mixing_volume  [volume]     0 to 5000 gal behind the injector; 0 leaves all or nothing
    largest_swing  percent      1 to 100, up or down from the mean
    usual_run      [time]       1 to 86,400 s; left out, or restart = continues: runs do not count
    returns        seconds and percent

    Raises OutOfRange outside those limits. Where even the shortest cycle swings more, that one is
    named and a warning says so. Source: mass balance of one mixed volume with periodic feed.
    """
    longest, mark = LONGEST.amount(longest_cycle), MARK.amount(cycle_step)
    bound, seconds = BOUND.amount(largest_swing), None
    if usual_run is not None:
        seconds = USUAL_RUN.amount(usual_run)
    run = None if restart == "continues" else seconds
    share = ON_SHARE.amount(on_share) / 100
    feed = _Feed(share, FLOW.amount(flow), MIXING.amount(mixing_volume), run)
    marks = max(1, math.floor(longest / mark + 1e-9))
    most = bound / 100 + 1e-12
    inside = bisect_right(range(1, marks + 1), most, key=lambda at: feed.swing(at * mark))
    cycle = max(inside, 1) * mark
    swing = feed.swing(cycle)
    warnings = []
    if inside == 0:
        warnings.append(
            f"Even the shortest cycle swings {swing:.0%}, more than {bound:g} percent: give it "
            "more mixed volume, or a dosing pump without a timer."
        )
    if run is None and restart != "continues":
        warnings.append(
            "How long the well pump runs is not known: a timer that starts anew with each run "
            "may feed more or less than this says."
        )
    return TimerCycle(
        cycle=q(cycle, SECOND),
        swing=q(100 * swing, PERCENT),
        swing_at_longest=q(100 * feed.swing(longest), PERCENT),
        warnings=tuple(warnings),
        sources=("Mass balance of one mixed volume with periodic feed.",),
        working=(
            f"at {cycle:g} s the dose swings {swing:.1%}, at {longest:g} s "
            f"{feed.swing(longest):.1%}; allowed are {bound:g} percent",
        ),
    )


register(
    Calculation(
        name="timer-cycle",
        title="Longest cycle of a dosing pump with a timer",
        function=timer_cycle,
        answer=TimerCycle,
        keys=(LONGEST, MARK, ON_SHARE, FLOW, MIXING, BOUND, USUAL_RUN, RESTART),
    )
)
