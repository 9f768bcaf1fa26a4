"""The one unit registry, our own list of unit names, and the reading of typed quantities.

Pint reads "20 C" as coulomb and "4 fl oz" as femtolitre-ounces, so typed text never reaches
its parser: number and unit are split here and the unit is looked up in UNITS.

Pint defines and checks the units. It is asked once for each pair of them: what it answers is a
straight line, kept by `_line`, so that a conversion is a product and no search.
"""

from __future__ import annotations

import functools
import math
import re
from typing import TYPE_CHECKING, Any

import pint
from pint.util import UnitsContainer

from .definitions import definitions_of
from .errors import OutOfRange, WrongInput, WrongUnit

#: name as typed and printed -> the registry's expression
UNITS: dict[str, str] = {
    # flow
    "gpm": "gallon/minute",
    "gpd": "gallon/day",
    "gal/day": "gallon/day",
    "mL/min": "milliliter/minute",
    "L/min": "liter/minute",
    "L/h": "liter/hour",
    "L/s": "liter/second",
    "m3/h": "meter**3/hour",
    "m3/day": "meter**3/day",
    "gal/h": "gallon/hour",
    # strength and concentration
    "mg/L": "milligram/liter",
    "g/L": "gram/liter",
    "ug/L": "microgram/liter",
    "gpg": "grain/gallon",
    "mg/mL": "milligram/milliliter",
    "percent": "percent",
    # volume
    "gal": "gallon",
    "imperial gal": "imperial_gallon",
    "L": "liter",
    "mL": "milliliter",
    "m3": "meter**3",
    "ft3": "foot**3",
    "fl oz": "fluid_ounce",
    "cup": "cup",
    "pint": "pint",
    "qt": "quart",
    # mass
    "oz": "ounce",
    "lb": "pound",
    "kg": "kilogram",
    "g": "gram",
    "mg": "milligram",
    "grain": "grain",
    # length and area
    "ft": "foot",
    "in": "inch",
    "mm": "millimeter",
    "cm": "centimeter",
    "m": "meter",
    "ft2": "foot**2",
    "m2": "meter**2",
    "in2": "inch**2",
    # pressure
    "psi": "psi",
    "kPa": "kilopascal",
    "bar": "bar",
    "mbar": "millibar",
    "atm": "atmosphere",
    "mmHg": "mmHg",
    # temperature
    "degC": "degC",
    "C": "degC",
    "degF": "degF",
    "F": "degF",
    # time
    "s": "second",
    "min": "minute",
    "h": "hour",
    "day": "day",
    "year": "year",
    # rates and loadings
    "lb/ft3": "pound/foot**3",
    "lb/gal": "pound/gallon",
    "g/mL": "gram/milliliter",
    "kg/m3": "kilogram/meter**3",
    "kg/L": "kilogram/liter",
    "gpm/ft2": "gallon/minute/foot**2",
    "gpm/ft3": "gallon/minute/foot**3",
    "m/h": "meter/hour",
    "ft/s": "foot/second",
    "m/s": "meter/second",
    "gal/ft": "gallon/foot",
    "L/m": "liter/meter",
    "mPa*s": "millipascal*second",
    "mm2/s": "millimeter**2/second",
    "mg*min/L": "milligram*minute/liter",
    "mg*h/L": "milligram*hour/liter",
    "grain/ft2": "grain/foot**2",
    "grain/lb": "grain/pound",
    "grain/ft3": "grain/foot**3",
    "lb/year": "pound/year",
    "kg/year": "kilogram/year",
    "lb/day": "pound/day",
    "g/day": "gram/day",
    "per day": "1/day",
}
#: spellings read as one of the above
SPELLINGS: dict[str, str] = {
    "%": "percent",
    "gallon": "gal",
    "gallons": "gal",
    "gal/min": "gpm",
    "gal/d": "gpd",
    "ml": "mL",
    "l": "L",
    "ml/min": "mL/min",
    "l/min": "L/min",
    "mg/l": "mg/L",
    "g/l": "g/L",
    "°C": "degC",
    "°F": "degF",
    "days": "day",
    "d": "day",
    "hours": "h",
    "hour": "h",
    "hr": "h",
    "minutes": "min",
    "minute": "min",
    "seconds": "s",
    "sec": "s",
    "feet": "ft",
    "foot": "ft",
    "inch": "in",
    "inches": "in",
    '"': "in",
    "floz": "fl oz",
    "fl. oz": "fl oz",
    "grains": "grain",
    "pints": "pint",
    "cups": "cup",
    "quart": "qt",
    "m³": "m3",
    "ft³": "ft3",
    "ft²": "ft2",
    "gpm/ft²": "gpm/ft2",
    "µg/L": "ug/L",
}
#: binary rounding of a conversion shows from the 15th digit on; nobody measures to the 12th
DIGITS = 12
ureg: pint.UnitRegistry[Any] = pint.UnitRegistry(None, autoconvert_offset_to_baseunit=True)
ureg.load_definitions(definitions_of(UNITS.values()))
pint.set_application_registry(ureg)
if TYPE_CHECKING:

    class Quantity(pint.Quantity[float]):
        """A number with its unit; the registry makes the class."""
else:
    Quantity = pint.Quantity
_OURS: Any = ureg.Quantity
_COMPILED: dict[str, pint.Unit] = {name: ureg.Unit(text) for name, text in UNITS.items()}
#: what pint keeps in a Quantity: the powers of the units, here one object for each of our names
_POWERS: dict[str, UnitsContainer] = {name: compiled._units for name, compiled in _COMPILED.items()}
_POWERS[""] = ureg.Unit("")._units
#: the first of our names for each unit
_NAMES: dict[UnitsContainer, str] = {}
for _name, _powers in _POWERS.items():
    _NAMES.setdefault(_powers, _name)
#: a unit in itself: nothing is converted, nothing rounded
_SAME = (1.0, 0.0)
#: a number far from nought, to read the slope of a line without the rounding of its offset
_FAR = 2.0**20
_NUMBER = r"[-+]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][-+]?[0-9]+)?"
_TYPED = re.compile(
    rf"\s*(?P<number>{_NUMBER}(?:[ -]\d+/\d+|/\d+)?)\s*(?P<unit>\D.*|)\s*$", re.S | re.A
)


def unit(name: str) -> pint.Unit:
    """The registry's unit of one of our names."""
    return _COMPILED[name]


def quantity(value: float, name: str) -> Quantity:
    """A number in one of our units, `name` empty for a bare number.

    What pint's constructor makes, without its looking through every kind of argument.
    """
    made: Quantity = object.__new__(_OURS)
    made._magnitude, made._units = value, _POWERS[name]
    return made


def entered_unit(value: Quantity) -> str:
    """Our name of the unit a Quantity carries, empty if it has none."""
    return _NAMES.get(value._units, "")


def fits(value: Quantity, name: str) -> bool:
    """Whether a Quantity has the dimension of one of our units."""
    return bool(value.dimensionality == _COMPILED[name].dimensionality)


def size_in(value: Quantity, name: str) -> float:
    """The number of a Quantity in one of our units, `name` empty for a bare number."""
    return _along(_line(value._units, name), value)


def _along(line: tuple[float, float], value: Quantity) -> float:
    return float(value.magnitude) * line[0] + line[1]


@functools.cache
def _line(given: UnitsContainer, name: str) -> tuple[float, float]:
    """Factor and offset between two units, as pint says; DimensionalityError if it refuses."""
    if given == _POWERS[name]:
        return _SAME
    offset = ureg.convert(0.0, given, _POWERS[name])
    if not offset:
        return ureg.convert(1.0, given, _POWERS[name]), 0.0
    return (ureg.convert(_FAR, given, _POWERS[name]) - offset) / _FAR, offset


def unit_name(key: str, text: str) -> str:
    """Our name of a typed unit; refuses ppm and whatever is not in the list."""
    name = " ".join(text.split())
    name = SPELLINGS.get(name, name)
    if name in UNITS:
        return name
    if name.lower() in ("ppm", "ppb"):
        raise WrongUnit(key, "ppm is not taken, say mg/L (and for strength say percent or g/L)")
    folded = {known.lower(): known for known in (*UNITS, *SPELLINGS)}
    guess = folded.get(name.lower())
    if guess:
        return SPELLINGS.get(guess, guess)
    raise WrongUnit(key, f"the unit {name[:30]!r} is not known")


def number(key: str, text: str) -> float:
    """A typed number: digits with a decimal point, or a fraction such as 3/4 or 1 1/2."""
    text = text.strip()
    if re.fullmatch(_NUMBER, text):
        value = float(text)
    elif part := re.fullmatch(r"(?:([0-9]+)[ -])?([0-9]+)/([0-9]+)", text):
        if int(part[3]) == 0:
            raise WrongInput(key, "a fraction cannot have 0 below the line")
        value = int(part[1] or 0) + int(part[2]) / int(part[3])
    else:
        raise WrongInput(key, f"{text[:30]!r} is not a number; use digits and a decimal point")
    if not math.isfinite(value):
        raise WrongInput(key, f"{text[:30]!r} is not a finite number")
    return value


def split_typed(key: str, text: str) -> tuple[float, str]:
    """Number and our unit name ("" when none was typed) of a typed quantity."""
    typed = _TYPED.match(text)
    if not typed:
        raise WrongInput(key, f"{text.strip()[:30]!r} is not a number with a unit, such as 8 gpm")
    name = typed["unit"].strip()
    return number(key, typed["number"]), unit_name(key, name) if name else ""


def read_quantity(key: str, text: str, canonical: str) -> Quantity:
    """A typed quantity as a Quantity; its dimension must be that of the canonical unit."""
    value, name = split_typed(key, text)
    if not name:
        raise WrongUnit(key, f"needs a unit, for example {value:g} {canonical}")
    asked, given = _COMPILED[canonical], _COMPILED[name]
    if asked.dimensionality != given.dimensionality or (canonical == "percent") != (
        name == "percent"
    ):
        raise WrongUnit(key, f"{name} does not fit, the unit is {canonical} or its kin")
    return quantity(value, name)


def magnitude(key: str, value: object, canonical: str) -> float:
    """Plain number in the canonical unit; the dimension check at the boundary of a function.

    A converted number keeps DIGITS digits, so that 25.4 mm is 1 in at every step of a table.
    """
    if not isinstance(value, Quantity):
        raise WrongUnit(key, f"needs a unit ({canonical})")
    try:
        line = _line(value._units, canonical)
        result = _along(line, value)
        if line is not _SAME:
            result = float(f"{result:.{DIGITS}g}")
    except pint.DimensionalityError:
        raise WrongUnit(
            key, f"{value.units:~} does not fit, the unit is {canonical} or its kin"
        ) from None
    if not math.isfinite(result):
        raise WrongInput(key, "is not a finite number")
    return result


def ranged(
    key: str, value: object, canonical: str, low: float, high: float, *, low_open: bool = False
) -> float:
    """Like magnitude, and refused outside low..high (low itself too, with low_open)."""
    size = magnitude(key, value, canonical)
    if not low <= size <= high or (low_open and size == low):
        start = f"above {low:g}" if low_open else f"{low:g}"
        raise OutOfRange(key, f"must be {start} to {high:g} {canonical}, got {size:g} {canonical}")
    return size
