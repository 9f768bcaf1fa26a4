"""Loss of strength of a stored feed solution with its age.

Contents: strength_age.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import DAYS_PER_WEEK, DAYS_PER_YEAR
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import (
    Answer,
    Interval,
    q,
    result,
)
from equipment.engineering.units import Quantity, ranged

GRAM_PER_L = "g/L"
DAY = "day"
DEGC = "degC"
HYPOCHLORITE = "hypochlorite"
DILUTED_ON_SITE = "peroxide-site-diluted"
UNDILUTED = "peroxide-undiluted"
#: g/L and days the figures below hold for
STRENGTH_RANGE = {HYPOCHLORITE: 150.0, DILUTED_ON_SITE: 200.0, UNDILUTED: 1000.0}
AGE_RANGE = {HYPOCHLORITE: 183.0, DILUTED_ON_SITE: 365.0, UNDILUTED: 730.0}
TEMPERATURE_RANGE_C = (5.0, 35.0)
#: taken when the temperature is not given
UNTOLD_TEMPERATURE_C = (10.0, 30.0)
#: hypochlorite: 1/c = 1/c0 + k t; k in L/(g day) at 21.1 degC (70 F), slow and fast end, chosen
#: to enclose a published storage table for 12.5 trade percent at 70 and 90 F (low authority)
SLOW_RATE, FAST_RATE, RATE_AT_C = 2.3e-5, 3.4e-5, 21.1
#: growth of the rate per 10 degC, slow and fast end (MEMORY: 3 to 3.5)
SLOW_GROWTH, FAST_GROWTH = 3.0, 3.5
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
        "Second order in strength: Gordon, Adam, Bubnis, J. AWWA 1995.",
        "Replace after 45 days: PA DEP module 25 hypochlorite (2013).",
    ),
    DILUTED_ON_SITE: ("1 to 5 percent a week: common practice, no source.",),
    UNDILUTED: ("0.5 percent a year: Australian Science Teachers Association, 2019.",),
}


class StrengthAge(Answer):
    method: ClassVar[str] = "strength-age/1"

    strength: Interval = result(GRAM_PER_L, "range of strength left")


def strength_age(
    *, strength: Quantity, age: Quantity, product: str, temperature: Quantity | None = None
) -> StrengthAge:
    """Strength left in a stored solution, as a range; a fresh reading beats it.

    hypochlorite            1/c = 1/c0 + k t, k grows 3 to 3.5 times per 10 degC
    peroxide-site-diluted   c = c0 (1 - 0.01 .. 0.05)^weeks
    peroxide-undiluted      c = c0 (1 - 0.005 .. 0.01)^years

    strength     c0, when mixed or delivered  [g/L]   above 0 to 150, 200, 1000 by product
    age          t                            [day]   0 to 183, 365, 730 by product
    product      one of the three above
    temperature  of storage                   [degC]  5 to 35; 10 to 30 is taken when not given
                 (hypochlorite only; for peroxide it only warns)
    returns      strength, low and high, g/L

    Raises OutOfRange, WrongInput naming the key.
    Source: order of reaction J. AWWA 1995 (abstract, SEEN); rates enclose a storage table of low
    authority; growth with temperature MEMORY; peroxide common practice.
    """
    if product not in STRENGTH_RANGE:
        raise WrongInput("product", f"must be one of {', '.join(STRENGTH_RANGE)}")
    start = ranged("strength", strength, GRAM_PER_L, 0.0, STRENGTH_RANGE[product], low_open=True)
    days = ranged("age", age, DAY, 0.0, AGE_RANGE[product])
    celsius = None
    if temperature is not None:
        celsius = ranged("temperature", temperature, DEGC, *TEMPERATURE_RANGE_C)
    low, high = _strength_left(product, start, days, celsius)
    return StrengthAge(
        strength=Interval(q(low, GRAM_PER_L), q(high, GRAM_PER_L)),
        warnings=_warnings(product, days, celsius),
        cautions=("Old solution gives off gas: vented container, goggles and gloves.",),
        sources=SOURCES[product],
        working=(f"{start:g} g/L after {days:g} days: {low:.4g} to {high:.4g} g/L",),
    )


def _strength_left(
    product: str, start: float, days: float, celsius: float | None
) -> tuple[float, float]:
    if product == HYPOCHLORITE:
        cool, warm = (celsius, celsius) if celsius is not None else UNTOLD_TEMPERATURE_C
        fast = max(_rate(FAST_RATE, growth, warm) for growth in (SLOW_GROWTH, FAST_GROWTH))
        slow = min(_rate(SLOW_RATE, growth, cool) for growth in (SLOW_GROWTH, FAST_GROWTH))
        return 1 / (1 / start + fast * days), 1 / (1 / start + slow * days)
    (least, most), period = SITE_LOSS_PER_WEEK, DAYS_PER_WEEK
    if product == UNDILUTED:
        (least, most), period = UNDILUTED_LOSS_PER_YEAR, DAYS_PER_YEAR
    return start * (1 - most) ** (days / period), start * (1 - least) ** (days / period)


def _rate(at_reference: float, growth: float, celsius: float) -> float:
    rate: float = at_reference * growth ** ((celsius - RATE_AT_C) / 10)
    return rate


def _warnings(product: str, days: float, celsius: float | None) -> tuple[str, ...]:
    warnings = []
    if days > REPLACE_AFTER[product]:
        warnings.append(
            f"Older than {REPLACE_AFTER[product]:g} days: replace or test the solution."
        )
    if celsius is None and product == HYPOCHLORITE:
        low, high = UNTOLD_TEMPERATURE_C
        warnings.append(f"Temperature not given: {low:g} to {high:g} degC is taken.")
    if celsius is not None and celsius > 25 and product != HYPOCHLORITE:
        warnings.append("Warm storage: peroxide loses strength faster than this range says.")
    return tuple(warnings)


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
            Key(name="temperature", unit=DEGC, low=5, high=35, help="temperature of storage"),
        ),
    )
)
