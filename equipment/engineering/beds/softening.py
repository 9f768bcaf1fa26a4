"""Softeners: hardness with iron, capacity by salt dose, days between regenerations, brine.

Contents: softener, capacity_grain_per_ft3, brine_refill. Capacity is never told without its salt
dose: 30,000 grain/ft3 at 15 lb/ft3 and 20,000 at 6 lb/ft3 are the same resin.
"""

from __future__ import annotations

import math
from itertools import pairwise
from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import DAYS_PER_MONTH
from equipment.engineering.plumbing.demand import USE_PER_PERSON_GPD
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

#: hardness that a mg/L of iron or manganese counts as, gpg (PRACTICE; 2 to 5 and 2 to 6 are met)
IRON_FACTOR = 4.0
MANGANESE_FACTOR = 2.0
RESERVE_DAYS = 1.0
#: longest run (PRACTICE: 7 to 14 days, 3 to 5 with iron)
MAXIMUM_DAYS, MAXIMUM_DAYS_IRON = 14.0, 5.0
#: not oftener: Madison Metropolitan Sewerage District, Softening best practices (SEEN)
SHORTEST_DAYS = 3.0
#: mg/L of iron and manganese: Virginia 12VAC5-590-900 / Oklahoma OAC 252:626-9-10 (SEEN)
IRON_LIMIT, IRON_TREAT_FIRST = 0.3, 1.0
#: grain/ft3 by lb/ft3 of salt. 6: Virginia 12VAC5-590-900 D (SEEN); 20: Water Quality Products
#: magazine (SEEN), which also says more than 4000 grain/lb at 3 to 5 lb/ft3; 10 and 15: PRACTICE
CAPACITY_BY_SALT = (
    (3.0, 12_000.0),
    (6.0, 20_000.0),
    (10.0, 24_500.0),
    (15.0, 30_000.0),
    (20.0, 35_000.0),
)
#: Davis, Water and Wastewater Engineering, p. 8-19: 5 to 20 lb/ft3 (SEEN)
USUAL_SALT_FROM = 5.0
#: mg/L sodium per gpg removed: 17.118 x 22.99 / 50.04
SODIUM_PER_GPG = 7.86
#: gpm/ft3 and gpm/ft2 of service (PRACTICE; Virginia 12VAC5-590-900 F, SEEN)
SERVICE_PER_FT3 = 5.0
#: salt that a gallon of refill water dissolves, lb (PRACTICE); a gallon of the brine holds 2.6
SALT_PER_GALLON = 3.0
CAPACITY_LIMIT, DAYS_LIMIT = "capacity", "maximum days"

HARDNESS = Key(
    name="hardness",
    unit="gpg",
    required=True,
    low=0,
    high=200,
    help="of the raw water, gpg or mg/L as CaCO3",
)
IRON = Key(name="iron", unit="mg/L", low=0, high=50, default="0 mg/L", help="total iron")
MANGANESE = Key(
    name="manganese", unit="mg/L", low=0, high=20, default="0 mg/L", help="total manganese"
)
IRON_GPG = Key(
    name="iron_factor",
    kind="number",
    low=0,
    high=6,
    default="4",
    help="gpg that 1 mg/L of iron counts as",
)
MANGANESE_GPG = Key(
    name="manganese_factor",
    kind="number",
    low=0,
    high=6,
    default="2",
    help="gpg that 1 mg/L of manganese counts as",
)
PEOPLE = Key(
    name="people",
    kind="number",
    required=True,
    low=0,
    low_open=True,
    high=50,
    help="living in the house",
)
USE = Key(
    name="use_per_person",
    unit="gpd",
    low=10,
    high=300,
    default=f"{USE_PER_PERSON_GPD:g} gpd",
    help="water per person and day, softened part",
)
RESIN = Key(name="resin_volume", unit="ft3", required=True, low=0.1, high=50, help="resin")
SALT_DOSE = Key(
    name="salt_dose",
    unit="lb/ft3",
    required=True,
    low=3,
    high=20,
    help="salt per regeneration by resin volume",
)
RESERVE = Key(
    name="reserve_days",
    unit="day",
    low=0,
    high=7,
    default="1 day",
    help="use kept back so that the house never runs out",
)
MAXIMUM = Key(
    name="maximum_days",
    unit="day",
    low=1,
    high=30,
    help="longest run; 14, or 5 with iron and manganese above 0.3 mg/L",
)
PEAK = Key(
    name="peak_flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=200,
    help="peak draw, to check the resin volume",
)

SOURCES = (
    "Capacity by salt dose: Virginia 12VAC5-590-900 D; Water Quality Products magazine;"
    " between them common practice.",
    "Not oftener than every 3 days: Madison Metropolitan Sewerage District, Softening best"
    " practices.",
    "Iron and manganese as hardness, reserve and longest run: common practice, no source.",
    "75 gal per person and day without a meter: US Geological Survey Circular 1441, 2018.",
)


class Softener(Answer):
    method: ClassVar[str] = "softener/2"

    compensated_hardness: Quantity = result("gpg", "hardness with iron and manganese counted in")
    capacity: Quantity = result("grain", "of the resin at this salt dose")
    salt_dose: Quantity = result("lb/ft3", "the salt dose the capacity holds for")
    load_per_day: Quantity = result("grain", "hardness that comes in a day")
    days: Quantity = result("day", "between regenerations")
    limited_by: str = result("", "capacity or maximum days")
    gallons_between: Quantity = result("gal", "meter setting, reserve kept back")
    salt_per_regeneration: Quantity = result("lb", "salt each time")
    salt_per_month: Quantity | None = result("lb", "salt in a month")
    salt_efficiency: Quantity = result("grain/lb", "capacity by salt")
    service_rate: Quantity | None = result("gpm/ft3", "peak draw by resin volume")
    sodium_added: Quantity = result("mg/L", "sodium that replaces the hardness")


def softener(
    *,
    hardness: Quantity,
    people: float,
    resin_volume: Quantity,
    salt_dose: Quantity,
    iron: Quantity | None = None,
    manganese: Quantity | None = None,
    iron_factor: float | None = None,
    manganese_factor: float | None = None,
    use_per_person: Quantity | None = None,
    reserve_days: Quantity | None = None,
    maximum_days: Quantity | None = None,
    peak_flow: Quantity | None = None,
) -> Softener:
    """Days between regenerations, meter setting and salt of a softener.

    H' = H + k_Fe Fe + k_Mn Mn;  L = people x use x H';  C = V c(salt dose);
    days = min((C - reserve L) / L, maximum)

    hardness        H, gpg or mg/L as CaCO3        [concentration]  0 to 200 gpg
    iron, manganese Fe, Mn                         [concentration]  0 to 50, 0 to 20 mg/L
    iron_factor     k_Fe, default 4 (PRACTICE)     [bare, gpg per mg/L]  0 to 6
    manganese_factor  k_Mn, default 2 (PRACTICE)   [bare, gpg per mg/L]  0 to 6
    people          in the house                   [bare]    above 0, at most 50
    use_per_person  default 75 (USGS Circular 1441)  [flow]    10 to 300 gpd
    resin_volume    V                              [volume]  0.1 to 50 ft3
    salt_dose       salt by resin                  [density] 3 to 20 lb/ft3
    reserve_days    default 1 (PRACTICE)           [time]    0 to 7 day
    maximum_days    default 14, with iron 5 (PRACTICE)  [time]  1 to 30 day
    peak_flow       for the service rate           [flow]    above 0, at most 200 gpm
    returns         hardness gpg, capacity grain, load grain/day, days, gallons, salt lb

    Raises OutOfRange outside those limits. Source: capacity 20,000 grain/ft3 at 6 lb/ft3 Virginia
    12VAC5-590-900 D (SEEN), 35,000 at 20 Water Quality Products magazine (SEEN), between them
    common practice, straight lines.
    """
    metals = IRON.optional(iron) or 0.0, MANGANESE.optional(manganese) or 0.0
    factors = (
        _default(IRON_GPG, iron_factor, IRON_FACTOR),
        _default(MANGANESE_GPG, manganese_factor, MANGANESE_FACTOR),
    )
    hard = HARDNESS.amount(hardness)
    counted = hard + factors[0] * metals[0] + factors[1] * metals[1]
    if counted == 0:
        raise OutOfRange("hardness", "is 0 and so is iron: there is nothing to soften")
    daily = PEOPLE.amount(people) * _default(USE, use_per_person, USE_PER_PERSON_GPD)
    resin, dose = RESIN.amount(resin_volume), SALT_DOSE.amount(salt_dose)
    capacity, load = resin * capacity_grain_per_ft3(dose), daily * counted
    usual = MAXIMUM_DAYS_IRON if math.fsum(metals) > IRON_LIMIT else MAXIMUM_DAYS
    longest = _default(MAXIMUM, maximum_days, usual)
    held = run_days(capacity, load, _default(RESERVE, reserve_days, RESERVE_DAYS))
    days = min(held, longest)
    peak = PEAK.optional(peak_flow)
    return Softener(
        compensated_hardness=q(counted, "gpg"),
        capacity=q(capacity, "grain"),
        salt_dose=q(dose, "lb/ft3"),
        load_per_day=q(load, "grain"),
        days=q(days, "day"),
        limited_by=CAPACITY_LIMIT if held <= longest else DAYS_LIMIT,
        gallons_between=q(days * daily, "gal"),
        salt_per_regeneration=q(resin * dose, "lb"),
        salt_per_month=q(resin * dose * DAYS_PER_MONTH / days if days > 0 else None, "lb"),
        salt_efficiency=q(capacity / (resin * dose), "grain/lb"),
        service_rate=q(peak and peak / resin, "gpm/ft3"),
        sodium_added=q(hard * SODIUM_PER_GPG, "mg/L"),
        warnings=tuple(_warnings(math.fsum(metals), days, dose, peak and peak / resin)),
        cautions=(
            "Softened water holds added sodium: on a low-sodium diet ask a doctor, or leave the"
            " kitchen cold tap hard.",
        ),
        sources=SOURCES,
        working=(
            f"hardness = {hard:.3g} + {factors[0]:g} x {metals[0]:g} + {factors[1]:g} x"
            f" {metals[1]:g} = {counted:.3g} gpg",
            f"capacity = {resin:g} ft3 x {capacity / resin:.0f} grain/ft3 at {dose:g} lb/ft3"
            f" = {capacity:.0f} grain",
            f"load = {daily:g} gal/day x {counted:.3g} gpg = {load:.0f} grain/day",
            f"days = min({held:.2f} by capacity, {longest:g}) = {days:.2f}",
        ),
    )


def capacity_grain_per_ft3(salt_lb_per_ft3: float) -> float:
    """Capacity of new cation resin at a salt dose of 3 to 20 lb/ft3, straight between points."""
    for (salt, grain), (more_salt, more_grain) in pairwise(CAPACITY_BY_SALT):
        if salt <= salt_lb_per_ft3 <= more_salt:
            share = (salt_lb_per_ft3 - salt) / (more_salt - salt)
            return grain + share * (more_grain - grain)
    raise OutOfRange("salt_dose", f"must be 3 to 20 lb/ft3, got {salt_lb_per_ft3:g} lb/ft3")


def run_days(capacity: float, load: float, reserve_days: float) -> float:
    """Days until only the reserve is left; 0 when the capacity is smaller than the reserve."""
    return max(0.0, capacity / load - reserve_days)


def _default(key: Key, given: Quantity | None | float, default: float) -> float:
    value = key.optional(given)
    return default if value is None else value


def _warnings(metals: float, days: float, dose: float, per_ft3: float | None) -> list[str]:
    found = []
    if days < 1:
        found.append(
            "The resin cannot carry one day beside its reserve: more resin or more salt is needed."
        )
    elif days < SHORTEST_DAYS:
        found.append(
            f"Every {days:.1f} days is too often, 3 days or more are wanted: a larger bed or a"
            " twin, not a daily cycle."
        )
    if metals >= IRON_TREAT_FIRST:
        found.append("Iron and manganese of 1 mg/L or more: remove them ahead of the softener.")
    elif metals > IRON_LIMIT:
        found.append(
            "Iron and manganese above 0.3 mg/L foul the resin: clean it regularly, run 3 to 5"
            " days at most."
        )
    if dose < USUAL_SALT_FROM:
        found.append("Below 5 lb/ft3 more hardness slips through: check the treated hardness.")
    if per_ft3 is not None and per_ft3 > SERVICE_PER_FT3:
        found.append(
            f"{per_ft3:.3g} gpm/ft3 at peak draw is above 5 gpm/ft3: hardness slips through."
        )
    return found


register(
    Calculation(
        name="softener",
        title="Softener regeneration and salt",
        function=softener,
        answer=Softener,
        keys=(
            HARDNESS,
            IRON,
            MANGANESE,
            PEOPLE,
            USE,
            RESIN,
            SALT_DOSE,
            RESERVE,
            MAXIMUM,
            PEAK,
            IRON_GPG,
            MANGANESE_GPG,
        ),
    )
)


SALT = Key(
    name="salt",
    unit="lb",
    required=True,
    low=0,
    low_open=True,
    high=500,
    help="salt per regeneration",
)
REFILL_RATE = Key(
    name="refill_rate",
    unit="gpm",
    required=True,
    low=0.05,
    high=10,
    help="flow of the brine refill control",
)


class BrineRefill(Answer):
    method: ClassVar[str] = "brine/1"

    water: Quantity = result("gal", "water to let into the brine tank")
    time: Quantity = result("min", "refill time to set")


def brine_refill(*, salt: Quantity, refill_rate: Quantity) -> BrineRefill:
    """Refill water and time for a salt dose.

    W = S / 3;  t = W / Q

    salt         S                              [mass]  above 0, at most 500 lb
    refill_rate  Q                              [flow]  0.05 to 10 gpm
    returns      water gal, time min

    3 lb is what a gallon of the refill water dissolves (common practice, no source); a gallon of
    the brine made holds 2.6 lb (MEMORY, handbooks), another basis. Raises OutOfRange.
    """
    pounds, gpm = SALT.amount(salt), REFILL_RATE.amount(refill_rate)
    water = pounds / SALT_PER_GALLON
    return BrineRefill(
        water=q(water, "gal"),
        time=q(water / gpm, "min"),
        sources=("3 lb of salt per gallon of refill water: common practice, no source.",),
        working=(
            f"water = {pounds:g} lb / 3 lb/gal = {water:.3g} gal",
            f"time = {water:.3g} gal / {gpm:g} gpm = {water / gpm:.3g} min",
        ),
    )


register(
    Calculation(
        name="brine-refill",
        title="Brine refill time",
        function=brine_refill,
        answer=BrineRefill,
        keys=(SALT, REFILL_RATE),
    )
)
