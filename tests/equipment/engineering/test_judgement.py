"""What has to be said, refused or kept apart around the arithmetic, one test for each point.

Common practice without a source unless a test names one.
"""

import pytest

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import compute, load
from equipment.engineering.units import unit

from .examples import EXAMPLES


def ask(name, **changed):
    """The example of a calculation with some inputs changed (None leaves one out)."""
    typed = {key: text for key, text in {**EXAMPLES[name], **changed}.items() if text is not None}
    return compute(name, **typed)[1]


def refused(name, **changed):
    with pytest.raises(EngineeringError) as caught:
        ask(name, **changed)
    return caught.value


def said(answer):
    return " ".join((*answer.warnings, *answer.cautions, *answer.sources))


def size(value, name):
    return float(value.m_as(unit(name)))


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("feed-setting", "past the injector while the dosing pump runs"),
        ("contact", "before the pressure tank, else the peak draw"),
        ("bed", "peak draw"),
        ("turnover", "running tap, not of the well pump"),
    ],
)
def test_each_calculation_says_which_flow_it_wants(name, words):
    assert words in load()[name].key("flow").help


def test_backwash_wants_the_flow_the_pump_holds_during_the_wash():
    assert "backwash" in load()["backwash"].key("pump_flow").help


def test_a_timer_that_starts_anew_feeds_more_than_it_is_set_to():
    """An 85 s run of a 60 s timer at 20 percent: 24 s fed where 17 s were meant."""
    assert ask("dose-ripple").mean_ratio == pytest.approx(24 / 17)
    assert "starts anew" in said(ask("dose-ripple"))


@pytest.mark.parametrize(("turnovers", "word"), [("1", "Early"), ("2.5", "Short of 3"), ("3", "")])
def test_a_reading_counts_after_three_turnovers(turnovers, word):
    warnings = ask("turnover", turnovers=turnovers).warnings
    assert word in warnings[0] if word else not warnings


def test_an_early_reading_changes_no_setting():
    early = ask("dial-in", reading=["37.6:25-50", "20:0-1:1"])
    assert size(early.next_setting, "percent") == pytest.approx(20)
    assert "too early" in early.reason


def test_a_supply_longer_than_the_solution_keeps_asks_for_a_weaker_mix():
    answer = ask("feed-setting", shelf_life="90 day")
    assert size(answer.days_of_supply, "day") > 90
    assert size(answer.suggested_strength, "g/L") < 71.6
    assert "longer than the solution keeps" in said(answer)


def test_wash_water_past_the_injector_shortens_the_supply():
    """60 gal of wash beside 250 gal of the house: 310 / 250 of the solution."""
    with_wash, without = ask("feed-setting"), ask("feed-setting", wash_use=None)
    ratio = size(without.days_of_supply, "day") / size(with_wash.days_of_supply, "day")
    assert ratio == pytest.approx(310 / 250)
    assert "counts house water only" in said(without)
    assert "counts house water only" not in said(with_wash)


def test_a_house_gets_what_pump_and_tank_deliver_and_is_told_which():
    answer = ask("peak-demand")
    assert size(answer.deliverable_flow, "gpm") == pytest.approx(8 + 11 / 5)
    assert answer.limited_by == "well pump and tank"
    assert "12 gpm" in said(answer)


def test_parallel_vessels_never_share_evenly_and_one_washes():
    answer = ask("bed", parallel_count="2")
    assert size(answer.vessel_flow, "gpm") == pytest.approx(0.6 * 6)
    assert size(answer.service_rate_during_wash, "gpm/ft2") == pytest.approx(
        6 / size(answer.area, "ft2")
    )


def test_a_low_setting_says_to_what_strength_to_dilute():
    answer = ask("feed-setting", dose="5 mg/L")
    assert size(answer.setting, "percent") < 10
    assert f"{size(answer.suggested_strength, 'g/L'):.3g} g/L" in said(answer)
    assert "dilute" in said(answer)


@pytest.mark.parametrize("dose", ["98 mg/L", "200 mg/L"])
def test_a_high_setting_says_stronger_or_larger(dose):
    answer = ask("feed-setting", dose=dose)
    assert size(answer.setting, "percent") > 90
    assert "stronger solution" in said(answer)
    assert "larger dosing pump" in said(answer)


def test_a_dose_above_the_products_own_maximum_is_refused_at_the_dose():
    assert refused("feed-setting", maximum_use_level="19.9 mg/L").key == "dose"
    assert size(ask("feed-setting", maximum_use_level="20 mg/L").setting, "percent") > 0


@pytest.mark.parametrize("name", ["feed-setting", "dial-in"])
def test_no_maximum_on_file_is_never_silent(name):
    assert any("use level" in line for line in ask(name).cautions)
    assert not any(
        "not on file" in line for line in ask(name, maximum_use_level="90 mg/L").cautions
    )


@pytest.mark.parametrize("level", ["240 ft", "241 ft"])
def test_a_well_without_water_is_refused(level):
    assert refused("well-volume", static_level=level).key == "static_level"
    assert refused("shock-chlorination", static_level=level).key == "static_level"


def test_a_nominal_casing_counts_as_inside_diameter_and_a_true_one_is_taken():
    """A nominal 6 in schedule 40 casing is 6.065 in inside (ASME B36.10, MEMORY): 2.2 percent."""
    assert "nominal size" in said(ask("well-volume"))
    ratio = ask("well-volume", casing_diameter="6.065 in").volume / ask("well-volume").volume
    assert float(ratio) == pytest.approx((6.065 / 6) ** 2)


def test_an_unknown_level_takes_the_full_depth_and_says_that_it_errs_high():
    answer = ask("well-volume", static_level="unknown")
    assert size(answer.water_column, "ft") == 240
    assert answer.static_known is False
    assert "errs high" in said(answer)


@pytest.mark.parametrize("oxidant", ["peroxide", "chlorine"])
def test_chlorine_and_peroxide_are_never_fed_together(oxidant):
    """70.906 / 34.0147 = 2.085 mg of chlorine for each mg of peroxide."""
    text = said(ask("oxidant-demand", oxidant=oxidant, manganese=None))
    assert "2.085 mg chlorine" in text
    assert "flush one out" in text


@pytest.mark.parametrize("oxidant", ["peroxide", "permanganate", "ozone"])
def test_only_free_chlorine_gets_credit(oxidant):
    answer = ask("contact", oxidant=oxidant)
    assert answer.ct is answer.log_giardia is answer.log_virus is None
    assert f"credit is given for {oxidant}" in said(answer)


def test_peroxide_does_not_remove_manganese():
    with_it, without = ask("oxidant-demand"), ask("oxidant-demand", manganese=None)
    assert with_it.demand == without.demand
    assert with_it.demand_manganese is None
    assert "does not remove manganese" in said(with_it)


@pytest.mark.parametrize("name", ["oxidant-demand", "dial-in"])
def test_a_residual_does_not_prove_that_sulfide_is_gone(name):
    assert "does not prove that sulfide is gone" in said(ask(name))


@pytest.mark.parametrize(
    ("name", "key"),
    [
        ("feed-setting", "strength"),
        ("dose-from-setting", "strength"),
        ("dial-in", "strength"),
        ("solution-top-up", "add_strength"),
        ("strength-age", "strength"),
    ],
)
def test_percent_alone_is_no_strength(name, key):
    assert refused(name, **{key: "7 percent"}).key == key


def test_percent_by_weight_needs_its_density():
    assert refused("shock-chlorination", strength_basis="available").key == "density"
    assert refused("solution-strength", density=None).key == "density"


def test_sulfide_as_sulfur_weighs_more_than_as_hydrogen_sulfide():
    """34.081 / 32.065: the same mg/L stated as S holds more sulfide."""
    as_h2s, as_s = ask("oxidant-demand"), ask("oxidant-demand", sulfide_as="s")
    ratio = float(as_s.demand_sulfide / as_h2s.demand_sulfide)
    assert ratio == pytest.approx(34.081 / 32.065)


def test_hardness_is_taken_as_calcium_carbonate_in_either_unit():
    """1 gpg is 17.118 mg/L as CaCO3 (64.79891 mg in 3.785411784 L)."""
    assert "as CaCO3" in load()["softener"].key("hardness").help
    answer = ask("softener", hardness="171.18 mg/L", iron="0 mg/L")
    assert size(answer.compensated_hardness, "gpg") == pytest.approx(10, abs=0.001)


@pytest.mark.parametrize(("table", "title"), [("nspc", "NSPC Table B.5.4"), ("ipc", "IPC 2018")])
def test_the_table_of_fixture_units_is_named(table, title):
    answer = ask("peak-demand", table=table, bathrooms=None, fixture_units="10")
    assert title in answer.table
    assert title in said(answer)


def test_capacity_never_stands_without_its_salt_dose():
    assert refused("softener", salt_dose=None).key == "salt_dose"
    shown = ask("softener").results()
    assert shown["salt_dose"] == {"value": 8.0, "unit": "lb/ft3"}


def test_a_wash_beyond_the_pump_is_not_adequate_whatever_the_tank_covers():
    answer = ask("backwash", diameter="14 in")
    assert answer.adequate is False
    assert "flow" in answer.limited_by
    assert size(answer.tank_cover, "min") > 0
    assert "hides it" in said(answer)


def test_cold_water_needs_less_wash_flow_than_warm():
    cold, warm = ask("backwash", temperature="4 degC"), ask("backwash", temperature="25 degC")
    assert cold.required_flow_high < warm.required_flow_high
    assert "carry media out" in said(cold)
    assert "needs more flow" in said(warm)


def test_hot_taps_fizz_at_any_dose_and_air_makes_milky_water_without_peroxide():
    hot = ask("off-gas", temperature="55 degC", peroxide_excess="0 mg/L")
    assert "Hot taps fizz" in said(hot)
    assert "without peroxide" in said(ask("off-gas"))


@pytest.mark.parametrize(
    ("product", "days"),
    [("hypochlorite", 45), ("peroxide-site-diluted", 90), ("peroxide-undiluted", 365)],
)
def test_old_solution_is_to_be_replaced(product, days):
    """Hypochlorite 45 days: PA DEP module 25 (2013, SEEN); peroxide common practice."""
    for age, told in ((days, False), (days + 1, True)):
        answer = ask("strength-age", product=product, age=f"{age} day")
        assert ("replace or test" in said(answer)) is told


def test_the_refill_mark_comes_at_a_fifth_of_the_tank():
    answer = ask("feed-setting")
    days = size(answer.days_of_supply, "day")
    assert f"{0.8 * days:.4g} days to the refill mark of 20 percent" in " ".join(answer.working)


def test_excess_air_in_groundwater_is_named():
    assert "up to 0.95 atm" in said(ask("off-gas"))
    assert "0.95" not in said(ask("off-gas", nitrogen_tension="0.8 atm"))


def test_a_person_uses_75_gallons_a_day_unless_told():
    shown = ask("softener", use_per_person=None, iron="0 mg/L")
    assert size(shown.load_per_day, "grain") == pytest.approx(4 * 75 * 18)


def test_softening_gives_sodium_for_hardness():
    """Na 22.990 for half of CaCO3 100.09, 17.118 mg/L in a gpg: 7.864 mg/L for each gpg."""
    per_gpg = 22.990 / (100.09 / 2) * 17.118
    assert size(ask("softener").sodium_added, "mg/L") == pytest.approx(18 * per_gpg, rel=1e-3)


def test_a_run_between_washes_has_a_longest_and_a_load_that_nobody_had_to_name():
    """7 days; 500 grain/ft2 on 0.5454 ft2 against 300 gal of 4 mg/L, 70.1 grain a day."""
    plain = {"media": None, "manganese": None, "sulfide": None}
    assert size(ask("filter-interval", **plain, iron="0.1 mg/L").days, "day") == 7
    full = ask("filter-interval", **plain, iron="4 mg/L", daily_use="300 gal")
    assert size(full.days, "day") == pytest.approx(500 * 0.5454 / 70.1, rel=1e-3)


def test_a_pump_that_starts_too_often_is_said():
    """Below 1 min for any pump, below 2 min above 1 hp."""
    for pump, word in (("12 gpm", "below 1 min"), ("8 gpm", "1 to 2 min"), ("5 gpm", "")):
        warnings = " ".join(ask("pressure-tank", pump_flow=pump).warnings)
        assert word in warnings if word else not warnings


def test_a_dose_that_swings_with_the_flow_asks_for_a_meter():
    """A fixed feed may give twice the dose at the lowest flow, not more."""
    steady = ask("feed-setting", flow_low="6 gpm", flow_high="11.9 gpm")
    swinging = ask("feed-setting", flow_low="6 gpm", flow_high="12.1 gpm")
    assert "follow a water meter" not in said(steady)
    assert "follow a water meter" in said(swinging)


def test_a_dose_that_swings_more_than_a_quarter_above_its_mean_is_said():
    """Peak over mean 1.224 in 15 gal and 1.283 in 12 gal by (1 / s) (1 - e^-sa) / (1 - e^-a)."""
    assert "swings up to" not in said(ask("dose-ripple", mixing_volume="15 gal"))
    assert "swings up to 1.28 times" in said(ask("dose-ripple", mixing_volume="12 gal"))
