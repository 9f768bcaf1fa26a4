"""Unit factors and pi: each is what the unit registry says, and stands in the engineering alone."""

import ast
import math
from pathlib import Path

import pytest

from equipment.engineering import factors
from equipment.engineering.units import quantity

ROOT = Path(__file__).parents[3]
#: name -> the two units it stands between
BETWEEN = {
    "SECONDS_PER_MINUTE": ("min", "s"),
    "SECONDS_PER_HOUR": ("h", "s"),
    "MINUTES_PER_DAY": ("day", "min"),
    "DAYS_PER_YEAR": ("year", "day"),
    "INCHES_PER_FOOT": ("ft", "in"),
    "METRES_PER_INCH": ("in", "m"),
    "METRES_PER_FOOT": ("ft", "m"),
    "FLUID_OUNCES_PER_GALLON": ("gal", "fl oz"),
    "GALLONS_PER_FT3": ("ft3", "gal"),
    "LITRES_PER_GALLON": ("gal", "L"),
    "ML_PER_GALLON": ("gal", "mL"),
    "GRAMS_PER_POUND": ("lb", "g"),
    "GRAMS_PER_OUNCE": ("oz", "g"),
    "GRAMS_PER_KG": ("kg", "g"),
    "MG_PER_G": ("g", "mg"),
    "MG_PER_POUND": ("lb", "mg"),
    "GRAINS_PER_POUND": ("lb", "grain"),
    "MG_PER_L_PER_GPG": ("gpg", "mg/L"),
    "PSI_PER_ATM": ("atm", "psi"),
}
#: numbers with a home: the factors, and pi
HOMED = [math.pi, factors.cylinder_gal(1, 1)] + [
    value
    for name, value in vars(factors).items()
    if name.isupper() and value != int(value) and not name.startswith("DAYS")
]


@pytest.mark.parametrize(("name", "units"), BETWEEN.items())
def test_a_factor_is_what_the_registry_says(name, units):
    larger, smaller = units
    told = quantity(1, larger).m_as(quantity(1, smaller).units)
    assert getattr(factors, name) == pytest.approx(told, rel=1e-9)


def test_the_rest_follows_from_them():
    assert factors.DAYS_PER_MONTH == factors.DAYS_PER_YEAR / 12
    assert factors.DAYS_PER_WEEK == 7
    cubic_inch = factors.METRES_PER_INCH**3 * 1000
    assert factors.CUBIC_INCHES_PER_GALLON * cubic_inch == pytest.approx(factors.LITRES_PER_GALLON)
    assert pytest.approx(0.101325) == factors.MPA_PER_ATM  # exact by definition
    assert pytest.approx(factors.PASCALS_PER_ATM) == factors.PASCALS_PER_PSI * factors.PSI_PER_ATM


def test_a_foot_of_a_six_inch_casing_holds_a_gallon_and_a_half():
    """1.47 gal/ft: MIL-HDBK-1164, table 1."""
    assert factors.cylinder_gal(6, 1) == pytest.approx(1.47, abs=0.005)
    held = factors.circle_ft2(6) * factors.GALLONS_PER_FT3
    assert factors.cylinder_gal(6, 1) == pytest.approx(held)


def digits(value, count):
    """The first significant digits, whatever the power of ten."""
    return f"{abs(value):.{count - 1}e}".partition("e")[0].replace(".", "")


def is_homed(text):
    """A literal of three digits or more that is one of the factors, rounded or shifted."""
    bare = text.replace("_", "").lower().partition("e")[0].replace(".", "").strip("0")
    if len(bare) < 3:
        return False
    return any(digits(value, len(bare)) == bare for value in HOMED)


@pytest.mark.parametrize("text", ["3.14159", "7.48", "3785.41", "0.0408", "453.59", "14.7", "17.1"])
def test_a_factor_written_as_a_number_is_recognised(text):
    assert is_homed(text)


def test_no_factor_and_no_pi_stand_outside_the_engineering():
    found = []
    for folder in ("equipment", "jobs"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            if (
                path.is_relative_to(ROOT / "equipment" / "engineering")
                or "migrations" in path.parts
            ):
                continue
            text = path.read_text(encoding="utf-8")
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.Constant) and isinstance(node.value, float):
                    if is_homed(ast.get_source_segment(text, node)):
                        found.append(f"{path.relative_to(ROOT)}:{node.lineno}")
                elif isinstance(node, ast.Attribute) and node.attr in ("pi", "tau"):
                    found.append(f"{path.relative_to(ROOT)}:{node.lineno}")
    assert found == []
