"""What field kits can tell of an oxidant: the one home of their bands and their width.

A strip or a colour says a band between two printed values; a meter or a drop kit says a value,
good to a share of it. Bands of strips and the width of meters are common practice, no source;
that permanganate below 0.05 mg/L cannot be seen is from memory.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field


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
