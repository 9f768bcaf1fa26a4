"""Filter media: wash rates, service limits, interval caps, and the grain used for temperature.

Contents: Medium, MEDIA, medium. The company's own figures take the place of these by the keys of
each calculation (rate, loading_limit, maximum_days). Rates hold for the bed area. A source was
read (SEEN) unless it says "from memory"; PRACTICE is common practice without a source.
"""

from __future__ import annotations

from dataclasses import dataclass

from equipment.engineering.errors import WrongInput

VIRGINIA = "Virginia 12VAC5-590-900 E, F"
WISCONSIN = "Wisconsin NR 811.52(3)(d)"
WISCONSIN_SAND = "Wisconsin NR 811.49(1)(i)8"
OKLAHOMA = "Oklahoma OAC 252:626-9-7"
DAVIS = "Davis, Water and Wastewater Engineering, McGraw-Hill, Table 11-10"
HENDRICKS = "Hendricks, Water Treatment Unit Processes, CRC, Ex. 12.9"
TEN_STATES = "Ten States Standards, part 4, from memory"
NOONAN = "Noonan & Curtis 1990, in Environmental Engineers' Handbook s.9.17"
PRACTICE = "Common practice, no source"


@dataclass(frozen=True, kw_only=True)
class Grain:
    """A grain size and density for the change of the wash rate with temperature.

    Only ratios are taken from it. The sand is that of Hendricks Ex. 12.9; the others are assumed
    (PRACTICE), which moves the factor by about 0.03 at most between 5 and 25 degC.
    """

    diameter_mm: float
    specific_gravity: float
    porosity: float
    #: expansion the rate aims at, as a share of the bed depth
    expansion: float


@dataclass(frozen=True, kw_only=True)
class Medium:
    """One medium of the table; None means that no figure is known."""

    title: str
    #: backwash rate, gpm/ft2 at the reference temperature
    rate: tuple[float, float]
    rate_source: str
    grain: Grain
    #: days between washes, longest; PRACTICE
    maximum_days: float
    #: grains of solids a square foot holds; PRACTICE
    loading_limit: float = 500.0
    #: room above the bed for the wash, share of the bed depth; PRACTICE
    freeboard: float = 0.5
    #: highest service rate gpm/ft2 and where it comes from
    service_rate: float | None = None
    service_source: str = PRACTICE
    #: shortest empty-bed contact time, min; PRACTICE
    contact: float | None = None


SAND_GRAIN = Grain(diameter_mm=0.736, specific_gravity=2.655, porosity=0.407, expansion=0.3)
CARBON_GRAIN = Grain(diameter_mm=1.1, specific_gravity=1.40, porosity=0.50, expansion=0.3)

MEDIA: dict[str, Medium] = {
    "cation-resin": Medium(
        title="Softener resin",
        rate=(6, 8),
        rate_source=VIRGINIA,
        maximum_days=14,
        grain=Grain(diameter_mm=0.7, specific_gravity=1.28, porosity=0.38, expansion=0.5),
        service_rate=7,
        service_source=VIRGINIA,
    ),
    "greensand": Medium(
        title="Manganese greensand",
        rate=(8, 10),
        rate_source=f"{WISCONSIN}; {OKLAHOMA}",
        grain=Grain(diameter_mm=0.35, specific_gravity=2.5, porosity=0.45, expansion=0.4),
        maximum_days=7,
        service_rate=3,
        service_source=OKLAHOMA,
    ),
    "manganese-coated": Medium(
        title="Manganese-coated media",
        rate=(15, 20),
        rate_source=WISCONSIN,
        grain=SAND_GRAIN,
        maximum_days=3,
    ),
    "manganese-ore": Medium(
        title="Manganese dioxide ore (pyrolusite)",
        rate=(25, 30),
        rate_source=PRACTICE,
        grain=Grain(diameter_mm=0.6, specific_gravity=3.8, porosity=0.48, expansion=0.3),
        maximum_days=3,
        freeboard=0.4,
    ),
    "light-manganese": Medium(
        title="Light manganese-coated catalytic medium",
        rate=(10, 12),
        rate_source=PRACTICE,
        grain=Grain(diameter_mm=0.6, specific_gravity=2.0, porosity=0.50, expansion=0.4),
        maximum_days=3,
    ),
    "calcite": Medium(
        title="Calcite, backwashed downflow",
        rate=(8, 12),
        rate_source=PRACTICE,
        grain=Grain(diameter_mm=1.0, specific_gravity=2.7, porosity=0.45, expansion=0.3),
        maximum_days=7,
        service_rate=5,
    ),
    "carbon": Medium(
        title="Granular carbon 12x40",
        rate=(8, 12),
        rate_source=PRACTICE,
        grain=CARBON_GRAIN,
        maximum_days=7,
        service_rate=7,
        service_source=NOONAN,
        contact=2,
    ),
    "catalytic-carbon": Medium(
        title="Catalytic carbon 12x40",
        rate=(10, 12),
        rate_source=PRACTICE,
        grain=CARBON_GRAIN,
        maximum_days=7,
        service_rate=7,
        service_source=NOONAN,
        contact=3,
    ),
    "anthracite": Medium(
        title="Anthracite",
        rate=(10, 15),
        rate_source=TEN_STATES,
        grain=Grain(diameter_mm=1.3, specific_gravity=1.65, porosity=0.50, expansion=0.3),
        maximum_days=7,
    ),
    "sand": Medium(
        title="Sand or sediment medium",
        rate=(15, 15),
        rate_source=WISCONSIN_SAND,
        grain=SAND_GRAIN,
        maximum_days=7,
    ),
    "multi-media": Medium(
        title="Coal, sand and garnet in layers",
        rate=(15.1, 18.4),
        rate_source=DAVIS,
        grain=SAND_GRAIN,
        maximum_days=7,
    ),
}


def medium(key: str, slug: str) -> Medium:
    """The medium of a slug, or a refusal that names the known ones."""
    if slug not in MEDIA:
        raise WrongInput(key, f"{slug[:30]!r} is not one of {', '.join(MEDIA)}")
    return MEDIA[slug]
