"""Water standing in a well: volume of casing and bore.

Contents: well_volume, column_volume.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput
from equipment.engineering.factors import cylinder_gal
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, magnitude

INCH = "in"
FOOT = "ft"
GAL = "gal"
LARGEST_DIAMETER_IN = 144.0
WIDE_DIAMETER_IN = 60.0
DEEPEST_FT = 5000.0
UNKNOWN = "unknown"

SOURCES = (
    "Volume of a cylinder; US gallon of 231 cubic inches (NIST Handbook 44, appendix C).",
    "The diameter counts as the inside diameter, also where it is the nominal size, as the casing"
    " tables do; a measured inside diameter is closer.",
    "Casing tables compared: MIL-HDBK-1164 table 1; 327 IAC 8-3.4-24; 77 Ill. Adm. Code 925.50.",
)
CASING_KEYS = (
    Key(
        name="casing_diameter",
        unit=INCH,
        low=1,
        high=LARGEST_DIAMETER_IN,
        help="inside diameter of the casing, or the nominal size",
    ),
    Key(
        name="water_column",
        unit=FOOT,
        low=0,
        low_open=True,
        high=DEEPEST_FT,
        help="height of water in that diameter; or give total_depth and static_level",
    ),
    Key(
        name="total_depth",
        unit=FOOT,
        low=0,
        low_open=True,
        high=DEEPEST_FT,
        help="depth of the well from the same mark as static_level",
    ),
    Key(
        name="static_level",
        unit=FOOT,
        words=(UNKNOWN,),
        low=0,
        high=DEEPEST_FT,
        help="depth to standing water, or unknown (full depth is taken, errs high)",
    ),
    Key(
        name="casing_2_diameter",
        unit=INCH,
        low=1,
        high=LARGEST_DIAMETER_IN,
        help="inside diameter of a second section (liner or open bore)",
    ),
    Key(
        name="casing_2_column",
        unit=FOOT,
        low=0,
        low_open=True,
        high=DEEPEST_FT,
        help="height of water in the second section; part of the whole when depths are given",
    ),
)


@dataclass(frozen=True)
class Column:
    """Plain figures of the water in a well: feet, gallons."""

    feet: float
    gallons: float
    gallons_per_foot: float
    static_known: bool
    working: tuple[str, ...]
    warnings: tuple[str, ...]


class WellVolume(Answer):
    method: ClassVar[str] = "well-volume/1"

    volume: Quantity = result("gal", "water standing in the well")
    volume_per_length: Quantity = result("gal/ft", "water per foot of the first diameter")
    water_column: Quantity = result("ft", "height of water counted, both sections")
    static_known: bool | None = result("", "false when the full depth had to be taken")


def well_volume(
    *,
    casing_diameter: Quantity | None = None,
    water_column: Quantity | None = None,
    total_depth: Quantity | None = None,
    static_level: Quantity | str | None = None,
    casing_2_diameter: Quantity | None = None,
    casing_2_column: Quantity | None = None,
) -> WellVolume:
    """Water standing in a well.

    V = (pi / 4) d^2 h,  with h = D - s

    casing_diameter    d, inside diameter          [in]  1 to 144 (above 60 a warning)
    water_column       h, height of water          [ft]  above 0 to 5000
    total_depth        D, depth of the well        [ft]  above 0 to 5000, with static_level
    static_level       s, depth to water           [ft]  0 to below D, or "unknown" (s = 0)
    casing_2_diameter  diameter of second section  [in]  1 to 144, with casing_2_column
    casing_2_column    water in second section     [ft]  above 0; beside water_column it is added,
                       with depths it is part of D - s
    returns            volume gal, volume_per_length gal/ft, water_column ft, static_known

    Raises MissingInput without a diameter or a height, OutOfRange when no water is left (depth
    and level measured from one mark), WrongInput when the height is given in both ways.
    Source: geometry; 231 cubic inches per US gallon, NIST Handbook 44 appendix C. The full
    depth for an unknown level is what county sheets do and errs high (common practice).
    """
    column = column_volume(
        casing_diameter, water_column, total_depth, static_level, casing_2_diameter, casing_2_column
    )
    return WellVolume(
        volume=q(column.gallons, GAL),
        volume_per_length=q(column.gallons_per_foot, "gal/ft"),
        water_column=q(column.feet, FOOT),
        static_known=column.static_known,
        warnings=column.warnings,
        sources=SOURCES,
        working=column.working,
    )


def column_volume(
    casing_diameter: Quantity | None,
    water_column: Quantity | None,
    total_depth: Quantity | None,
    static_level: Quantity | str | None,
    casing_2_diameter: Quantity | None,
    casing_2_column: Quantity | None,
) -> Column:
    """The same as plain figures, for calculations that start from a well."""
    diameter = _diameter("casing_diameter", casing_diameter)
    second = _second_section(casing_2_diameter, casing_2_column)
    if water_column is not None:
        first_feet, known = _given_column(water_column, total_depth, static_level), True
    else:
        whole, known = _column_from_depths(total_depth, static_level)
        first_feet = whole - second[1]
        if first_feet < 0:
            raise OutOfRange(
                "casing_2_column", f"must be at most the whole water column, {whole:g} ft"
            )
    per_foot = cylinder_gal(diameter, 1)
    gallons = per_foot * first_feet + cylinder_gal(second[0], second[1])
    working = [
        f"per foot = pi/4 x ({diameter:g} in)^2 x 12 / 231 = {per_foot:.4f} gal/ft",
        f"volume = {per_foot:.4f} gal/ft x {first_feet:g} ft"
        + (f" + second section {second[1]:g} ft of {second[0]:g} in" if second[1] else "")
        + f" = {gallons:.4g} gal",
    ]
    return Column(
        feet=first_feet + second[1],
        gallons=gallons,
        gallons_per_foot=per_foot,
        static_known=known,
        working=tuple(working),
        warnings=_warnings(max(diameter, second[0]), known),
    )


def _diameter(key: str, value: Quantity | None) -> float:
    if value is None:
        raise MissingInput(key, "is missing; inside diameter of the casing, such as 6 in")
    inches = magnitude(key, value, INCH)
    if not 1 <= inches <= LARGEST_DIAMETER_IN:
        raise OutOfRange(key, f"must be 1 to {LARGEST_DIAMETER_IN:g} in, got {inches:g} in")
    return inches


def _feet(key: str, value: Quantity) -> float:
    feet = magnitude(key, value, FOOT)
    if not 0 < feet <= DEEPEST_FT:
        raise OutOfRange(key, f"must be above 0 and at most {DEEPEST_FT:g} ft, got {feet:g} ft")
    return feet


def _second_section(diameter: Quantity | None, column: Quantity | None) -> tuple[float, float]:
    """Inches and feet of the second section, zeros when there is none."""
    if diameter is None and column is None:
        return 0.0, 0.0
    if column is None:
        raise MissingInput("casing_2_column", "is missing; height of water in the second section")
    return _diameter("casing_2_diameter", diameter), _feet("casing_2_column", column)


def _given_column(
    water_column: Quantity, total_depth: Quantity | None, static_level: Quantity | str | None
) -> float:
    if total_depth is not None or static_level is not None:
        raise WrongInput("water_column", "give it alone, or total_depth with static_level")
    return _feet("water_column", water_column)


def _column_from_depths(
    total_depth: Quantity | None, static_level: Quantity | str | None
) -> tuple[float, bool]:
    if total_depth is None:
        raise MissingInput("water_column", "is missing; or give total_depth and static_level")
    depth = _feet("total_depth", total_depth)
    if static_level is None:
        raise MissingInput("static_level", "is missing; depth to water, or unknown")
    if isinstance(static_level, str):
        if static_level != UNKNOWN:
            raise WrongInput("static_level", "must be a depth such as 60 ft, or unknown")
        return depth, False
    static = magnitude("static_level", static_level, FOOT)
    if not 0 <= static < depth:
        raise OutOfRange(
            "static_level",
            f"must be 0 ft or more and above the bottom at {depth:g} ft, got {static:g} ft",
        )
    return depth - static, True


def _warnings(widest: float, known: bool) -> tuple[str, ...]:
    warnings = []
    if not known:
        warnings.append("Static level unknown: the full depth is taken, the volume errs high.")
    if widest > WIDE_DIAMETER_IN:
        warnings.append(f"Wider than {WIDE_DIAMETER_IN:g} in: check that the well is round.")
    return tuple(warnings)


register(
    Calculation(
        name="well-volume",
        title="Water standing in the well",
        function=well_volume,
        answer=WellVolume,
        keys=(replace(CASING_KEYS[0], required=True), *CASING_KEYS[1:]),
    )
)
