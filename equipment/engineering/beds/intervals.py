"""Days between the washes of a filter.

Contents: filter_interval.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import MG_PER_L_PER_GPG, circle_ft2
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .media import MEDIA, PRACTICE, medium
from .vessel import DIAMETER

#: mg/L in a grain per gallon: 64.79891 mg / 3.785412 L
#: sulfur in hydrogen sulfide: 32.06 / 34.08
SULFUR_SHARE = 0.9407
#: grains per square foot, low end of 500 to 1000 (PRACTICE)
LOADING_LIMIT = 500.0
#: longest run when no medium is named (PRACTICE)
MAXIMUM_DAYS = 7.0
SHORTEST_DAYS = 1.0
LOADING, DAYS_CAP, TOO_SMALL = "loading", "maximum days", "bed too small"
H2S, SULFUR = "h2s", "s"

IRON = Key(name="iron", unit="mg/L", required=True, low=0, high=100, help="total iron, raw")
MANGANESE = Key(
    name="manganese", unit="mg/L", low=0, high=50, default="0 mg/L", help="total manganese, raw"
)
SULFIDE = Key(
    name="sulfide",
    unit="mg/L",
    low=0,
    high=100,
    default="0 mg/L",
    help="sulfide, raw; it ends as sulfur on the bed",
)
SULFIDE_AS = Key(
    name="sulfide_as",
    kind="choice",
    choices=(H2S, SULFUR),
    default=H2S,
    help="what the sulfide figure is stated as",
)
DAILY_USE = Key(
    name="daily_use",
    unit="gal",
    required=True,
    low=1,
    high=20000,
    help="water through this filter in a day",
)
LOADING_KEY = Key(
    name="loading_limit",
    unit="grain/ft2",
    low=50,
    high=5000,
    help="solids the bed holds; 500 when not given",
)
MEDIA_SLUG = Key(
    name="media", kind="choice", choices=tuple(MEDIA), help="medium, for its longest run"
)
MAXIMUM = Key(
    name="maximum_days",
    unit="day",
    low=1,
    high=60,
    help="longest run of the company, in place of the medium's",
)


class FilterInterval(Answer):
    method: ClassVar[str] = "interval/2"

    load_per_day: Quantity = result("grain", "solids a day: iron, manganese and sulfur")
    days: Quantity | None = result("day", "between backwashes; none where the bed is too small")
    limited_by: str = result("", "loading, maximum days, or bed too small")
    gallons_between: Quantity | None = result("gal", "water through the filter between backwashes")
    area_needed: Quantity | None = result("ft2", "bed area that holds a day's load")


def filter_interval(
    *,
    diameter: Quantity,
    iron: Quantity,
    daily_use: Quantity,
    manganese: Quantity | None = None,
    sulfide: Quantity | None = None,
    sulfide_as: str = H2S,
    loading_limit: Quantity | None = None,
    media: str | None = None,
    maximum_days: Quantity | None = None,
) -> FilterInterval:
    """Days between washes by solids, with the longest run of the medium.

    L = V (Fe + Mn + S) / 17.118;  days = min(limit A / L, maximum); where that is below 1 no
    setting is offered: a daily wash is too late, area needed = L / limit

    diameter        of one vessel                     [length]         4 to 72 in
    iron            Fe, total                         [concentration]  0 to 100 mg/L
    manganese       Mn, total                         [concentration]  0 to 50 mg/L
    sulfide         as H2S, or as S by sulfide_as     [concentration]  0 to 100 mg/L
    daily_use       V, through this vessel            [volume]         1 to 20000 gal
    loading_limit   default 500 (PRACTICE: 500 to 1000)  [mass by area]  50 to 5000 grain/ft2
    media           slug, for its longest run         text
    maximum_days    default 7 without a medium        [time]           1 to 60 day
    returns         load grain/day, days, gallons_between gal, area_needed ft2

    Raises OutOfRange outside those limits. Source: unit conversion; limits and longest runs are
    common practice, no source: a bed left longer packs, channels and grows slime.
    """
    area = circle_ft2(DIAMETER.amount(diameter))
    gallons = DAILY_USE.amount(daily_use)
    material = None if media is None else medium("media", media)
    if sulfide_as not in SULFIDE_AS.choices:
        raise WrongInput("sulfide_as", f"{sulfide_as[:30]!r} is not one of {H2S}, {SULFUR}")
    sulfur = (SULFIDE.optional(sulfide) or 0.0) * (SULFUR_SHARE if sulfide_as == H2S else 1.0)
    solids = IRON.amount(iron) + (MANGANESE.optional(manganese) or 0.0) + sulfur
    load = gallons * solids / MG_PER_L_PER_GPG
    limit = LOADING_KEY.optional(loading_limit)
    limit = limit or (material.loading_limit if material else LOADING_LIMIT)
    longest = MAXIMUM.optional(maximum_days)
    longest = longest or (material.maximum_days if material else MAXIMUM_DAYS)
    by_load = limit * area / load if load > 0 else None
    days, why = _run(by_load, longest)
    return FilterInterval(
        load_per_day=q(load, "grain"),
        days=q(days, "day"),
        limited_by=why,
        gallons_between=q(None if days is None else days * gallons, "gal"),
        area_needed=q(load / limit if days is None else None, "ft2"),
        warnings=_warnings(by_load, load / limit),
        sources=(f"Loading limit and longest run: {PRACTICE.lower()}.",),
        working=(
            f"load = {gallons:g} gal x {solids:.3g} mg/L / 17.118 = {load:.3g} grain a day",
            "days = limit x area / load = "
            + (f"{limit:g} x {area:.4g} / {load:.3g} = {by_load:.1f}" if by_load else "no load")
            + (f", at most {longest:g}: {days:.1f}" if days else ", below 1: no setting"),
        ),
    )


def _run(by_load: float | None, longest: float) -> tuple[float | None, str]:
    if by_load is None or by_load > longest:
        return longest, DAYS_CAP
    if by_load < SHORTEST_DAYS:
        return None, TOO_SMALL
    return by_load, LOADING


def _warnings(by_load: float | None, area: float) -> tuple[str, ...]:
    if by_load is None or by_load >= SHORTEST_DAYS:
        return ()
    return (
        f"Bed too small: it is full after {by_load * 24:.0f} h, and a daily backwash is too "
        "late. It"
        f" takes {area:.2g} ft2 of bed, or more removed ahead of it.",
    )


register(
    Calculation(
        name="filter-interval",
        title="Days between backwashes",
        function=filter_interval,
        answer=FilterInterval,
        keys=(
            DIAMETER,
            IRON,
            MANGANESE,
            SULFIDE,
            SULFIDE_AS,
            DAILY_USE,
            LOADING_KEY,
            MEDIA_SLUG,
            MAXIMUM,
        ),
    )
)
