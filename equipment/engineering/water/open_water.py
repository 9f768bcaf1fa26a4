"""Water standing in a spring box or a cistern: straight walls, or round.

Contents: open_water.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import MissingInput, WrongInput
from equipment.engineering.factors import GALLONS_PER_FT3, INCHES_PER_FOOT, cylinder_gal
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

LONGEST_FT = 200.0

LENGTH = Key(
    name="length", unit="ft", low=0, low_open=True, high=LONGEST_FT, help="inside, with width"
)
WIDTH = Key(
    name="width", unit="ft", low=0, low_open=True, high=LONGEST_FT, help="inside, with length"
)
DIAMETER = Key(
    name="diameter",
    unit="ft",
    low=0,
    low_open=True,
    high=LONGEST_FT,
    help="inside, of a round one, instead of length and width",
)
DEPTH = Key(
    name="depth",
    unit="ft",
    required=True,
    low=0,
    low_open=True,
    high=100,
    help="of the water, not of the box",
)


class OpenWater(Answer):
    method: ClassVar[str] = "open-water/1"

    volume: Quantity = result("gal", "water standing in it")
    volume_per_length: Quantity = result("gal/ft", "water in each foot of depth")


def open_water(
    *,
    depth: Quantity,
    length: Quantity | None = None,
    width: Quantity | None = None,
    diameter: Quantity | None = None,
) -> OpenWater:
    """Water standing in a spring box or a cistern with upright walls.

    V = l w h, or (pi / 4) d^2 h

    depth      h, of the water             [length]  above 0, at most 100 ft
    length     l, with width w, inside     [length]  above 0, at most 200 ft
    diameter   d, of a round one, inside   [length]  above 0, at most 200 ft
    returns    volume gal, volume_per_length gal/ft

    Raises MissingInput with neither shape, WrongInput with both, OutOfRange outside those limits.
    Source: geometry; 231 cubic inches per US gallon, NIST Handbook 44 appendix C.
    """
    feet = DEPTH.amount(depth)
    sides = LENGTH.optional(length), WIDTH.optional(width)
    across = DIAMETER.optional(diameter)
    if across is not None and any(side is not None for side in sides):
        raise WrongInput("diameter", "give it for a round one, or length and width")
    if across is not None:
        per_foot, said = cylinder_gal(across * INCHES_PER_FOOT, 1), f"pi/4 x ({across:g} ft)^2"
    else:
        per_foot, said = _box(*sides)
    return OpenWater(
        volume=q(per_foot * feet, "gal"),
        volume_per_length=q(per_foot, "gal/ft"),
        sources=("Geometry; US gallon of 231 cubic inches (NIST Handbook 44, appendix C).",),
        working=(
            f"each foot = {said} x 7.4805 gal/ft3 = {per_foot:.4g} gal",
            f"volume = {per_foot:.4g} gal/ft x {feet:g} ft = {per_foot * feet:.4g} gal",
        ),
    )


def _box(length: float | None, width: float | None) -> tuple[float, str]:
    if length is None:
        raise MissingInput("length", "is missing; give length and width, or the diameter")
    if width is None:
        raise MissingInput("width", "is missing; give length and width, or the diameter")
    return length * width * GALLONS_PER_FT3, f"{length:g} ft x {width:g} ft"


register(
    Calculation(
        name="open-water",
        title="Water standing in a spring box or cistern",
        function=open_water,
        answer=OpenWater,
        keys=(LENGTH, WIDTH, DIAMETER, DEPTH),
    )
)
