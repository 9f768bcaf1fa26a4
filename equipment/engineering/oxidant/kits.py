"""What field kits can tell of an oxidant: the one home of their bands, width and checks.

A strip or a colour says a band between two printed values; a meter or a drop kit says a value,
good to a share of it. Bands of strips and the width of meters are common practice, no source;
that permanganate below 0.05 mg/L cannot be seen is from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from itertools import pairwise

from equipment.engineering.spans import span_words


@dataclass(frozen=True, kw_only=True)
class Kit:
    """What is read by eye and by meter for one oxidant, mg/L."""

    #: printed values, or edges between colours; the last band has no upper end
    pads: tuple[float, ...]
    #: a value below this reads as nothing on a meter
    least: float
    #: names of the bands where they are colours
    colours: tuple[str, ...] = ()
    #: a single value is good to this share
    share: float = 0.1
    bands: tuple[tuple[float, float], ...] = field(init=False)

    def __post_init__(self) -> None:
        tops = (*self.pads[1:], math.inf)
        object.__setattr__(self, "bands", tuple(zip(self.pads, tops, strict=True)))

    def around(self, low: float, high: float) -> tuple[float, float]:
        """A band at least as wide as the kit: a value is never taken as a point."""
        if math.isinf(high):
            return low, high
        middle = (low + high) / 2
        return (
            max(0.0, min(low, middle * (1 - self.share))) if low >= self.least else 0.0,
            max(high, middle * (1 + self.share), self.least),
        )


KITS: dict[str, Kit] = {
    "peroxide": Kit(pads=(0, 0.5, 2, 5, 10, 25, 50, 100), least=0.2),
    "chlorine": Kit(pads=(0, 0.5, 1, 2, 5, 10), least=0.05),
    "permanganate": Kit(
        pads=(0, 0.05, 0.5, 2), least=0.05, colours=("colourless", "faint", "pink", "purple")
    ),
}

#: common practice, no source: values beside the colours of strips and colour kits, mg/L; hardness
#: in grains per gallon as well
PRINTED: dict[str, tuple[float, ...]] = {
    "iron": (0, 0.3, 0.5, 1, 3, 5),
    "manganese": (0, 0.05, 0.1, 0.2, 0.5, 1),
    "sulfide": (0, 0.3, 0.5, 1, 2, 5),
    "ammonia": (0, 0.25, 0.5, 1, 3, 6),
    "hardness": (0, 1.5, 3, 7, 15, 25, 50, 120, 250, 425),
    "alkalinity": (0, 40, 80, 120, 180, 240),
    "nitrate": (0, 1, 2, 5, 10, 20),
    "ph": (6, 6.5, 7, 7.5, 8, 8.5),
}

#: common practice, no source: strips read a mix of known strength inside these, mg/L; the blank is
#: read with the feeder off
MIX_READS: dict[str, tuple[float, float]] = {"peroxide": (10.0, 25.0)}
BLANK_BELOW = 0.5


def strips_fault(
    oxidant: str,
    *,
    blank: tuple[float, float] | None = None,
    mix: tuple[float, float] | None = None,
) -> str:
    """What is wrong with strips by two bands they read, "" where nothing is or nothing was read."""
    if blank is not None and blank[1] > BLANK_BELOW:
        return f"the blank read {span_words(*blank)} mg/L, not below {BLANK_BELOW:g}"
    low, high = MIX_READS.get(oxidant, (0.0, math.inf))
    if mix is not None and not (low <= mix[0] and mix[1] <= high):
        return f"the known mix read {span_words(*mix)} mg/L, not {low:g} to {high:g}"
    return ""


def printed_bands(quantity: str) -> tuple[tuple[float, float], ...]:
    """What a strip or a colour says: between two printed values; the last has no upper end."""
    if quantity in KITS:
        return KITS[quantity].bands
    return tuple(pairwise((*PRINTED.get(quantity, ()), math.inf)))


def known_mix(drop_ml: float, strength_g_l: float, water_ml: float) -> float:
    """mg/L of a little solution in much water: mass over the volume of both."""
    return 1000 * drop_ml * strength_g_l / (water_ml + drop_ml)
