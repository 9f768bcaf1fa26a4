"""Chlorine: acid form in water, strength of products, demand of well water, cautions.

Contents: hypochlorous, hocl_fraction, available_grams_per_litre, chlorine_demand, CAUTIONS.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import KELVIN_AT_0_C
from equipment.engineering.oxidant.label import grams_per_litre
from equipment.engineering.oxidant.oxidants import ratio_iron, ratio_manganese, ratio_sulfide
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, result
from equipment.engineering.units import Quantity, magnitude

DEGC = "degC"
PERCENT = "percent"
GRAM_PER_ML = "g/mL"
#: Morris, J. Phys. Chem. 70 (1966) 3798 (MEMORY): pKa = A / T + B + C T
MORRIS_A, MORRIS_B, MORRIS_C = 3000.00, -10.0686, 0.0253
TEMPERATURE_RANGE_C = (0.0, 35.0)
PH_RANGE = (4.0, 11.0)

#: per mg/L of ammonia nitrogen; 7.6 by theory, 8 to 10 in practice (MEMORY)
AMMONIA_RATIO = 10.0

LIQUID, DRY = "liquid", "dry"
LIQUID_PERCENT = (0.5, 20.0)
DRY_PERCENT = (20.0, 99.3)

CAUTIONS = (
    "The product label, local code and a licensed contractor come before this figure.",
    "Wear goggles or a face shield and gloves; ventilate; never go into a well pit.",
    "Never mix a chlorine product with acid, ammonia, peroxide or another chlorine product:"
    " poisonous gas or a violent reaction.",
    "Only plain, unscented hypochlorite without additives, listed for drinking water.",
)
DRINKING_CAUTION = (
    "Nobody drinks or cooks with this water until it is flushed and a bacteria test is negative."
)


class Hypochlorous(Answer):
    method: ClassVar[str] = "hypochlorous/1"

    pka: float = result("", "negative logarithm of the acid constant of HOCl")
    hocl_fraction: float = result("", "share of free chlorine that is HOCl, the strong form")


def hypochlorous(*, temperature: Quantity, ph: float) -> Hypochlorous:
    """Share of free chlorine present as hypochlorous acid.

    pKa = 3000.00 / T - 10.0686 + 0.0253 T;  f = 1 / (1 + 10^(pH - pKa))

    temperature  T, kelvin in the formula  [degC]  0 to 35
    ph           pH                        [bare]  4 to 11
    returns      pka, hocl_fraction, both bare

    Raises OutOfRange outside those limits (measured 5 to 35 degC; 0 degC is the usual tables').
    Source: J. C. Morris, J. Phys. Chem. 70 (1966) 3798 (MEMORY).
    """
    celsius = magnitude("temperature", temperature, DEGC)
    check_ph(ph)
    pka = morris_pka(celsius)
    share = 1 / (1 + 10 ** (ph - pka))
    return Hypochlorous(
        pka=pka,
        hocl_fraction=share,
        warnings=(high_ph_warning(ph),) if ph > 7.5 else (),
        sources=("J. C. Morris, J. Phys. Chem. 70 (1966) 3798, from memory.",),
        working=(
            f"pKa = 3000 / {celsius + KELVIN_AT_0_C:.2f} - 10.0686 + 0.0253 x"
            f" {celsius + KELVIN_AT_0_C:.2f} = {pka:.4f}",
            f"share = 1 / (1 + 10^({ph:g} - {pka:.4f})) = {share:.3f}",
        ),
    )


def high_ph_warning(ph: float) -> str:
    return (
        f"pH {ph:g}: above 7.5 less than about half of the chlorine is in its strong form;"
        " more chlorine raises pH further. Never add acid to chlorinated water."
    )


def check_ph(ph: float) -> None:
    low, high = PH_RANGE
    if not (math.isfinite(ph) and low <= ph <= high):
        raise OutOfRange("ph", f"must be {low:g} to {high:g}, got {ph:g}")


def morris_pka(celsius: float) -> float:
    low, high = TEMPERATURE_RANGE_C
    if not low <= celsius <= high:
        raise OutOfRange("temperature", f"must be {low:g} to {high:g} degC, got {celsius:g} degC")
    kelvin = celsius + KELVIN_AT_0_C
    return MORRIS_A / kelvin + MORRIS_B + MORRIS_C * kelvin


def available_grams_per_litre(strength: Quantity, basis: str, density: Quantity | None) -> float:
    """Available chlorine of a liquid, g/L, from the percent on its label; see label.py."""
    percent = product_percent(strength, LIQUID)
    weight = None if density is None else magnitude("density", density, GRAM_PER_ML)
    if weight is not None and not 1.0 <= weight <= 1.4:
        raise OutOfRange("density", f"must be 1 to 1.4 g/mL, got {weight:g} g/mL")
    return grams_per_litre(percent, basis, weight, is_chlorine=True)


def product_percent(strength: Quantity, product: str) -> float:
    """The label's percent, inside the range of its kind of product."""
    percent = magnitude("strength", strength, PERCENT)
    low, high = LIQUID_PERCENT if product == LIQUID else DRY_PERCENT
    if not low <= percent <= high:
        raise OutOfRange(
            "strength",
            f"must be {low:g} to {high:g} percent for a {product} product, got {percent:g} percent",
        )
    return percent


def chlorine_demand(iron: float, manganese: float, sulfide: float, ammonia: float) -> float:
    """mg/L of chlorine used up before a residual holds; sulfide as H2S, ammonia as N, mg/L.

    Ratios by stoichiometry (0.635 iron, 1.291 manganese, 8.32 sulfide: the strong excess carries
    it to sulfate); ammonia 10, the upper end of practice against 7.6 by theory (MEMORY).
    """
    return (
        ratio_iron("chlorine") * iron
        + ratio_manganese("chlorine") * manganese
        + ratio_sulfide("chlorine", product="sulfate") * sulfide
        + AMMONIA_RATIO * ammonia
    )


register(
    Calculation(
        name="hypochlorous",
        title="Share of chlorine in its strong form",
        function=hypochlorous,
        answer=Hypochlorous,
        keys=(
            Key(
                name="temperature",
                unit=DEGC,
                required=True,
                low=0,
                high=35,
                help="temperature of the water",
            ),
            Key(name="ph", kind="number", required=True, low=4, high=11, help="pH of the water"),
        ),
    )
)
