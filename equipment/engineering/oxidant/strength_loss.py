"""Loss of strength of a stored feed solution with its age.

Contents: strength_age, second_order_rate, hypochlorite_left.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import (
    DAYS_PER_WEEK,
    DAYS_PER_YEAR,
    KELVIN_AT_0_C,
    SECONDS_PER_DAY,
)
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import (
    Answer,
    Interval,
    q,
    result,
)
from equipment.engineering.units import Quantity, ranged

from .oxidants import OXIDANT_MASS

GRAM_PER_L = "g/L"
DAY = "day"
DEGC = "degC"
HYPOCHLORITE = "hypochlorite"
DILUTED_ON_SITE = "peroxide-site-diluted"
UNDILUTED = "peroxide-undiluted"
#: g/L and days the figures below hold for
STRENGTH_RANGE = {HYPOCHLORITE: 150.0, DILUTED_ON_SITE: 200.0, UNDILUTED: 1000.0}
AGE_RANGE = {HYPOCHLORITE: 183.0, DILUTED_ON_SITE: 365.0, UNDILUTED: 730.0}
TEMPERATURE_RANGE_C = (0.0, 40.0)
#: taken when the temperature is not given
UNTOLD_TEMPERATURE_C = (10.0, 30.0)
GAS_CONSTANT = 8.314
#: hypochlorite, second order, L/(mol s):
#: k2 = 2.083e10 T exp(-101800 / RT) exp(-56.5 / R) 10^(0.149 I)
#: (AWWA Research Foundation, hypochlorite assessment, 2009, MEMORY)
RATE_FACTOR, ENTHALPY, ENTROPY, IONIC_EFFECT = 2.083e10, 101800.0, -56.5, 0.149
#: mol/L of ions for a mol/L of hypochlorite with its chloride and caustic (common practice)
IONIC_PER_MOLE, IONIC_BASE = 2.4, 0.05
#: width of that law: encloses the half-lives that bleach makers print (MEMORY)
LAW_WIDTH = (0.8, 1.4)
OPAQUE, TRANSLUCENT = "opaque", "translucent"
#: first order, by light, metals and the water it was mixed with, 1/day: encloses the losses of
#: fixtures/published/hypochlorite_storage.csv
OPAQUE_LOSS = (0.0001, 0.002)
TRANSLUCENT_LOSS, TRANSLUCENT_LOSS_WEAK, WEAK_BELOW = (0.004, 0.007), (0.005, 0.03), 5.0
#: metals in the mixing water have no number: test after this many days (common practice)
TEST_AFTER = 14.0
#: fraction lost: per week in a tank diluted on site (common practice, no source); per year
#: undiluted, stabilized and clean (0.5 percent: Australian Science Teachers Association 2019,
#: below 1 percent: common practice)
SITE_LOSS_PER_WEEK = (0.01, 0.05)
UNDILUTED_LOSS_PER_YEAR = (0.005, 0.01)
#: days after which the solution is replaced: hypochlorite PA DEP module 25 (2013); peroxide
#: common practice
REPLACE_AFTER = {HYPOCHLORITE: 45.0, DILUTED_ON_SITE: 90.0, UNDILUTED: 365.0}
SOURCES = {
    HYPOCHLORITE: (
        "Second order in strength: Gordon, Adam, Bubnis, J. AWWA 1995; rate by temperature and"
        " salt: AWWA Research Foundation 2009, from memory.",
        "First order of light and metals: enclosing published losses (American Journal of Hospital"
        " Pharmacy 1982; Infection Control and Hospital Epidemiology 1998; Gow and others 2022).",
        "Replace after 45 days: PA DEP module 25 hypochlorite (2013).",
    ),
    DILUTED_ON_SITE: ("1 to 5 percent a week: common practice, no source.",),
    UNDILUTED: ("0.5 percent a year: Australian Science Teachers Association, 2019.",),
}


class StrengthAge(Answer):
    method: ClassVar[str] = "strength-age/2"

    strength: Interval = result(GRAM_PER_L, "range of strength left")


def strength_age(
    *,
    strength: Quantity,
    age: Quantity,
    product: str,
    temperature: Quantity | None = None,
    store: str | None = None,
) -> StrengthAge:
    """Strength left in a stored solution, as a range; a titrated strength beats it.

    hypochlorite            dc/dt = -k1 c - k2 c^2:  c = c0 e / (1 + k2 c0 (1 - e) / k1),
                            e = exp(-k1 t); k1 0.0001 to 0.002 per day opaque and covered, 0.004
                            to 0.007 translucent (below 5 g/L 0.005 to 0.03); k2 by temperature
                            and salt, 0.8 to 1.4 of the law
    peroxide-site-diluted   c = c0 (1 - 0.01 .. 0.05)^weeks
    peroxide-undiluted      c = c0 (1 - 0.005 .. 0.01)^years

    strength     c0, when mixed or delivered  [g/L]   above 0 to 150, 200, 1000 by product
    age          t                            [day]   0 to 183, 365, 730 by product
    product      one of the three above
    temperature  of storage                   [degC]  0 to 40; 10 to 30 is taken when not given
                 (hypochlorite only; for peroxide it only warns)
    store        opaque or translucent, hypochlorite only; both are taken when not given
    returns      strength, low and high, g/L

    Below about 60 g/L light, metals and the mixing water do nearly all of the loss. Raises
    OutOfRange, WrongInput naming the key.
    Source: order of reaction J. AWWA 1995 (abstract, SEEN); k2 AWWA Research Foundation 2009
    (MEMORY); k1 encloses published losses (SEEN); peroxide common practice.
    """
    if product not in STRENGTH_RANGE:
        raise WrongInput("product", f"must be one of {', '.join(STRENGTH_RANGE)}")
    start = ranged("strength", strength, GRAM_PER_L, 0.0, STRENGTH_RANGE[product], low_open=True)
    days = ranged("age", age, DAY, 0.0, AGE_RANGE[product])
    celsius = None
    if temperature is not None:
        celsius = ranged("temperature", temperature, DEGC, *TEMPERATURE_RANGE_C)
    if store is not None and store not in (OPAQUE, TRANSLUCENT):
        raise WrongInput("store", f"must be {OPAQUE} or {TRANSLUCENT}")
    low, high = _strength_left(product, start, days, celsius, store)
    return StrengthAge(
        strength=Interval(q(low, GRAM_PER_L), q(high, GRAM_PER_L)),
        warnings=_warnings(product, days, celsius, store),
        cautions=("Old solution gives off gas: vented container, goggles and gloves.",),
        sources=SOURCES[product],
        working=(f"{start:g} g/L after {days:g} days: {low:.4g} to {high:.4g} g/L",),
    )


def _strength_left(
    product: str, start: float, days: float, celsius: float | None, store: str | None
) -> tuple[float, float]:
    if product == HYPOCHLORITE:
        cool, warm = (celsius, celsius) if celsius is not None else UNTOLD_TEMPERATURE_C
        (less, more), (slow, fast) = LAW_WIDTH, _first_order(start, store)
        low = hypochlorite_left(start, days, fast, more * second_order_rate(start, warm))
        high = hypochlorite_left(start, days, slow, less * second_order_rate(start, cool))
        return low, high
    (least, most), period = SITE_LOSS_PER_WEEK, DAYS_PER_WEEK
    if product == UNDILUTED:
        (least, most), period = UNDILUTED_LOSS_PER_YEAR, DAYS_PER_YEAR
    return start * (1 - most) ** (days / period), start * (1 - least) ** (days / period)


def second_order_rate(grams_per_litre: float, celsius: float) -> float:
    """k2 of stored hypochlorite, L/(g day), by temperature and the salt that came with it."""
    kelvin, molar = celsius + KELVIN_AT_0_C, grams_per_litre / OXIDANT_MASS["chlorine"]
    energy = math.exp(-ENTHALPY / (GAS_CONSTANT * kelvin)) * math.exp(ENTROPY / GAS_CONSTANT)
    salt: float = 10 ** (IONIC_EFFECT * (IONIC_PER_MOLE * molar + IONIC_BASE))
    per_second = RATE_FACTOR * kelvin * energy * salt
    return per_second * SECONDS_PER_DAY / OXIDANT_MASS["chlorine"]


def hypochlorite_left(start: float, days: float, first: float, second: float) -> float:
    """g/L left of dc/dt = -k1 c - k2 c^2, k1 per day above 0, k2 in L/(g day)."""
    left = math.exp(-first * days)
    return start * left / (1 + second * start * (1 - left) / first)


def _first_order(start: float, store: str | None) -> tuple[float, float]:
    """k1, slow and fast end, 1/day."""
    light = TRANSLUCENT_LOSS_WEAK if start < WEAK_BELOW else TRANSLUCENT_LOSS
    slow = light[0] if store == TRANSLUCENT else OPAQUE_LOSS[0]
    fast = OPAQUE_LOSS[1] if store == OPAQUE else light[1]
    return slow, fast


def _warnings(
    product: str, days: float, celsius: float | None, store: str | None
) -> tuple[str, ...]:
    warnings = []
    if days > REPLACE_AFTER[product]:
        warnings.append(
            f"Older than {REPLACE_AFTER[product]:g} days: replace or test the solution."
        )
    if product == HYPOCHLORITE:
        warnings += _hypochlorite_warnings(days, celsius, store)
    if celsius is not None and celsius > 25 and product != HYPOCHLORITE:
        warnings.append("Warm storage: peroxide loses strength faster than this range says.")
    return tuple(warnings)


def _hypochlorite_warnings(days: float, celsius: float | None, store: str | None) -> list[str]:
    warnings = []
    if celsius is None:
        low, high = UNTOLD_TEMPERATURE_C
        warnings.append(f"Temperature not given: {low:g} to {high:g} degC is taken.")
    if store is None:
        warnings.append("Store not given: from an opaque, covered tank to one that lets light in.")
    if days > TEST_AFTER:
        warnings.append(
            "Older than 14 days: test it. Iron, manganese, copper or nickel in the water it was"
            " mixed with speed the loss, by no known figure, and the gas can lock the dosing pump."
        )
    return warnings


register(
    Calculation(
        name="strength-age",
        title="Strength left in a stored solution",
        function=strength_age,
        answer=StrengthAge,
        keys=(
            Key(
                name="strength",
                unit=GRAM_PER_L,
                required=True,
                low=0,
                low_open=True,
                high=1000,
                help="strength when mixed or delivered",
            ),
            Key(name="age", unit=DAY, required=True, low=0, high=730, help="age of the solution"),
            Key(
                name="product",
                kind="choice",
                choices=tuple(STRENGTH_RANGE),
                required=True,
                help="what is stored",
            ),
            Key(name="temperature", unit=DEGC, low=0, high=40, help="temperature of storage"),
            Key(
                name="store",
                kind="choice",
                choices=(OPAQUE, TRANSLUCENT),
                help="hypochlorite: opaque and covered, or translucent in light",
            ),
        ),
    )
)
