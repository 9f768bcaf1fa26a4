"""Which unit a person reads and types: US customary or metric."""

from __future__ import annotations

from .units import UNITS, unit

#: US unit of a calculation -> what metric people use
METRIC_OF = {
    "gpm": "L/min",
    "gpd": "L/h",
    "gal": "L",
    "fl oz": "mL",
    "oz": "g",
    "lb": "kg",
    "lb/day": "g/day",
    "lb/year": "kg/year",
    "ft": "m",
    "in": "mm",
    "ft2": "m2",
    "ft3": "L",
    "psi": "kPa",
    "ft/s": "m/s",
    "gpm/ft2": "m/h",
    "gal/ft": "L/m",
}
#: units offered beside a box, by canonical unit, where plain kinship would offer too many
OFFERED = {
    "gpm": ("gpm", "L/min", "m3/h", "gpd"),
    "gpd": ("gpd", "mL/min", "L/h", "gal/h"),
    "gal": ("gal", "L", "mL", "m3", "fl oz", "ft3"),
    "ft3": ("ft3", "L", "m3"),
    "mL": ("mL", "L", "fl oz"),
    "mg/L": ("mg/L", "g/L", "gpg"),
    "gpg": ("gpg", "mg/L"),
    "g/L": ("g/L", "mg/L", "mg/mL"),
    "s": ("s", "min", "h"),
    "min": ("min", "s", "h"),
    "h": ("h", "min", "day"),
    "day": ("day", "h"),
    "psi": ("psi", "kPa", "bar"),
    "atm": ("atm", "mbar", "mmHg", "kPa"),
    "in": ("in", "mm", "cm", "ft"),
    "ft": ("ft", "m", "in"),
    "mm": ("mm", "in"),
    "degC": ("degC", "degF"),
    "lb": ("lb", "kg", "g", "oz"),
    "oz": ("oz", "g", "lb"),
    "gpm/ft2": ("gpm/ft2", "m/h"),
    "m/h": ("m/h", "gpm/ft2"),
    "lb/ft3": ("lb/ft3", "kg/m3"),
    "grain/ft2": ("grain/ft2",),
    "percent": ("percent",),
}


def unit_for(canonical: str, system: str) -> str:
    """The unit a person of that system reads a figure in."""
    return METRIC_OF.get(canonical, canonical) if system == "metric" else canonical


def offered(canonical: str, system: str = "us", others: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Units to choose from beside a box, the person's own first."""
    if not canonical:
        return ()
    kin = OFFERED.get(canonical) or tuple(
        name
        for name in UNITS
        if unit(name).dimensionality == unit(canonical).dimensionality and name != "percent"
    )
    own = unit_for(canonical, system)
    return tuple(dict.fromkeys((own, *kin, *others)))
