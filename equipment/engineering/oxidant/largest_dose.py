"""The largest dose that a dosing pump may be left at, and whether a setting passes it.

The maximum use level of the product as its certificate says it (NSF/ANSI/CAN 60, MEMORY). Of
permanganate, of which no residual is aimed at, what the raw water asks for and a little over
(common practice, no source). Dose goes with the setting in proportion (mass balance).
"""

from __future__ import annotations

from dataclasses import dataclass

from equipment.engineering.names import Oxidant

from .dial_figures import down_to_mark, largest_permanganate_dose

#: what rounding of a figure may add
ROUNDING = 1e-4
USE_LEVEL = "the product's maximum use level"
OF_RAW_WATER = "what this raw water asks for and a little over"


@dataclass(frozen=True)
class LargestDose:
    """mg/L as active oxidant, and where the limit comes from."""

    mg_l: float
    why: str

    def is_passed_by(self, dose: float) -> bool:
        return dose > self.mg_l * (1 + ROUNDING)

    def allowed(self, percent: float, dose: float, step: float = 1.0) -> float:
        """The highest setting within it, percent, on a mark of the pump."""
        return down_to_mark(percent * self.mg_l / dose, step)


def largest_dose(
    oxidant: str, *, use_level: float | None, need: float | None
) -> LargestDose | None:
    """The stricter of the limits that are known; `need`: what the raw water asks for, mg/L."""
    known = [LargestDose(use_level, USE_LEVEL)] if use_level else []
    if oxidant == Oxidant.PERMANGANATE and need is not None:
        known.append(LargestDose(largest_permanganate_dose(need), OF_RAW_WATER))
    return min(known, key=lambda limit: limit.mg_l, default=None)
