"""Shock chlorination of wells and plumbing.

Contents: shock_chlorination, contact_hours.
"""

from __future__ import annotations

from typing import Any, ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import (
    FLUID_OUNCES_PER_GALLON,
    GRAMS_PER_OUNCE,
    LITRES_PER_GALLON,
)
from equipment.engineering.oxidant.label import AVAILABLE, TRADE, WEIGHT
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, magnitude, ranged
from equipment.engineering.water.well_water import CASING_KEYS, column_volume

from .chlorine import (
    CAUTIONS,
    DRINKING_CAUTION,
    DRY,
    LIQUID,
    available_grams_per_litre,
    check_ph,
    chlorine_demand,
    high_ph_warning,
    morris_pka,
    product_percent,
)

GAL = "gal"
MG_PER_L = "mg/L"
HOUR = "h"
LARGEST_VOLUME_GAL = 100_000.0
TARGET_RANGE = (10.0, 1000.0)
LARGEST_DEMAND_PART = 100.0
#: Mich. Admin. Code R 325.1661 table 5: 100, 250, 500, 1000 ppm for 10, 4, 2, 1 h
TABLE_PRODUCT_MG_H_PER_L = 1000.0
#: common practice, no source: company minimum 12 h, never below 8 h
DEFAULT_CONTACT_H, SHORTEST_CONTACT_H, LONGEST_CONTACT_H = 12.0, 8.0, 72.0
WEAK_CONTACT_H = 24.0

SOURCES = (
    "Mass balance: chlorine = water x dose; liquid by g per 100 mL, dry by mass fraction.",
    "Dose tables compared: 77 Ill. Adm. Code 925.50; 327 IAC 8-3.4-24; R 325.1661 (Michigan).",
    "Contact time: R 325.1661 table 5 (1000 mg h/L) and common practice of 12 h, at least 8 h.",
)


class ShockChlorination(Answer):
    method: ClassVar[str] = "shock/1"

    treated_volume: Quantity = result("gal", "water in well and plumbing")
    demand: Quantity = result("mg/L", "chlorine used up by iron, manganese, sulfide, ammonia")
    dose: Quantity = result("mg/L", "chlorine to add: target and demand")
    chlorine: Quantity = result("g", "available chlorine to add")
    product_volume: Quantity = result("fl oz", "liquid product to add, whole")
    product_volume_well: Quantity = result("fl oz", "of it for the well")
    product_volume_plumbing: Quantity = result("fl oz", "of it for the plumbing")
    product_mass: Quantity = result("oz", "dry product to add, whole")
    product_mass_well: Quantity = result("oz", "of it for the well")
    product_mass_plumbing: Quantity = result("oz", "of it for the plumbing")
    contact_time: Quantity | None = result("h", "time to stand before flushing")
    hocl_fraction: float | None = result(
        "", "share of chlorine in its strong form, from pH and temperature"
    )
    static_known: bool | None = result("", "false when the full depth had to be taken")


def shock_chlorination(
    *,
    target: Quantity,
    product: str,
    strength: Quantity,
    volume: Quantity | None = None,
    casing_diameter: Quantity | None = None,
    water_column: Quantity | None = None,
    total_depth: Quantity | None = None,
    static_level: Quantity | str | None = None,
    casing_2_diameter: Quantity | None = None,
    casing_2_column: Quantity | None = None,
    plumbing_volume: Quantity | None = None,
    strength_basis: str | None = None,
    density: Quantity | None = None,
    iron: Quantity | None = None,
    manganese: Quantity | None = None,
    sulfide: Quantity | None = None,
    ammonia: Quantity | None = None,
    ph: float | None = None,
    temperature: Quantity | None = None,
    minimum_contact: Quantity | None = None,
) -> ShockChlorination:
    """Chlorine product to bring a well and its plumbing to a target for shock chlorination.

    dose = target + demand;  chlorine = V x dose;  liquid = chlorine / (10 x trade percent g/L);
    dry = chlorine / mass fraction.  The water that the product itself brings is left out, as in
    the published tables (below 2 percent at 1000 mg/L).

    volume            V, water in the well              [gal]   above 0 to 100000; or the keys
                      of well-volume
    plumbing_volume   water in pipes and tanks          [gal]   0 to 100000, default 0
    target            free chlorine wanted at first     [mg/L]  10 to 1000
    product           liquid or dry
    strength          percent on the label              [percent]  liquid 0.5 to 20, dry 20 to 99.3
    strength_basis    trade (liquid's default), available (dry's default), w/w (NaOCl by mass)
    density           of a liquid, for available, w/w   [g/mL]  1 to 1.4; w/w: usual if not given
    iron, manganese, sulfide (as H2S), ammonia (as N)   [mg/L]  0 to 100
    ph, temperature   for the share of HOCl             [bare, degC]
    minimum_contact   company's minimum                 [h]     8 to 72, default 12
    returns           see ShockChlorination; contact_time is absent below 25 mg/L

    Raises OutOfRange, MissingInput, WrongInput naming the key.
    Source: mass balance; dose tables of 77 Ill. Adm. Code 925.50, 327 IAC 8-3.4-24, Mich. Admin.
    Code R 325.1661 (SEEN); contact time common practice over R 325.1661 table 5.
    """
    column = None
    keys = (casing_diameter, water_column, total_depth, static_level)
    second = (casing_2_diameter, casing_2_column)
    if volume is None:
        column = column_volume(*keys, *second)
        well_gal = column.gallons
    else:
        _refuse_beside_volume(*keys, *second)
        well_gal = _volume("volume", volume, least_open=True)
    pipe_gal = _volume("plumbing_volume", plumbing_volume)
    wanted = ranged("target", target, MG_PER_L, *TARGET_RANGE)
    asked = {"iron": iron, "manganese": manganese, "sulfide": sulfide, "ammonia": ammonia}
    demand = chlorine_demand(*(_part(key, value) for key, value in asked.items()))
    dose = wanted + demand
    hours = contact_hours(wanted, _minimum(minimum_contact))
    amounts = _product_amounts(product, strength, strength_basis, density, well_gal, pipe_gal, dose)
    return ShockChlorination(
        treated_volume=q(well_gal + pipe_gal, GAL),
        demand=q(demand, MG_PER_L),
        dose=q(dose, MG_PER_L),
        chlorine=q((well_gal + pipe_gal) * LITRES_PER_GALLON * dose / 1000, "g"),
        **amounts,
        contact_time=q(hours, HOUR),
        hocl_fraction=_hocl_share(ph, temperature),
        static_known=column.static_known if column else None,
        warnings=(column.warnings if column else ()) + _warnings(wanted, demand, ph),
        cautions=(*CAUTIONS, DRINKING_CAUTION, *SHOCK_CAUTIONS),
        sources=SOURCES,
        working=(column.working if column else ())
        + _working(well_gal, pipe_gal, wanted, demand, hours),
    )


SHOCK_CAUTIONS = (
    "Power off before the well cap is opened; a well that gives off gas is left to a licensed"
    " contractor.",
    "Carbon, reverse osmosis and cartridges are bypassed or removed; the bypassed pipe must still"
    " get chlorine. Water heater: energy off and cooled first.",
    "Measure the residual at the hose after 15 min of recirculation: below the target, add and"
    " repeat. Colour tests bleach at high chlorine and can read near zero.",
    "Flush to waste outdoors, not to the septic system, a stream or a lake.",
)


def contact_hours(target: float, minimum: float) -> float | None:
    """Hours to stand: the larger of the minimum and 1000 mg h/L over the target.

    25 to below 50 mg/L at least 24 h; below 25 mg/L none, it is not shock chlorination.
    """
    if target < 25:
        return None
    if target < 50:
        return max(WEAK_CONTACT_H, minimum)
    return max(minimum, TABLE_PRODUCT_MG_H_PER_L / target)


def _volume(key: str, value: Quantity | None, *, least_open: bool = False) -> float:
    if value is None:
        return 0.0
    return ranged(key, value, GAL, 0.0, LARGEST_VOLUME_GAL, low_open=least_open)


def _refuse_beside_volume(*well_keys: Quantity | str | None) -> None:
    if any(value is not None for value in well_keys):
        raise WrongInput("volume", "give it alone, or the diameter and depths of the well")


def _part(key: str, value: Quantity | None) -> float:
    return 0.0 if value is None else ranged(key, value, MG_PER_L, 0.0, LARGEST_DEMAND_PART)


def _minimum(value: Quantity | None) -> float:
    if value is None:
        return DEFAULT_CONTACT_H
    return ranged("minimum_contact", value, HOUR, SHORTEST_CONTACT_H, LONGEST_CONTACT_H)


def _product_amounts(
    product: str,
    strength: Quantity,
    basis: str | None,
    density: Quantity | None,
    well_gal: float,
    pipe_gal: float,
    dose: float,
) -> dict[str, Any]:
    """The result fields of the product asked for."""
    if product == LIQUID:
        grams_per_litre = available_grams_per_litre(strength, basis or TRADE, density)
        per_gal = FLUID_OUNCES_PER_GALLON * dose / (1000 * grams_per_litre)
        name, unit_name = "product_volume", "fl oz"
    elif product == DRY:
        if basis not in (None, AVAILABLE):
            raise WrongInput("strength_basis", "a dry product's label gives available chlorine")
        fraction = product_percent(strength, DRY) / 100
        per_gal = LITRES_PER_GALLON * dose / 1000 / fraction / GRAMS_PER_OUNCE
        name, unit_name = "product_mass", "oz"
    else:
        raise WrongInput("product", f"must be {LIQUID} or {DRY}")
    return {
        name: q(per_gal * (well_gal + pipe_gal), unit_name),
        f"{name}_well": q(per_gal * well_gal, unit_name),
        f"{name}_plumbing": q(per_gal * pipe_gal, unit_name),
    }


def _hocl_share(ph: float | None, temperature: Quantity | None) -> float | None:
    if ph is not None:
        check_ph(ph)
    celsius = None if temperature is None else magnitude("temperature", temperature, "degC")
    if celsius is None or ph is None:
        return None
    return 1 / (1 + 10 ** (ph - morris_pka(celsius)))


def _warnings(target: float, demand: float, ph: float | None) -> tuple[str, ...]:
    warnings = []
    if target < 25:
        warnings.append("Below 25 mg/L this is not shock chlorination; no contact time is given.")
    elif target < 50:
        warnings.append("Below 50 mg/L: weak; at least 24 h and a residual of 10 mg/L at the end.")
    if target > 500:
        warnings.append("Above 500 mg/L only where a local rule names it.")
    if target > 200:
        warnings.append(
            "Above 200 mg/L: pH rises, the strong form falls, seals and metal suffer;"
            " more is not better."
        )
    if demand > 0.5 * target:
        warnings.append("The water takes up much chlorine: check the residual and add again.")
    if ph is not None and ph > 7.5:
        warnings.append(high_ph_warning(ph))
    return tuple(warnings)


def _working(
    well: float, pipes: float, target: float, demand: float, hours: float | None
) -> tuple[str, ...]:
    dose = target + demand
    lines = [
        f"water = {well:.4g} gal well + {pipes:.4g} gal plumbing = {well + pipes:.4g} gal",
        f"dose = {target:g} mg/L target + {demand:.3g} mg/L demand = {dose:.4g} mg/L",
        f"chlorine = {well + pipes:.4g} gal x 3.785 L/gal x {dose:.4g} mg/L ="
        f" {(well + pipes) * LITRES_PER_GALLON * dose / 1000:.4g} g",
    ]
    if hours is not None:
        lines.append(f"stand {hours:.3g} h (1000 mg h/L / {target:g} mg/L, or the minimum)")
    return tuple(lines)


register(
    Calculation(
        name="shock-chlorination",
        title="Chlorine product for shock chlorination",
        function=shock_chlorination,
        answer=ShockChlorination,
        keys=(
            Key(
                name="volume",
                unit=GAL,
                low=0,
                low_open=True,
                high=LARGEST_VOLUME_GAL,
                help="water in the well; or give the diameter and depths",
            ),
            *CASING_KEYS,
            Key(
                name="plumbing_volume",
                unit=GAL,
                low=0,
                high=LARGEST_VOLUME_GAL,
                help="water in pipes, heater and tanks that are treated",
            ),
            Key(
                name="target",
                unit=MG_PER_L,
                required=True,
                low=10,
                high=1000,
                help="free chlorine wanted at the start",
            ),
            Key(
                name="product",
                kind="choice",
                choices=(LIQUID, DRY),
                required=True,
                help="kind of chlorine product",
            ),
            Key(
                name="strength",
                unit="percent",
                required=True,
                low=0.5,
                high=99.3,
                help="percent on the label, liquid 0.5 to 20, dry 20 to 99.3",
            ),
            Key(
                name="strength_basis",
                kind="choice",
                choices=(TRADE, AVAILABLE, WEIGHT),
                help="what the percent means; trade for liquid, available for dry",
            ),
            Key(
                name="density",
                unit="g/mL",
                low=1,
                high=1.4,
                help="of the liquid, with available; for w/w the usual one if not given",
            ),
            *(
                Key(name=key, unit=MG_PER_L, low=0, high=LARGEST_DEMAND_PART, help=text)
                for key, text in (
                    ("iron", "in the raw water"),
                    ("manganese", "in the raw water"),
                    ("sulfide", "in the raw water, as H2S"),
                    ("ammonia", "in the raw water, as nitrogen"),
                )
            ),
            Key(name="ph", kind="number", low=4, high=11, help="pH of the water"),
            Key(name="temperature", unit="degC", low=0, high=35, help="temperature of the water"),
            Key(
                name="minimum_contact",
                unit=HOUR,
                low=SHORTEST_CONTACT_H,
                high=LONGEST_CONTACT_H,
                help="the company's minimum, 12 h when left out",
            ),
        ),
    )
)
