"""Beds: bucket flow, area and contact, parallel vessels, fill. Printed values: hydraulics.csv."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.beds.vessel import bed, bucket_flow, media_fill
from equipment.engineering.errors import EngineeringError, MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity

STEADY = settings(max_examples=30, deadline=None, derandomize=True)


def size(value, unit):
    return value.m_as(quantity(1, unit).units)


def tank(**more):
    return bed(**{"diameter": quantity(10, "in"), "bed_volume": quantity(1.5, "ft3"), **more})


def test_bucket():
    assert size(bucket_flow(volume=quantity(5, "gal"), time=quantity(30, "s")).flow, "gpm") == 10


def test_a_short_bucket_time_is_said():
    assert bucket_flow(volume=quantity(5, "gal"), time=quantity(9, "s")).warnings


def test_depth_and_volume_give_each_other_back():
    by_volume = tank()
    by_depth = bed(diameter=quantity(10, "in"), bed_depth=by_volume.bed_depth)
    assert size(by_depth.bed_volume, "ft3") == pytest.approx(1.5, rel=1e-12)


def test_without_a_flow_there_is_no_contact_time():
    assert set(tank().results()) == {"area", "bed_volume", "bed_depth"}


def test_two_vessels_are_judged_at_sixty_percent_and_at_full_flow_during_a_wash():
    one = tank(flow=quantity(10, "gpm"))
    two = tank(flow=quantity(10, "gpm"), parallel_count=2)
    assert size(two.vessel_flow, "gpm") == pytest.approx(6)
    assert size(two.ebct_during_wash, "min") == pytest.approx(size(one.ebct, "min"))
    assert any("washed" in line for line in two.warnings)


def test_a_measured_split_counts_the_busier_vessel():
    two = tank(flow=quantity(10, "gpm"), parallel_count=2, split=quantity(30, "percent"))
    assert size(two.vessel_flow, "gpm") == pytest.approx(7)


def test_three_vessels_while_one_is_washed():
    three = tank(flow=quantity(10, "gpm"), parallel_count=3)
    assert size(three.vessel_flow, "gpm") == pytest.approx(4)
    assert size(three.service_rate_during_wash, "gpm/ft2") == pytest.approx(6 / 0.545415, rel=1e-5)


def test_greensand_above_three_gpm_per_square_foot_is_said():
    """Oklahoma OAC 252:626-9-7: filtration at most 3 gpm/ft2."""
    area = math.pi / 4 * (10 / 12) ** 2
    fast = tank(flow=quantity(3.1 * area, "gpm"), media="greensand")
    slow = tank(flow=quantity(2.9 * area, "gpm"), media="greensand")
    assert any("gpm/ft2" in line for line in fast.warnings)
    assert slow.warnings == ()


def test_short_contact_on_catalytic_carbon_is_said():
    assert any(
        "contact" in line
        for line in tank(flow=quantity(5, "gpm"), media="catalytic-carbon").warnings
    )


@pytest.mark.parametrize(
    ("more", "refusal", "key"),
    [
        ({"diameter": quantity(3, "in")}, OutOfRange, "diameter"),
        ({"diameter": quantity(3, "gpm")}, EngineeringError, "diameter"),
        ({"diameter": 10}, EngineeringError, "diameter"),
        ({"bed_depth": quantity(30, "in")}, WrongInput, "bed_volume"),
        ({"bed_volume": None}, MissingInput, "bed_depth"),
        ({"parallel_count": 1.5}, WrongInput, "parallel_count"),
        ({"flow": quantity(5, "gpm"), "split": quantity(60, "percent")}, WrongInput, "split"),
        ({"media": "moon dust", "flow": quantity(5, "gpm")}, WrongInput, "media"),
        ({"flow": quantity(0, "gpm")}, OutOfRange, "flow"),
    ],
)
def test_bed_refusals_name_the_key(more, refusal, key):
    with pytest.raises(refusal) as caught:
        tank(**more)
    assert caught.value.key == key
    assert str(caught.value).startswith(f"{key}: ")


def test_split_needs_the_word_percent():
    with pytest.raises(EngineeringError, match="split"):
        compute(
            "bed", diameter="10 in", bed_depth="30 in", flow="8 gpm", parallel_count="2", split="60"
        )


@STEADY
@given(st.floats(4, 72), st.floats(1, 120), st.floats(0.1, 400))
def test_bed_is_the_same_in_metric(inches, depth, flow):
    ours = bed(
        diameter=quantity(inches, "in"), bed_depth=quantity(depth, "in"), flow=quantity(flow, "gpm")
    )
    theirs = bed(
        diameter=quantity(inches * 25.4, "mm"),
        bed_depth=quantity(depth * 2.54, "cm"),
        flow=quantity(flow * 3.785411784, "L/min"),
    )
    assert size(ours.ebct, "min") == pytest.approx(size(theirs.ebct, "min"), rel=1e-9)


@STEADY
@given(st.floats(1, 100), st.floats(1, 100))
def test_more_flow_is_less_contact(one, other):
    low, high = sorted((one, other))
    slow, fast = (tank(flow=quantity(flow, "gpm")) for flow in (low, high))
    assert size(slow.ebct, "min") >= size(fast.ebct, "min")


def test_media_fill_leaves_room_for_the_wash():
    fill = media_fill(
        diameter=quantity(10, "in"),
        bed_depth=quantity(33, "in"),
        underbed_depth=quantity(4, "in"),
        freeboard=quantity(40, "percent"),
    )
    assert size(fill.vessel_height, "in") == pytest.approx(4 + 33 * 1.4)
    assert size(fill.media, "ft3") == pytest.approx(1.5, abs=0.01)
    assert size(fill.underbed, "ft3") == pytest.approx(size(fill.media, "ft3") * 4 / 33)


def test_media_fill_without_gravel_names_none_and_half_the_depth_is_the_default_room():
    fill = media_fill(diameter=quantity(10, "in"), bed_depth=quantity(30, "in"))
    assert fill.underbed is None
    assert size(fill.vessel_height, "in") == pytest.approx(45)
    with pytest.raises(OutOfRange, match="freeboard"):
        media_fill(
            diameter=quantity(10, "in"),
            bed_depth=quantity(30, "in"),
            freeboard=quantity(200, "percent"),
        )
