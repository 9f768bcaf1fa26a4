"""The figures of the dial-in for each oxidant: where it starts, what it aims at, when it stops.

Chosen by simulated start-ups (tests/start_ups.py, which says how they fare); the limits of one
step are common practice. No other source.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from .dial_grid import Edge

STEP_DOWN, STEP_UP = 0.5, 1.5
#: without word from the treated tap only this share of a step down is taken
UNKNOWN_TAP_SHARE = 0.5
#: a step that promises less than this is not worth a wait
WORTHWHILE = 0.02
#: no step down while the residual lies under the aim with more than this chance
UNDER_ALLOWED = 0.15
#: a zero that the earlier readings gave less chance than this asks for the feeder
STRANGE_ZERO = 0.06
#: permanganate: colour ahead of the filter that may be seen at the end, mg/L
FAINT = 0.5
#: one step of the pump may move at most this share of the aim
COARSE_STEP = 1 / 3


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Chances at which it stops and steps, and how an older reading fades."""

    #: first setting, times the computed one
    start: float
    memory: float
    #: chance of "near" that ends it, less for each reading, and never below
    enough: float
    less: float
    floor: float
    #: chance of an unmet demand that still ends it
    short_allowed: float
    #: no raise while "over" has more than this chance at the setting that runs
    over_allowed: float
    #: no step down to where the demand is unmet with more than this chance: from the first
    #: reading of the day if it lies wholly above the aim, from it if not, from any later one
    landing_first_over: float
    landing_first: float
    landing_later: float
    #: low end of the aim for which those hold; where it is lower they shrink with it
    landing_aim: float = 0.0


FIGURES = {
    "peroxide": Figures(
        start=1.4,
        memory=0.90,
        enough=0.80,
        less=0.03,
        floor=0.50,
        short_allowed=0.05,
        over_allowed=0.15,
        landing_first_over=0.055,
        landing_first=0.034,
        landing_later=0.02,
        landing_aim=5.0,
    ),
    "chlorine": Figures(
        start=1.0,
        memory=0.95,
        enough=0.60,
        less=0.05,
        floor=0.35,
        short_allowed=0.20,
        over_allowed=0.08,
        landing_first_over=0.08,
        landing_first=0.08,
        landing_later=0.08,
    ),
    "permanganate": Figures(
        start=0.8,
        memory=0.90,
        enough=0.60,
        less=0.04,
        floor=0.40,
        short_allowed=0.15,
        over_allowed=0.15,
        landing_first_over=0.02,
        landing_first=0.02,
        landing_later=0.02,
    ),
}


@dataclass(frozen=True, kw_only=True)
class Aims:
    """Edges of the excess over the demand."""

    low: Edge
    high: Edge
    near_low: Edge
    near_high: Edge
    #: below it the demand is not met
    met: Edge
    #: below it a step down is not worth its risk
    under: Edge
    #: above it no raise
    over: Edge
    #: above it the setting counts as too high
    far_over: Edge


#: permanganate has no residual to aim at: the excess is a share of the demand, and a little
PERMANGANATE = Aims(
    low=Edge(0.0, -0.05),
    high=Edge(0.3, 0.05),
    near_low=Edge(0.0, -0.10),
    near_high=Edge(0.5, 0.10),
    met=Edge(0.0, -0.08),
    under=Edge(0.0, -0.08),
    over=Edge(0.6, 0.12),
    far_over=Edge(0.6, 0.12),
)


def down_to_mark(setting: float, step: float = 1.0) -> float:
    """A setting the pump can be set to, percent: rounded down, so that no limit is passed.

    Below one step the setting itself, to a tenth of a percent: too small to be turned off by it.
    """
    if setting < step:
        return math.floor(setting * 10 + 1e-9) / 10
    return round(math.floor(setting / step + 1e-9) * step, 6)


def largest_permanganate_dose(need: float) -> float:
    """mg/L for a raw water that asks for `need`: a fifth over it and a little (common practice,
    no source; no residual is aimed at, and what is over colours the water)."""
    return 1.2 * need + 0.3


def aims_for(oxidant: str, low: float, high: float) -> Aims:
    """The edges for a residual from low to high after retention, mg/L."""
    if oxidant == "permanganate":
        return PERMANGANATE
    return Aims(
        low=Edge(low),
        high=Edge(high),
        near_low=Edge(0.6 * low),
        near_high=Edge(1.4 * high),
        met=Edge(0.0),
        under=Edge(low),
        over=Edge(1.1 * high),
        far_over=Edge(1.6 * high),
    )
