"""A solution mixed from a dry product: permanganate crystals in water.

Contents: dry_mix.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import GRAMS_PER_OUNCE, LITRES_PER_GALLON
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

#: feed solutions of 1 to 4 percent: EPA 815-R-99-014, section 5.2 (SEEN)
USUAL_G_PER_L = (10.0, 40.0)
#: what water takes up at 20 degC (the same text, its misprint put right from memory)
MOST_G_PER_L = 64.0

MASS = Key(
    name="mass", unit="oz", required=True, low=0, low_open=True, high=3200, help="dry product"
)
MASS_FRACTION = Key(
    name="mass_fraction",
    unit="percent",
    required=True,
    low=1,
    high=100,
    help="percent on its label, by weight",
)
VOLUME = Key(
    name="volume",
    unit="gal",
    required=True,
    low=0,
    low_open=True,
    high=1000,
    help="of the finished solution",
)


class DryMix(Answer):
    method: ClassVar[str] = "dry-mix/1"

    strength: Quantity = result("g/L", "active substance per litre of the finished solution")


def dry_mix(*, mass: Quantity, mass_fraction: Quantity, volume: Quantity) -> DryMix:
    """Strength of a solution mixed from a dry product.

    c = m w / V

    mass           m, of the dry product         [mass]     above 0, at most 3200 oz
    mass_fraction  w, percent on the label       [percent]  1 to 100
    volume         V, of the finished solution   [volume]   above 0, at most 1000 gal
    returns        strength g/L

    Raises OutOfRange outside those limits and where it cannot all dissolve. Source: mass balance;
    feed solutions of 1 to 4 percent EPA 815-R-99-014 section 5.2 (SEEN), 64 g/L dissolve at
    20 degC (MEMORY).
    """
    grams, share = MASS.amount(mass) * GRAMS_PER_OUNCE, MASS_FRACTION.amount(mass_fraction) / 100
    litres = VOLUME.amount(volume) * LITRES_PER_GALLON
    strength = grams * share / litres
    if strength > MOST_G_PER_L:
        raise OutOfRange(
            "mass",
            f"makes {strength:.0f} g/L; water of 20 degC dissolves {MOST_G_PER_L:g} g/L:"
            " less of it, or more water",
        )
    low, high = USUAL_G_PER_L
    unusual = not low <= strength <= high
    return DryMix(
        strength=q(strength, "g/L"),
        warnings=(
            (f"Usual are {low:g} to {high:g} g/L; stronger solutions settle when cold.",)
            if unusual
            else ()
        ),
        cautions=(
            "Crystals into water, never near anything that burns; goggles, gloves, no dust. They"
            " stain.",
        ),
        sources=("Mass balance.", "Feed solutions of 1 to 4 percent: EPA 815-R-99-014, 5.2."),
        working=(f"strength = {grams:.4g} g x {share:.3g} / {litres:.4g} L = {strength:.3g} g/L",),
    )


register(
    Calculation(
        name="dry-mix",
        title="Strength of a solution mixed dry",
        function=dry_mix,
        answer=DryMix,
        keys=(MASS, MASS_FRACTION, VOLUME),
    )
)
