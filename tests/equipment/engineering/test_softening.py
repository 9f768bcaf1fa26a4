"""Softeners, brine, filter intervals: caps and limits. Printed values: hydraulics.csv."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.beds.intervals import filter_interval
from equipment.engineering.beds.softening import (
    brine_refill,
    capacity_grain_per_ft3,
    run_days,
    softener,
)
from equipment.engineering.errors import EngineeringError, MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity

from .published_rows import table_rows

STEADY = settings(max_examples=30, deadline=None, derandomize=True)
#: mg CaCO3 per meq; mg in a grain; US gallons in a m3: definitions
MG_PER_MEQ, MG_PER_GRAIN, GALLONS_PER_M3 = 50.04, 64.79891, 264.172052


def size(value, unit):
    return value.m_as(quantity(1, unit).units)


def soft(**more):
    """4 people, 20 gpg, 1.5 ft3 at 6 lb/ft3: 30,000 grain, 6000 a day, 4 days with the reserve."""
    given_keys = {
        "hardness": quantity(20, "gpg"),
        "people": 4,
        "resin_volume": quantity(1.5, "ft3"),
        "salt_dose": quantity(6, "lb/ft3"),
        **more,
    }
    return softener(**given_keys)


@pytest.mark.parametrize("row", table_rows("exchange_steps"), ids=lambda row: row["id"])
def test_run_of_a_published_ion_exchange_design(row):
    capacity = float(row["capacity_meq"]) * float(row["share"]) * MG_PER_MEQ / MG_PER_GRAIN
    gpg = float(row["hardness_meq_l"]) * MG_PER_MEQ / 17.118
    load = float(row["flow_m3_day"]) * GALLONS_PER_M3 * gpg
    days = run_days(capacity, load, reserve_days=0)
    ours = days * 24 if row["unit"] == "h" else days
    assert ours == pytest.approx(float(row["published"]), abs=float(row["tolerance"]))


def test_days_meter_and_salt():
    ours = soft()
    assert size(ours.days, "day") == pytest.approx(4)
    assert size(ours.gallons_between, "gal") == pytest.approx(4 * 300)
    assert size(ours.salt_per_regeneration, "lb") == pytest.approx(9)
    assert size(ours.salt_per_month, "lb") == pytest.approx(9 * 365.25 / 12 / 4)
    assert ours.limited_by == "capacity"


def test_capacity_is_never_told_without_its_salt_dose():
    shown = soft().results()
    assert shown["salt_dose"] == {"value": pytest.approx(6), "unit": "lb/ft3"}
    with pytest.raises(MissingInput, match="salt_dose"):
        compute("softener", hardness="20 gpg", people="4", resin_volume="1.5 ft3")


@pytest.mark.parametrize(("iron", "most"), [("0 mg/L", 14), ("0.3 mg/L", 14), ("0.4 mg/L", 5)])
def test_long_runs_are_cut_and_shorter_with_iron(iron, most):
    printed, _ = compute(
        "softener",
        hardness="2 gpg",
        iron=iron,
        people="1",
        resin_volume="2 ft3",
        salt_dose="6 lb/ft3",
    )
    assert printed["results"]["days"]["value"] == most
    assert printed["results"]["limited_by"]["value"] == "maximum days"


def test_a_company_cap_takes_the_place_of_ours():
    ours = soft(maximum_days=quantity(3, "day"))
    assert (size(ours.days, "day"), ours.limited_by) == (pytest.approx(3), "maximum days")


def test_iron_and_manganese_count_as_hardness_by_an_editable_factor():
    ours = soft(iron=quantity(1.5, "mg/L"), manganese=quantity(0.5, "mg/L"))
    assert size(ours.compensated_hardness, "gpg") == pytest.approx(20 + 4 * 1.5 + 2 * 0.5)
    other = soft(iron=quantity(1.5, "mg/L"), iron_factor=3)
    assert size(other.compensated_hardness, "gpg") == pytest.approx(24.5)


def test_iron_of_one_mg_is_to_be_removed_first():
    """Oklahoma OAC 252:626-9-10: pretreat at 1 mg/L; Virginia 12VAC5-590-900: at most 0.3."""
    assert any("ahead of" in line for line in soft(iron=quantity(1, "mg/L")).warnings)
    assert any("foul" in line for line in soft(iron=quantity(0.5, "mg/L")).warnings)
    assert soft(iron=quantity(0.3, "mg/L")).warnings == ()


def test_a_resin_too_small_for_its_reserve_has_no_run():
    ours = soft(resin_volume=quantity(0.25, "ft3"))
    assert size(ours.days, "day") == 0
    assert ours.salt_per_month is None
    assert any("cannot carry one day" in line for line in ours.warnings)


def test_peak_draw_above_five_gpm_per_cubic_foot_is_said():
    assert any("peak draw" in line for line in soft(peak_flow=quantity(8, "gpm")).warnings)
    assert soft(peak_flow=quantity(7, "gpm")).warnings == ()


@pytest.mark.parametrize(
    ("more", "refusal", "key"),
    [
        ({"hardness": quantity(0, "gpg")}, OutOfRange, "hardness"),
        ({"hardness": 20}, EngineeringError, "hardness"),
        ({"salt_dose": quantity(2.9, "lb/ft3")}, OutOfRange, "salt_dose"),
        ({"salt_dose": quantity(9, "lb")}, EngineeringError, "salt_dose"),
        ({"people": 0}, OutOfRange, "people"),
        ({"iron": quantity(-1, "mg/L")}, OutOfRange, "iron"),
    ],
)
def test_softener_refusals_name_the_key(more, refusal, key):
    with pytest.raises(refusal) as caught:
        soft(**more)
    assert caught.value.key == key


@STEADY
@given(st.floats(0.1, 200))
def test_hardness_in_mg_per_litre_is_the_same_water(gpg):
    ours, theirs = (
        soft(hardness=quantity(gpg, "gpg")),
        soft(hardness=quantity(gpg * 17.118061, "mg/L")),
    )
    assert size(ours.load_per_day, "grain") == pytest.approx(
        size(theirs.load_per_day, "grain"), rel=1e-6
    )


@STEADY
@given(st.floats(3, 20), st.floats(3, 20))
def test_more_salt_is_more_capacity_at_less_efficiency(one, other):
    low, high = sorted((one, other))
    assert capacity_grain_per_ft3(low) <= capacity_grain_per_ft3(high)
    assert capacity_grain_per_ft3(low) / low >= capacity_grain_per_ft3(high) / high - 1e-9


def test_brine_refill_water_and_time():
    ours = brine_refill(salt=quantity(9, "lb"), refill_rate=quantity(0.5, "gpm"))
    assert size(ours.time, "min") == pytest.approx(6)
    with pytest.raises(OutOfRange, match="refill_rate"):
        brine_refill(salt=quantity(9, "lb"), refill_rate=quantity(0.01, "gpm"))


def test_refill_water_makes_about_saturated_brine():
    """Saturated brine is 26 percent by weight (MEMORY, handbooks): 3 lb in 8.34 lb of water."""
    ours = brine_refill(salt=quantity(30, "lb"), refill_rate=quantity(1, "gpm"))
    water = size(ours.water, "gal") * 8.34
    assert 30 / (30 + water) == pytest.approx(0.26, abs=0.01)


def interval(**more):
    given_keys = {
        "diameter": quantity(10, "in"),
        "iron": quantity(4, "mg/L"),
        "daily_use": quantity(300, "gal"),
        **more,
    }
    return filter_interval(**given_keys)


def test_interval_by_loading():
    """500 grain/ft2 x 0.5454 ft2 / 70.1 grain a day = 3.89 days."""
    ours = interval()
    assert (size(ours.days, "day"), ours.limited_by) == (pytest.approx(3.89, abs=0.01), "loading")


@pytest.mark.parametrize(
    ("media", "most"),
    [("catalytic-carbon", 7), ("manganese-ore", 3), ("greensand", 7), ("sand", 7)],
)
def test_a_clean_water_does_not_stretch_the_run_beyond_the_mediums(media, most):
    """Common practice: a bed left longer packs, channels and grows slime."""
    ours = interval(iron=quantity(0.1, "mg/L"), media=media)
    assert (size(ours.days, "day"), ours.limited_by) == (pytest.approx(most), "maximum days")


def test_no_load_at_all_still_washes():
    assert size(interval(iron=quantity(0, "mg/L")).days, "day") == pytest.approx(7)


def test_a_bed_that_fills_within_a_day_is_said():
    """No setting is offered for it: the bed area that holds a day's load is."""
    ours = interval(iron=quantity(20, "mg/L"))
    assert (ours.days, ours.gallons_between) == (None, None)
    assert ours.limited_by == "bed too small"
    load = size(ours.load_per_day, "grain")
    assert size(ours.area_needed, "ft2") == pytest.approx(load / 500)
    assert any("full after" in line for line in ours.warnings)
    assert interval(iron=quantity(1, "mg/L")).area_needed is None


def test_regenerating_oftener_than_every_third_day_is_said():
    """Madison Metropolitan Sewerage District, Softening best practices (SEEN): 3 days or more."""

    def warned(people):
        return any("too often" in line for line in soft(people=people).warnings)

    days = [size(soft(people=n).days, "day") for n in range(1, 13)]
    assert [warned(n) for n in range(1, 13)] == [1 <= d < 3 for d in days]
    assert any(1 <= d < 3 for d in days)


def test_sulfide_counts_as_sulfur():
    """32.06 / 34.08 of hydrogen sulfide is sulfur."""
    as_gas = interval(iron=quantity(0, "mg/L"), sulfide=quantity(3.408, "mg/L"))
    as_sulfur = interval(iron=quantity(0, "mg/L"), sulfide=quantity(3.206, "mg/L"), sulfide_as="s")
    assert size(as_gas.load_per_day, "grain") == pytest.approx(
        size(as_sulfur.load_per_day, "grain"), rel=1e-4
    )


def test_manganese_counts():
    assert interval(manganese=quantity(4, "mg/L")).load_per_day == 2 * interval().load_per_day


@pytest.mark.parametrize(
    ("more", "refusal", "key"),
    [
        ({"iron": quantity(-1, "mg/L")}, OutOfRange, "iron"),
        ({"daily_use": quantity(0, "gal")}, OutOfRange, "daily_use"),
        ({"media": "moss"}, WrongInput, "media"),
        ({"sulfide_as": "so4"}, WrongInput, "sulfide_as"),
        ({"loading_limit": quantity(500, "grain")}, EngineeringError, "loading_limit"),
    ],
)
def test_interval_refusals_name_the_key(more, refusal, key):
    with pytest.raises(refusal) as caught:
        interval(**more)
    assert caught.value.key == key
