"""Feed solutions: strength from a label, topping up a tank.

Contents: solution_strength, solution_top_up.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, ranged

from .label import BASES, WEIGHT, grams_per_litre, usual_density

GAL = "gal"
GRAM_PER_L = "g/L"
#: water at 20 degC, g/mL (IAPWS-95)
WATER_DENSITY = 0.9982
LARGEST_TANK_GAL = 1000.0
#: 70 percent peroxide is 902 g/L, the strongest thing taken
STRONGEST_G_PER_L = 1000.0
#: peroxide at 8 percent by mass, density 1.0264 g/mL: the line of serious eye damage
PEROXIDE_EYE_PERCENT = 8.0
PEROXIDE_EYE_G_PER_L = 82.0
PEROXIDE, HYPOCHLORITE, PERMANGANATE = "peroxide", "hypochlorite", "permanganate"
PRODUCTS = (PEROXIDE, HYPOCHLORITE, PERMANGANATE)
ROUNDING = 1e-9

CAUTIONS = (
    "Follow the product label and safety data sheet; goggles and gloves; product into water.",
    "Clean, vented container for this product alone; never pour drawn product back.",
)
PEROXIDE_CAUTION = (
    f"Peroxide of {PEROXIDE_EYE_PERCENT:g} percent and more: danger of serious eye damage. "
    "Dilute only with deionized or distilled water; never near chlorine, metal or organic matter; "
    "never in a closed container."
)


class SolutionStrength(Answer):
    method: ClassVar[str] = "strength/2"

    strength: Quantity = result(GRAM_PER_L, "active substance per litre of the finished solution")
    mass_fraction: Quantity | None = result("percent", "active substance by mass after dilution")


def solution_strength(
    *,
    mass_fraction: Quantity,
    density: Quantity | None = None,
    parts_solution: float = 1.0,
    parts_water: float = 0.0,
    product: str | None = None,
    strength_basis: str = WEIGHT,
) -> SolutionStrength:
    """Strength of a solution from its label, also after dilution by volume.

    c = c0 a / (a + b);  w' = w rho a / (rho a + 0.9982 b), volumes taken as additive;
    c0 by the basis of the label: w/w 10 w rho (hypochlorite as Cl2: times 0.9525), available
    10 w rho, trade 10 w

    mass_fraction   w, percent on the label          [percent]  above 0 to 100
    density         rho, of the undiluted solution   [g/mL]     0.8 to 2; not needed for trade, the
                    usual one for hypochlorite by weight if not given
    parts_solution  a, parts by volume, default 1    [bare]     above 0 to 1000
    parts_water     b, parts by volume, default 0    [bare]     0 to 1000
    product         peroxide, hypochlorite or permanganate, for reading the label and the cautions
    strength_basis  w/w (default); trade or available for hypochlorite only
    returns         strength g/L (hypochlorite as Cl2), mass_fraction percent (w/w labels only)

    Raises OutOfRange outside those limits, WrongUnit on a bare number, MissingInput (density).
    Source: mass balance; the sum of volumes is up to 1 percent large at 35 percent peroxide;
    percents of chlorine as in label.py.
    """
    percent = ranged("mass_fraction", mass_fraction, "percent", 0.0, 100.0, low_open=True)
    weight = None if density is None else ranged("density", density, "g/mL", 0.8, 2.0)
    _check_parts("parts_solution", parts_solution, least_open=True)
    _check_parts("parts_water", parts_water)
    _check_product(product)
    is_chlorine = product == HYPOCHLORITE
    undiluted = grams_per_litre(percent, strength_basis, weight, is_chlorine=is_chlorine)
    share = parts_solution / (parts_solution + parts_water)
    after = None
    if strength_basis == WEIGHT:
        by_weight = usual_density(percent) if weight is None else weight
        after = _percent_after(percent, by_weight, parts_solution, parts_water)
    grams = undiluted * share
    strong = after is not None and after >= PEROXIDE_EYE_PERCENT
    return SolutionStrength(
        strength=q(grams, GRAM_PER_L),
        mass_fraction=q(after, "percent"),
        warnings=_peroxide_warning(product, strong),
        cautions=_cautions(product),
        sources=(
            "Mass balance, volumes taken as additive, water 0.9982 g/mL at 20 degC.",
            *(("Trade percent x 10 = g/L of chlorine: 327 IAC 8-3.4-24.",) if is_chlorine else ()),
        ),
        working=(
            f"undiluted = {percent:g} percent {strength_basis} = {undiluted:.4g} g/L",
            f"strength = {undiluted:.4g} g/L x {share:.4g} = {grams:.4g} g/L",
        ),
    )


def _percent_after(percent: float, weight: float, solution: float, water: float) -> float:
    """Percent by mass after dilution."""
    return percent * weight * solution / (weight * solution + WATER_DENSITY * water)


def _check_parts(key: str, parts: float, *, least_open: bool = False) -> None:
    if not 0 <= parts <= 1000 or (least_open and parts == 0):
        start = "above 0" if least_open else "0"
        raise OutOfRange(key, f"must be {start} to 1000 parts, got {parts:g}")


def _check_product(product: str | None) -> None:
    if product is not None and product not in PRODUCTS:
        raise WrongInput("product", f"must be one of {', '.join(PRODUCTS)}")


def _peroxide_warning(product: str | None, strong: bool) -> tuple[str, ...]:
    if strong and product == PEROXIDE:
        limit = f"{PEROXIDE_EYE_PERCENT:g} percent by mass or more"
        return (f"{limit}: labelled as a danger to the eyes.",)
    return ()


def _cautions(product: str | None) -> tuple[str, ...]:
    return CAUTIONS + ((PEROXIDE_CAUTION,) if product in (None, PEROXIDE) else ())


class SolutionTopUp(Answer):
    method: ClassVar[str] = "top-up/1"

    product_volume: Quantity = result(GAL, "product to pour in")
    water_volume: Quantity = result(GAL, "water to add")
    strength: Quantity = result(GRAM_PER_L, "strength of the tank afterwards")
    final_volume: Quantity = result(GAL, "contents of the tank afterwards")


def solution_top_up(
    *,
    remaining_volume: Quantity,
    remaining_strength: Quantity,
    add_strength: Quantity,
    add_volume: Quantity | None = None,
    target_strength: Quantity | None = None,
    final_volume: Quantity | None = None,
    tank_volume: Quantity | None = None,
    product: str | None = None,
) -> SolutionTopUp:
    """Topping up a tank that still holds solution.

    V1 c1 + Vp cp = V c,  V = V1 + Vp + Vw.  Either Vp is given (no water added), or V and c.

    remaining_volume    V1, left in the tank              [gal]  0 to 1000
    remaining_strength  c1, of it, corrected for its age  [g/L]  0 to 1000
    add_strength        cp, of the product                [g/L]  above 0 to 1000
    add_volume          Vp, product poured in             [gal]  above 0 to 1000
    target_strength     c, wanted                         [g/L]  above 0 to 1000
    final_volume        V, wanted                         [gal]  above 0 to 1000
    tank_volume         the tank's volume, not exceeded   [gal]  above 0 to 1000
    product             peroxide, hypochlorite or permanganate, for the cautions
    returns             product_volume, water_volume, final_volume gal, strength g/L

    Raises MissingInput, WrongInput (both ways given), OutOfRange (target out of reach, tank too
    small). Source: mass balance, volumes taken as additive.
    """
    left = ranged("remaining_volume", remaining_volume, GAL, 0.0, LARGEST_TANK_GAL)
    weak = ranged("remaining_strength", remaining_strength, GRAM_PER_L, 0.0, STRONGEST_G_PER_L)
    strong = _positive_strength("add_strength", add_strength)
    _check_product(product)
    if add_volume is not None:
        if target_strength is not None or final_volume is not None:
            raise WrongInput("add_volume", "give it, or target_strength with final_volume")
        poured, water = _positive_volume("add_volume", add_volume), 0.0
    else:
        poured, water = _to_target(left, weak, strong, target_strength, final_volume)
    whole = left + poured + water
    if tank_volume is not None:
        tank = _positive_volume("tank_volume", tank_volume)
        if whole > tank * (1 + ROUNDING):
            key = "final_volume" if add_volume is None else "add_volume"
            raise OutOfRange(key, f"makes {whole:.4g} gal, the tank holds {tank:g} gal")
    grams = (left * weak + poured * strong) / whole
    return SolutionTopUp(
        product_volume=q(poured, GAL),
        water_volume=q(water, GAL),
        strength=q(grams, GRAM_PER_L),
        final_volume=q(whole, GAL),
        warnings=_peroxide_warning(product, grams >= PEROXIDE_EYE_G_PER_L)
        + (
            ("Strength changes: set the dosing pump anew.",)
            if abs(grams - weak) > 0.1 * weak
            else ()
        ),
        cautions=_cautions(product),
        sources=("Mass balance, volumes taken as additive.",),
        working=(
            f"strength = ({left:g} gal x {weak:g} g/L + {poured:.4g} gal x {strong:g} g/L)"
            f" / {whole:.4g} gal = {grams:.4g} g/L",
        ),
    )


def _positive_volume(key: str, value: Quantity) -> float:
    return ranged(key, value, GAL, 0.0, LARGEST_TANK_GAL, low_open=True)


def _positive_strength(key: str, value: Quantity) -> float:
    return ranged(key, value, GRAM_PER_L, 0.0, STRONGEST_G_PER_L, low_open=True)


def _to_target(
    left: float,
    weak: float,
    strong: float,
    target_strength: Quantity | None,
    final_volume: Quantity | None,
) -> tuple[float, float]:
    """Product and water, gal, for the wanted strength and volume."""
    if target_strength is None or final_volume is None:
        missing = "target_strength" if target_strength is None else "final_volume"
        raise MissingInput(missing, "is missing; or give add_volume")
    wanted = _positive_strength("target_strength", target_strength)
    whole = _positive_volume("final_volume", final_volume)
    if whole < left:
        raise OutOfRange("final_volume", f"must be at least the {left:g} gal left in the tank")
    poured = (wanted * whole - weak * left) / strong
    water = whole - left - poured
    if poured < -ROUNDING * whole:
        raise OutOfRange(
            "target_strength",
            f"cannot be reached: what is left already makes {weak * left / whole:.4g} g/L in"
            f" {whole:g} gal; wish for more volume or more strength",
        )
    if water < -ROUNDING * whole:
        reach = (weak * left + strong * (whole - left)) / whole
        raise OutOfRange("target_strength", f"cannot be reached: at most {reach:.4g} g/L")
    return max(poured, 0.0), max(water, 0.0)


register(
    Calculation(
        name="solution-strength",
        title="Strength of a feed solution from its label",
        function=solution_strength,
        answer=SolutionStrength,
        keys=(
            Key(
                name="mass_fraction",
                unit="percent",
                required=True,
                low=0,
                low_open=True,
                high=100,
                help="percent on the label, as strength_basis says",
            ),
            Key(
                name="density",
                unit="g/mL",
                low=0.8,
                high=2,
                help="of the undiluted solution; not needed for trade percent",
            ),
            Key(
                name="parts_solution",
                kind="number",
                low=0,
                low_open=True,
                high=1000,
                default="1",
                help="parts of solution by volume",
            ),
            Key(
                name="parts_water",
                kind="number",
                low=0,
                high=1000,
                default="0",
                help="parts of water by volume",
            ),
            Key(
                name="product",
                kind="choice",
                choices=PRODUCTS,
                help="for reading the label, and the cautions",
            ),
            Key(
                name="strength_basis",
                kind="choice",
                choices=BASES,
                default=WEIGHT,
                help="what the percent means; trade and available for hypochlorite",
            ),
        ),
    )
)
register(
    Calculation(
        name="solution-top-up",
        title="Topping up the solution tank",
        function=solution_top_up,
        answer=SolutionTopUp,
        keys=(
            Key(
                name="remaining_volume",
                unit=GAL,
                required=True,
                low=0,
                high=LARGEST_TANK_GAL,
                help="left in the tank",
            ),
            Key(
                name="remaining_strength",
                unit=GRAM_PER_L,
                required=True,
                low=0,
                high=STRONGEST_G_PER_L,
                help="of what is left, corrected for its age",
            ),
            Key(
                name="add_strength",
                unit=GRAM_PER_L,
                required=True,
                low=0,
                low_open=True,
                high=STRONGEST_G_PER_L,
                help="of the product poured in",
            ),
            Key(
                name="add_volume",
                unit=GAL,
                low=0,
                low_open=True,
                high=LARGEST_TANK_GAL,
                help="product poured in; or target_strength and final_volume",
            ),
            Key(
                name="target_strength",
                unit=GRAM_PER_L,
                low=0,
                low_open=True,
                high=STRONGEST_G_PER_L,
                help="wanted in the tank afterwards",
            ),
            Key(
                name="final_volume",
                unit=GAL,
                low=0,
                low_open=True,
                high=LARGEST_TANK_GAL,
                help="wanted in the tank afterwards",
            ),
            Key(
                name="tank_volume",
                unit=GAL,
                low=0,
                low_open=True,
                high=LARGEST_TANK_GAL,
                help="what the tank holds",
            ),
            Key(name="product", kind="choice", choices=PRODUCTS, help="for the cautions"),
        ),
    )
)
