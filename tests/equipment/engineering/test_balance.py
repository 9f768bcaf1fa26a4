"""Carbon dioxide, saturation index and neutralizer. Printed values: hydraulics.csv."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError, OutOfRange
from equipment.engineering.units import quantity
from equipment.engineering.water.balance import carbon_dioxide, saturation_index
from equipment.engineering.water.carbonate import carbonate_of, carbonic_pk1
from equipment.engineering.water.neutralizer import neutralizer

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


def test_the_index_is_nought_at_the_saturation_ph_and_rises_in_the_heater():
    cold, hot = index(), index(temperature=quantity(60, "degC"))
    assert index(ph=cold.saturation_ph).index == pytest.approx(0, abs=1e-6)
    assert hot.index > cold.index


def test_cold_water_that_lays_down_lime_is_not_called_aggressive():
    """Well water of 10 degC: 0.14 by PHREEQC, -0.10 by the short form of Langelier."""
    well = index(
        ph=7.5,
        temperature=quantity(10, "degC"),
        tds=quantity(420, "mg/L"),
        calcium_hardness=quantity(199.8, "mg/L"),
        alkalinity=quantity(220, "mg/L"),
    )
    assert 0.08 < well.index < 0.2


def test_calcium_holds_a_share_of_the_bicarbonate():
    """log K of the pair of calcium and bicarbonate, 1.106 at 25 degC (Plummer & Busenberg 1982,
    MEMORY), and Davies for the activity: what is bound gives no gas."""
    ions, calcium = 2.5e-5 * 1000, 400 / 40078
    root = math.sqrt(ions)
    two = 10 ** (-0.509 * 4 * (root / (1 + root) - 0.3 * ions))
    water = {"ph": 7.0, "celsius": 25.0, "alkalinity_mg_l": 50.0, "tds_mg_l": 1000.0}
    with_it, without = (carbonate_of(**water, calcium_mg_l=mg_l) for mg_l in (400.0, 0.0))
    bound = 1 + 10**1.106 * two * calcium
    # a little more is bound by carbonate
    assert with_it.co2_mg_l / without.co2_mg_l == pytest.approx(1 / bound, rel=0.01)


def test_a_water_without_calcium_has_gas_and_no_index():
    bare = carbonate_of(6.5, 10, 100, 0.0, 160)
    assert bare.co2_mg_l > 50
    assert bare.index == -math.inf


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
    """CaCO3 100.09 takes CO2 44.01; what is left is the gas of the water behind the bed."""
    ours = neutral()
    rise = size(ours.hardness_rise, "mg/L")
    left = carbon_dioxide(
        ph=ours.treated_ph, alkalinity=quantity(50 + rise, "mg/L"), temperature=quantity(10, "degC")
    )
    taken = size(ours.co2, "mg/L") - size(left.co2, "mg/L")
    assert rise == pytest.approx(taken * 100.09 / 44.01, rel=0.01)
    assert size(ours.calcite_per_year, "lb") == pytest.approx(
        200 * 365.25 * 8.3454e-6 * rise, rel=1e-3
    )


def test_the_treated_ph_comes_out_again():
    """The water after the vessel, by its own alkalinity and carbon dioxide, has the pH given."""
    ours = neutral(treated_ph=7.0)
    rise = size(ours.hardness_rise, "mg/L")
    gas_left = size(ours.co2, "mg/L") - rise * 44.01 / 100.09
    after = carbon_dioxide(
        ph=7.0, alkalinity=quantity(50 + rise, "mg/L"), temperature=quantity(10, "degC")
    )
    assert size(after.co2, "mg/L") == pytest.approx(gas_left, rel=5e-3)


def test_calcite_cannot_pass_saturation():
    """Not all of the gas is taken up, and pH 8 is not reached in an acid, gassy well."""
    ours = neutral(ph=6.0, alkalinity=quantity(40, "mg/L"))
    assert size(ours.hardness_rise, "mg/L") < 0.85 * size(ours.co2, "mg/L") * 100.09 / 44.01
    assert ours.treated_ph < 7.5
    assert ours.short_stay_ph < ours.treated_ph
    assert any("cannot bring" in line for line in neutral(treated_ph=8.0).warnings)
    assert not any("cannot bring" in line for line in neutral(treated_ph=7.2).warnings)


def test_water_that_is_saturated_takes_up_nothing():
    hard = {"alkalinity": quantity(300, "mg/L"), "calcium_hardness": quantity(300, "mg/L")}
    ours = neutral(ph=7.8, **hard)
    assert size(ours.hardness_rise, "mg/L") == 0
    assert any("next to nothing" in line for line in ours.warnings)


def test_the_rise_in_grains_is_the_rise_in_mg_per_litre():
    """1 grain is 64.79891 mg, 1 gal 3.785411784 L (both exact): 17.118 mg/L."""
    ours = neutral()
    assert size(ours.hardness_rise_gpg, "gpg") == pytest.approx(
        size(ours.hardness_rise, "mg/L") / (64.79891 / 3.785411784), rel=1e-4
    )


def test_without_the_treated_ph_it_errs_high_and_says_so():
    assert neutral().hardness_rise > neutral(treated_ph=7.0).hardness_rise
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
