"""Active oxidant in a litre, from the percent on a label: the one reading of strength.

Contents: grams_per_litre, usual_density, TRADE, AVAILABLE, WEIGHT.
"""

from __future__ import annotations

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput

from .oxidants import OXIDANT_MASS

TRADE, AVAILABLE, WEIGHT = "trade", "available", "w/w"
BASES = (TRADE, AVAILABLE, WEIGHT)
SODIUM_HYPOCHLORITE_MASS = 74.442
#: density of hypochlorite by its percent of NaOCl by weight, within 2 percent of 1.075 at 5.25,
#: 1.085 at 6 and 1.20 at 12.5 (common practice)
DENSITY_PER_PERCENT = 0.0145


def grams_per_litre(
    percent: float, basis: str, density: float | None, *, is_chlorine: bool
) -> float:
    """g/L of active oxidant: of chlorine as Cl2, of others as the substance itself.

    trade      g in 100 mL, of chlorine only      10 x percent
    available  available chlorine by weight       10 x percent x density
    w/w        the substance by weight            10 x percent x density; of hypochlorite as NaOCl
                                                  times 70.906 / 74.442

    density    g/mL; of hypochlorite by weight the usual one is taken when it is None
    Raises WrongInput (strength_basis), MissingInput and OutOfRange (density).
    Source: 327 IAC 8-3.4-24 note (trade percent x 10 = g/L, SEEN); Handbook of Chlorination (1972)
    as quoted on a reference sheet (SEEN-2nd).
    """
    if basis not in BASES:
        raise WrongInput("strength_basis", f"must be {TRADE}, {AVAILABLE} or {WEIGHT}")
    if basis != WEIGHT and not is_chlorine:
        raise WrongInput("strength_basis", f"{basis} is a percent of chlorine; give {WEIGHT}")
    if basis == TRADE:
        return 10 * percent
    if density is None and basis == WEIGHT and is_chlorine:
        density = usual_density(percent)
    if density is None:
        raise MissingInput("density", f"is needed with strength_basis {basis}, such as 1.11 g/mL")
    if not 0.8 <= density <= 2:
        raise OutOfRange("density", f"must be 0.8 to 2 g/mL, got {density:g} g/mL")
    as_chlorine = OXIDANT_MASS["chlorine"] / SODIUM_HYPOCHLORITE_MASS
    return 10 * percent * density * (as_chlorine if basis == WEIGHT and is_chlorine else 1)


def usual_density(percent: float) -> float:
    """g/mL of sodium hypochlorite of that percent by weight."""
    return 1 + DENSITY_PER_PERCENT * percent
