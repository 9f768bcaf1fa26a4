"""Carbon dioxide, saturation index and neutralizer. Printed values: hydraulics.csv."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError, OutOfRange
from equipment.engineering.units import quantity
from equipment.engineering.water.balance import (
    carbon_dioxide,
    carbonic_pk1,
    neutralizer,
    saturation_index,
)

STEADY = settings(max_examples=30, deadline=None, derandomize=True)


def size(value, unit):
    return value.m_as(quantity(1, unit).units)


@pytest.mark.parametrize(
    ("celsius", "pk1"), [(5, 6.517), (10, 6.463), (15, 6.419), (20, 6.382), (25, 6.352)]
)
def test_first_constant_of_carbonic_acid(celsius, pk1):
    """Plummer & Busenberg 1982 (MEMORY)."""
    assert carbonic_pk1(celsius) == pytest.approx(pk1, abs=0.001)


@pytest.mark.parametrize(("celsius", "ph", "misprint"), [(10, 7.6, 0.64), (5, 7.8, 1.046)])
def test_misprints_of_the_carbon_dioxide_table_are_not_ours(celsius, ph, misprint):
    """A reprint of Tucker 1984 has 0.64 for 0.064 and 1.046 for 0.046: the neighbours show it."""
    ours = carbon_dioxide(
        ph=ph, alkalinity=quantity(1, "mg/L"), temperature=quantity(celsius, "degC")
    )
    meant = {0.64: 0.064, 1.046: 0.046}[misprint]
    assert size(ours.co2, "mg/L") == pytest.approx(meant, abs=0.001)


def index(**more):
    given_keys = {
        "ph": 7.5,
        "temperature": quantity(25, "degC"),
        "tds": quantity(320, "mg/L"),
        "calcium_hardness": quantity(150, "mg/L"),
        "alkalinity": quantity(34, "mg/L"),
        **more,
    }
    return saturation_index(**given_keys)


def test_index_is_ph_less_saturation_ph_and_rises_in_the_heater():
    cold, hot = index(), index(temperature=quantity(82, "degC"))
    assert cold.index == pytest.approx(7.5 - cold.saturation_ph)
    assert hot.index > cold.index


@pytest.mark.parametrize(
    ("more", "key"),
    [
        ({"ph": 3}, "ph"),
        ({"calcium_hardness": quantity(0, "mg/L")}, "calcium_hardness"),
        ({"alkalinity": 34}, "alkalinity"),
        ({"tds": quantity(20000, "mg/L")}, "tds"),
        ({"temperature": quantity(99, "degC")}, "temperature"),
    ],
)
def test_index_refusals_name_the_key(more, key):
    with pytest.raises(EngineeringError) as caught:
        index(**more)
    assert caught.value.key == key


def neutral(**more):
    given_keys = {
        "ph": 6.0,
        "alkalinity": quantity(50, "mg/L"),
        "temperature": quantity(10, "degC"),
        "daily_use": quantity(200, "gal"),
        **more,
    }
    return neutralizer(**given_keys)


def test_calcite_by_the_balance_of_mass():
    """CaCO3 100.09 takes CO2 44.01: at most 100.09 / 44.01 mg per mg; 8.3454 lb per 1e6 lb-gal."""
    ours = neutral()
    rise = size(ours.co2, "mg/L") * 100.09 / 44.01
    assert size(ours.hardness_rise, "mg/L") == pytest.approx(rise, rel=1e-3)
    assert size(ours.calcite_per_year, "lb") == pytest.approx(
        200 * 365.25 * 8.3454e-6 * rise, rel=1e-3
    )


def test_the_treated_ph_comes_out_again():
    """The water after the vessel, by its own alkalinity and carbon dioxide, has the pH given."""
    ours = neutral(treated_ph=7.4)
    rise = size(ours.hardness_rise, "mg/L")
    gas_left = size(ours.co2, "mg/L") - rise * 44.01 / 100.09
    after = carbon_dioxide(
        ph=7.4, alkalinity=quantity(50 + rise, "mg/L"), temperature=quantity(10, "degC")
    )
    assert size(after.co2, "mg/L") == pytest.approx(gas_left, rel=1e-3)


def test_the_rise_in_grains_is_the_rise_in_mg_per_litre():
    """1 grain is 64.79891 mg, 1 gal 3.785411784 L (both exact): 17.118 mg/L."""
    ours = neutral()
    assert size(ours.hardness_rise_gpg, "gpg") == pytest.approx(
        size(ours.hardness_rise, "mg/L") / (64.79891 / 3.785411784), rel=1e-4
    )


def test_without_the_treated_ph_it_errs_high_and_says_so():
    assert neutral().hardness_rise > neutral(treated_ph=7.4).hardness_rise
    assert any("treated pH" in line for line in neutral().warnings)


def test_low_and_high_raw_ph_are_said():
    assert any("magnesia" in line for line in neutral(ph=5.8).warnings)
    assert any("next to nothing" in line for line in neutral(ph=7.6).warnings)


def test_neutralizer_refusals_name_the_key():
    with pytest.raises(OutOfRange, match="treated_ph: must be above ph"):
        neutral(ph=7.0, treated_ph=6.9)
    with pytest.raises(OutOfRange, match="ph"):
        neutral(ph=4.0)
    with pytest.raises(OutOfRange, match="daily_use"):
        neutral(daily_use=quantity(0, "gal"))


@STEADY
@given(st.floats(4.5, 8.5), st.floats(4.5, 8.5))
def test_lower_ph_holds_more_gas(one, other):
    low, high = sorted((one, other))
    acid, mild = (
        carbon_dioxide(ph=ph, alkalinity=quantity(100, "mg/L"), temperature=quantity(10, "degC"))
        for ph in (low, high)
    )
    assert acid.co2 >= mild.co2


@STEADY
@given(st.floats(33, 120))
def test_temperature_in_fahrenheit_is_the_same_water(fahrenheit):
    known = {"ph": 6.5, "alkalinity": quantity(100, "mg/L")}
    ours = carbon_dioxide(**known, temperature=quantity(fahrenheit, "degF"))
    theirs = carbon_dioxide(**known, temperature=quantity((fahrenheit - 32) / 1.8, "degC"))
    assert size(ours.co2, "mg/L") == pytest.approx(size(theirs.co2, "mg/L"), rel=1e-9)
