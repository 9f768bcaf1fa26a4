"""Density, viscosity and oxygen saturation."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import compute

FEW = settings(max_examples=30, derandomize=True, deadline=None)


def oxygen(**inputs):
    return compute("oxygen-saturation", **inputs)[1].saturation.m_as("mg/L")


@pytest.mark.parametrize(
    ("name", "inputs", "key"),
    [
        ("water-properties", {"temperature": "61 degC"}, "temperature"),
        ("water-properties", {"temperature": "-0.1 degC"}, "temperature"),
        ("water-properties", {"temperature": "20"}, "temperature"),
        ("water-properties", {"temperature": "20 psi"}, "temperature"),
        ("oxygen-saturation", {"temperature": "41 degC"}, "temperature"),
        ("oxygen-saturation", {"temperature": "9 degC", "pressure": "2 atm"}, "pressure"),
        ("oxygen-saturation", {"temperature": "9 degC", "altitude": "20000 ft"}, "altitude"),
        ("oxygen-saturation", {"temperature": "9 degC", "salinity": "41"}, "salinity"),
        ("oxygen-saturation", {"temperature": "9 degC", "salinity": "1 percent"}, "salinity"),
        (
            "oxygen-saturation",
            {"temperature": "9 degC", "altitude": "100 ft", "pressure": "1 atm"},
            "pressure",
        ),
    ],
)
def test_refuses_and_names_the_key(name, inputs, key):
    with pytest.raises(EngineeringError) as refused:
        compute(name, **inputs)
    assert refused.value.key == key


@FEW
@given(st.floats(0, 59))
def test_viscosity_falls_with_warmth_and_ignores_the_unit(celsius):
    def viscosity(text):
        return compute("water-properties", temperature=text)[1].viscosity.m_as("mPa*s")

    plain = viscosity(f"{celsius!r} degC")
    assert viscosity(f"{celsius * 9 / 5 + 32!r} F") == pytest.approx(plain, rel=1e-9)
    assert viscosity(f"{celsius + 1!r} degC") < plain


def test_water_is_heaviest_near_4_degrees():
    # maximum density at 3.98 degC, 999.97 kg/m3 (any handbook)
    def density(celsius):
        return compute("water-properties", temperature=f"{celsius} C")[1].density.m_as("kg/m**3")

    assert max((0, 2, 3, 3.98, 5, 6, 10), key=density) == 3.98
    assert density(3.98) == pytest.approx(999.97, abs=0.01)


@FEW
@given(st.floats(0, 39), st.floats(0, 7000))
def test_oxygen_falls_with_warmth_altitude_and_salt(celsius, feet):
    here = {"temperature": f"{celsius!r} degC", "altitude": f"{feet!r} ft"}
    plain = oxygen(**here)
    assert oxygen(temperature=f"{celsius + 1!r} degC", altitude=f"{feet!r} ft") < plain
    assert oxygen(temperature=here["temperature"], altitude=f"{feet + 500!r} ft") < plain
    assert oxygen(**here, salinity="5") < plain
    assert oxygen(temperature=here["temperature"], altitude=f"{feet * 0.3048!r} m") == (
        pytest.approx(plain, rel=1e-9)
    )


def test_no_altitude_is_sea_level():
    assert oxygen(temperature="10 C") == oxygen(temperature="10 C", altitude="0 ft")
    assert oxygen(temperature="10 C") == pytest.approx(
        oxygen(temperature="10 C", pressure="760 mmHg"), abs=1e-4
    )
