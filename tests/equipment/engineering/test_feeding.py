"""Feeder calibration, feed setting and dose: limits, judgement, properties."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput, WrongUnit
from equipment.engineering.oxidant.feed_setting import feed_setting
from equipment.engineering.oxidant.feeding import (
    dose_from_setting,
    feeder_calibration,
    oxidant_in_kg,
    oxidant_used_kg,
)
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity as q

QUICK = settings(max_examples=30, derandomize=True, deadline=None)
FEED = {"flow": "8 gpm", "dose": "20 mg/L", "strength": "71.6 g/L", "feeder_output": "17 gpd"}


def feed(**changes):
    return compute("feed-setting", **{**FEED, **changes})[1]


def said(texts, words):
    return any(words in text for text in texts)


def test_low_setting_says_dilute_and_to_what_strength():
    """60 g/L at 1.25 mg/L: about 3 percent (bleach straight from the bottle)."""
    answer = feed(dose="1.25 mg/L", strength="60 g/L", flow="5.7 gpm")
    assert answer.setting.magnitude < 10
    assert said(answer.warnings, "dilute the solution from 60")
    again = feed(
        dose="1.25 mg/L", flow="5.7 gpm", strength=f"{answer.suggested_strength.magnitude} g/L"
    )
    assert 30 <= again.setting.magnitude <= 60
    assert again.suggested_strength is None


def test_high_setting_says_stronger_or_larger_pump():
    answer = feed(dose="60 mg/L", flow="20 gpm")
    assert answer.setting.magnitude > 100
    assert said(answer.warnings, "cannot be set")
    assert said(answer.warnings, "larger dosing pump")
    strength = f"{answer.suggested_strength.magnitude} g/L"
    again = feed(dose="60 mg/L", flow="20 gpm", strength=strength)
    assert 30 <= again.setting.magnitude <= 60.001


def test_setting_in_range_says_nothing_of_strength():
    assert feed().suggested_strength is None
    assert not said(feed().warnings, "dilute")


def test_dose_above_the_maximum_use_level_is_refused():
    with pytest.raises(OutOfRange, match="maximum use level of 10 mg/L") as refused:
        feed(maximum_use_level="10 mg/L")
    assert refused.value.key == "dose"


def test_unknown_maximum_use_level_is_a_caution():
    assert said(feed().cautions, "No maximum use level")
    assert not said(feed(maximum_use_level="25 mg/L").cautions, "No maximum use level")


def test_lowest_flow_above_the_maximum_use_level_is_said():
    answer = feed(maximum_use_level="25 mg/L", flow_low="6 gpm")
    assert said(answer.warnings, "At the lowest flow the dose is 26.7")


def test_wide_flow_range_asks_for_a_meter():
    assert said(feed(flow_low="2 gpm", flow_high="12 gpm").warnings, "follow a water meter")


def test_the_setting_does_not_wait_for_the_daily_use():
    """Only the forecast rests on it: Q D / C needs neither tank nor house."""
    plain, asked = feed(), feed(tank_volume="15 gal", wash_use="60 gal")
    assert asked.setting == plain.setting
    assert (asked.days_of_supply, asked.solution_per_day) == (None, None)
    assert said(asked.warnings, "How long the tank lasts needs the gallons used in a day")
    assert not said(plain.warnings, "How long the tank lasts")


def test_wash_water_is_in_the_forecast():
    house = feed(tank_volume="15 gal", daily_use="250 gal")
    assert said(house.warnings, "wash_use")
    wash = feed(tank_volume="15 gal", daily_use="250 gal", wash_use="60 gal")
    assert not said(wash.warnings, "wash_use")
    assert wash.days_of_supply.magnitude == pytest.approx(
        house.days_of_supply.magnitude * 250 / 310
    )
    assert wash.pump_run_per_day.magnitude == pytest.approx(310 / 8)


def test_supply_beyond_the_shelf_life_gets_a_weaker_mix():
    answer = feed(tank_volume="15 gal", daily_use="250 gal", wash_use="0 gal", shelf_life="90 day")
    assert answer.suggested_strength.magnitude == pytest.approx(30, abs=1)
    strength = f"{answer.suggested_strength.magnitude} g/L"
    again = feed(
        tank_volume="15 gal",
        daily_use="250 gal",
        wash_use="0 gal",
        shelf_life="91 day",
        strength=strength,
    )
    assert again.days_of_supply.magnitude <= 91
    assert again.suggested_strength is None


def test_weaker_mix_never_leaves_the_feeder_range():
    answer = feed(tank_volume="200 gal", daily_use="250 gal", wash_use="0 gal", shelf_life="30 day")
    strength = f"{answer.suggested_strength.magnitude} g/L"
    assert feed(strength=strength).setting.magnitude <= 90.001
    assert said(answer.warnings, "fill the tank only to")


def test_long_supply_without_a_shelf_life_is_said():
    answer = feed(tank_volume="15 gal", daily_use="250 gal")
    assert said(answer.warnings, "check that the solution keeps that long")
    assert answer.suggested_strength is None


def test_large_flow_is_questioned():
    assert said(feed(flow="800 gpm").warnings, "more than a private well gives")


def test_calibration_judges_the_test_and_the_pump():
    worn = feeder_calibration(
        drawn=q(20, "mL"), time=q(60, "s"), setting=q(90, "percent"), nameplate_output=q(17, "gpd")
    )
    assert worn.share_of_nameplate == pytest.approx(0.497, abs=0.001)
    assert said(worn.warnings, "worn tube")
    short = feeder_calibration(drawn=q(4, "mL"), time=q(20, "s"), setting=q(5, "percent"))
    assert said(short.warnings, "Short test")
    assert said(short.warnings, "below 10 percent")
    assert short.share_of_nameplate is None
    much = feeder_calibration(
        drawn=q(60, "mL"), time=q(60, "s"), setting=q(90, "percent"), nameplate_output=q(17, "gpd")
    )
    assert said(much.warnings, "check setting, time and column")


@pytest.mark.parametrize(
    ("changes", "error", "key"),
    [
        ({"flow": "8"}, WrongUnit, "flow"),
        ({"flow": "0 gpm"}, OutOfRange, "flow"),
        ({"flow": "8 ft"}, WrongUnit, "flow"),
        ({"dose": "501 mg/L"}, OutOfRange, "dose"),
        ({"dose": "20 ppm"}, WrongUnit, "dose"),
        ({"strength": "7 percent"}, WrongUnit, "strength"),
        ({"feeder_output": "0 gpd"}, OutOfRange, "feeder_output"),
        ({"flow_low": "9 gpm"}, WrongInput, "flow_low"),
        ({"flow_high": "7 gpm"}, WrongInput, "flow_high"),
        ({"shelf_life": "1000 day"}, OutOfRange, "shelf_life"),
        ({"maximum_use_level": "0 mg/L"}, OutOfRange, "maximum_use_level"),
    ],
)
def test_feed_setting_refusals_name_the_key(changes, error, key):
    with pytest.raises(error) as refused:
        feed(**changes)
    assert refused.value.key == key


@pytest.mark.parametrize(
    ("name", "inputs", "error", "key"),
    [
        (
            "feeder-calibration",
            {"drawn": "40 mL", "time": "5 s", "setting": "50 percent"},
            OutOfRange,
            "time",
        ),
        (
            "feeder-calibration",
            {"drawn": "40 mL", "time": "60 s", "setting": "101 percent"},
            OutOfRange,
            "setting",
        ),
        (
            "feeder-calibration",
            {"drawn": "40 mL", "time": "60 s", "setting": "50"},
            WrongUnit,
            "setting",
        ),
        ("feeder-calibration", {"time": "60 s", "setting": "50 percent"}, MissingInput, "drawn"),
        (
            "dose-from-setting",
            {**{k: v for k, v in FEED.items() if k != "dose"}, "setting": "0 percent"},
            OutOfRange,
            "setting",
        ),
    ],
)
def test_other_refusals_name_the_key(name, inputs, error, key):
    with pytest.raises(error) as refused:
        compute(name, **inputs)
    assert refused.value.key == key


positive = st.floats(0.5, 40)


@QUICK
@given(flow=positive, dose=positive, strength=st.floats(5, 400), output=st.floats(3, 60))
def test_dose_from_setting_is_the_inverse(flow, dose, strength, output):
    inputs = {
        "flow": q(flow, "gpm"),
        "strength": q(strength, "g/L"),
        "feeder_output": q(output, "gpd"),
    }
    setting = feed_setting(dose=q(dose, "mg/L"), **inputs).setting
    if setting.magnitude <= 100:
        back = dose_from_setting(setting=setting, **inputs).dose
        assert back.magnitude == pytest.approx(dose, rel=1e-9)


@QUICK
@given(flow=positive, dose=positive, more=positive)
def test_setting_rises_with_flow_and_dose(flow, dose, more):
    def setting(gpm, mg_l):
        return feed_setting(
            flow=q(gpm, "gpm"),
            dose=q(mg_l, "mg/L"),
            strength=q(71.6, "g/L"),
            feeder_output=q(17, "gpd"),
        ).setting.magnitude

    assert setting(flow + more, dose) > setting(flow, dose)
    assert setting(flow, dose + more) > setting(flow, dose)


@QUICK
@given(flow=positive, dose=positive)
def test_same_answer_in_metric_units(flow, dose):
    one = feed_setting(
        flow=q(flow, "gpm"),
        dose=q(dose, "mg/L"),
        strength=q(71.6, "g/L"),
        feeder_output=q(17, "gpd"),
    )
    other = feed_setting(
        flow=q(flow * 3.785411784, "L/min"),
        dose=q(dose / 1000, "g/L"),
        strength=q(71600, "mg/L"),
        feeder_output=q(17 * 3785.411784 / 1440, "mL/min"),
    )
    assert other.setting.magnitude == pytest.approx(one.setting.magnitude, rel=1e-9)


@QUICK
@given(drawn=st.floats(5, 200), time=st.floats(30, 300), setting=st.floats(10, 100))
def test_calibration_gives_back_what_was_drawn(drawn, time, setting):
    answer = feeder_calibration(
        drawn=q(drawn, "mL"), time=q(time, "s"), setting=q(setting, "percent")
    )
    fed = answer.output.m_as("milliliter/second") * setting / 100 * time
    assert fed == pytest.approx(drawn, rel=1e-9)


def test_oxidant_used_is_the_pounds_formula():
    """Pounds in a day = million gallons in a day x mg/L x 8.34.

    Water Treatment Mathematics (Skill Development Series), section 4 (SEEN).
    """
    pounds = 0.04 * 1.31 * 8.34
    assert oxidant_used_kg(40_000, 1.31) == pytest.approx(pounds * 0.45359, rel=1e-3)


def test_solution_used_is_dose_times_water_over_strength():
    """In volume: 225 gal a day at 12 mg/L from 71.6 g/L are 0.1427 L a day (mass balance)."""
    litres = 225 * 3.785412 * 12 / 71_600
    assert oxidant_in_kg(litres / 3.785412, 71.6) == pytest.approx(oxidant_used_kg(225, 12))
