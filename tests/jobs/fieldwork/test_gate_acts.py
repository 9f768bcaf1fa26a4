"""What a technician types, and what the line then says: at, beside and beyond each limit."""

from datetime import timedelta

import pytest

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import Medium, OxidantProduct, Train
from jobs.errors import BadEntry
from jobs.fieldwork.advice import looks_say_nothing, wait_minutes
from jobs.fieldwork.keys import PanelName
from jobs.models import Company, DoNotUse
from jobs.records.loading import load_sheet
from jobs.workflows.answers import Place, override_gate, skip_line
from jobs.workflows.dial_back import set_step
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.timers import start_timer, stop_timer
from tests.acts import lifted, poured
from tests.conftest import NOW
from tests.factories import make_measurement, make_product, make_stage, make_train
from tests.record_scenes import answer, answer_all, make_house

pytestmark = pytest.mark.django_db
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)


@pytest.fixture
def house():
    record, _, lead = make_house()
    return House(record, lead)


class House:
    """A record that is being filled: `says` types and reads the state of the line."""

    def __init__(self, record, lead):
        self.record, self.lead = record, lead

    def types(self, key, text, *, part="", **how):
        stage = self.sheet().stage(part) if part else None
        return answer(self.record, self.lead, key, text, stage=stage, **how)

    def says(self, key, text, **how):
        self.types(key, text, **how)
        return self.state(key)

    def sheet(self, now=NOW):
        return load_sheet(self.record, now=now)

    def state(self, key, now=NOW):
        return self.sheet(now).item(key).state


def says(house, key, typed):
    """Text and state, one after the other in the same box."""
    return {text: house.says(key, text) for text in typed}


# --- limits -------------------------------------------------------------------------------------


def test_at_most_holds_at_the_limit_and_not_above_it(house):
    """0.3 mg/L of iron at the tap: secondary, 40 CFR 143.3."""
    limits = {"0.3": "passed", "0.31": "failed", "> 0.3": "failed", "< 0.3": "passed"}
    assert says(house, "tap-iron", limits) == limits


def test_below_does_not_hold_at_the_limit_but_for_what_was_not_found_there(house):
    """Peroxide after the carbon below 0.5 mg/L: company value, common practice."""
    limits = {"0.49": "passed", "0.5": "failed", "< 0.5": "passed", "> 0.1": "failed"}
    assert says(house, "peroxide-after", limits) == limits
    assert "must be below 0.5 mg/L, company value" in house.sheet().item("peroxide-after").sentence


def test_at_least_holds_at_the_limit_and_not_for_what_was_not_found(house):
    house.types("disinfect-scope", "here")
    target = f"{Company.load().shock_target_mg_l:g}"
    limits = {target: "passed", f"> {target}": "passed", "1": "failed", f"< {target}": "failed"}
    assert says(house, "chlorine-mixed", limits) == limits


def test_a_pressure_that_rises_or_falls_by_two_holds(house):
    house.types("hold-piping", "yes")
    house.types("hold-start", "60")
    limits = {"58": "passed", "57.9": "failed", "60": "passed", "64": "passed"}
    assert says(house, "hold-end", limits) == limits


def test_an_hour_of_a_wash_is_a_whole_hour(house):
    assert house.says("wash-hour", "3", part="filter", side="left") == "passed"
    assert house.says("wash-hour", "3.5", part="filter", side="left") == "failed"


def test_an_unchecked_warning_stops_even_what_passes(house):
    """The label of the product says 7 percent; 7.3 is within a twentieth, 7.5 is not."""
    for text, warned in (("7", False), ("7.3", False), ("7.5", True), ("6.6", True)):
        kept = house.types("label-strength", text, part="feeder")
        assert bool(kept.warning) == warned, text
    assert house.state("label-strength") == "look-twice"
    assert "label-strength" in [each.key.split(".")[0] for each in house.sheet().missing()]
    assert house.says("label-strength", "6.6", part="feeder", confirmed=True) == "answered"


def test_a_passed_gate_with_an_unusual_figure_waits_for_the_second_look(house):
    house.types("hold-piping", "yes")
    house.types("hold-start", "60")
    assert house.says("hold-end", "149") == "look-twice"
    assert house.says("hold-end", "149", confirmed=True) == "passed"


def test_peroxide_from_eight_percent_and_at_the_limit_of_the_company(house):
    """35 percent is the company's value."""
    for text, said in (("7.9", "on file"), ("8", "damages eyes"), ("35", "damages eyes")):
        assert said in house.types("label-strength", text, part="feeder").warning
    with pytest.raises(BadEntry, match="at most 35 percent"):
        house.types("label-strength", "35.1", part="feeder")


@pytest.mark.parametrize(
    ("key", "text", "taken"),
    [
        ("hold-minutes", "0", True),
        ("hold-minutes", "1440", True),
        ("hold-minutes", "1440.5", False),
        ("hold-minutes", "-1", False),
        ("hold-minutes", "12,5", True),
        ("scope", "no such choice", False),
    ],
)
def test_hard_limits_take_what_stands_at_them(house, key, text, taken):
    house.types("hold-piping", "yes")
    if taken:
        assert house.types(key, text).text == text
    else:
        with pytest.raises(BadEntry):
            house.types(key, text)


def test_a_figure_at_the_edge_of_the_usual_is_usual(house):
    """Chlorine left after the contact time: below 10 mg/L is unusual."""
    house.types("disinfect-scope", "here")
    assert house.types("chlorine-left", "10").warning == ""
    assert "below 10" in house.types("chlorine-left", "9.9").warning


# --- one line after another ---------------------------------------------------------------------


def test_the_low_reading_counts_only_after_the_high_one_has_passed(house):
    house.types("disinfect-scope", "here")
    assert house.says("flush-low", "0.1", now=NOW + 9 * MINUTE) == "failed"
    assert "comes after this one" in house.sheet().item("flush-low").sentence
    house.types("flush-high", "10", now=NOW + MINUTE)
    assert "counts only after this has passed" in house.sheet().item("flush-low").sentence
    house.types("flush-high", "9", now=NOW + 10 * MINUTE)
    assert "must be read after this one" in house.sheet().item("flush-low").sentence
    assert house.says("flush-low", "0.2", now=NOW + 10 * MINUTE) == "passed"


def test_two_parts_wash_in_two_hours_and_a_part_in_its_own(house):
    assert house.says("wash-hour", "3", part="filter", side="left") == "passed"
    house.types("wash-hour", "3", part="softener", side="left")
    assert house.state("wash-hour") == "failed"
    house.types("wash-hour", "4", part="softener", side="left")
    assert house.state("wash-hour") == "passed"


@pytest.mark.parametrize(
    ("key", "text", "state"),
    [
        ("cut-out", "40", "failed"),
        ("cut-out", "40.5", "passed"),
        ("precharge", "40", "failed"),
        ("precharge", "39", "passed"),
    ],
)
def test_cut_out_lies_above_and_pre_charge_below_the_cut_in(key, text, state):
    record, _, lead = make_house(purpose="survey", kind="survey")
    survey = House(record, lead)
    survey.types("cut-in", "40", side="left")
    assert survey.says(key, text, side="left") == state
    stops = {item.line.key for item in survey.sheet().items if item.stops_closing}
    assert (key in stops) == (state == "failed")


def test_a_gate_that_is_left_out_is_open_and_a_question_is_not(house):
    for key, state in (("no-start", "open"), ("raw-sulfide", "skipped")):
        skip_line(record=house.record, place=Place(key), reason="no kit", by=house.lead, now=NOW)
        assert house.state(key) == state


def test_a_gate_is_passed_over_before_it_is_answered(house):
    override_gate(
        record=house.record, line_key="hold-minutes", reason="no gauge", by=house.lead, now=NOW
    )
    house.types("hold-piping", "yes")
    assert house.state("hold-minutes") == "overridden"
    assert house.says("hold-minutes", "12") == "passed"


def test_only_no_use_stands_against_handing_the_water_over(house):
    for level, state in (("sample_pending", "passed"), ("no_use", "failed")):
        notice = open_notice(
            danger=Danger(house.record.site, level, "chlorine", "oxidant"),
            by=house.lead,
            now=NOW,
        )
        assert house.state("notice-state") == state
    lifted(notice, house.lead)
    assert house.state("notice-state") == "passed"
    assert DoNotUse.objects.standing().count() == 1


def test_a_tap_of_the_heater_is_asked_about_where_chlorine_goes_into_the_heater(house):
    house.types("disinfect-scope", "not_needed")
    assert house.sheet().item("flush-hot") is None
    house.types("disinfect-scope", "here")
    house.types("heater", "treated")
    assert house.sheet().item("flush-hot")


def test_a_diluted_reading_is_shown_with_its_dilution(house):
    house.types("raw-iron", "4", dilution=2)
    assert house.sheet().item("raw-iron").shown == "4 mg/L x 2"
    house.types("raw-iron", "4")
    assert house.sheet().item("raw-iron").shown == "4 mg/L"


# --- waits --------------------------------------------------------------------------------------


def test_a_wait_is_over_at_its_last_minute_and_not_before(house):
    house.types("disinfect-scope", "here")
    poured(house.record, house.lead, at=NOW)
    start_timer(record=house.record, line_key="contact", by=house.lead, now=NOW)
    assert house.state("contact", NOW + 12 * HOUR - MINUTE) == "open"
    assert house.state("contact", NOW + 12 * HOUR) == "passed"


@pytest.mark.parametrize(("hours", "state"), [(11, "failed"), (12, "passed")])
def test_a_stopped_wait_counts_to_where_it_was_stopped(house, hours, state):
    house.types("disinfect-scope", "here")
    poured(house.record, house.lead, at=NOW)
    start_timer(record=house.record, line_key="contact", by=house.lead, now=NOW)
    for later in (hours, 13):
        at = NOW + later * HOUR
        stop_timer(record=house.record, line_key="contact", by=house.lead, now=at)
    assert house.state("contact", NOW + 20 * HOUR) == state


def test_a_wait_that_was_stopped_too_soon_has_failed_at_once(house):
    house.types("disinfect-scope", "here")
    poured(house.record, house.lead, at=NOW)
    start_timer(record=house.record, line_key="contact", by=house.lead, now=NOW)
    stop_timer(record=house.record, line_key="contact", by=house.lead, now=NOW + HOUR)
    assert house.state("contact", NOW + HOUR + MINUTE) == "failed"


def test_weak_chlorine_stays_in_longer_than_the_shortest_time(house):
    """At 50 mg/L the wait is a day: computed, and longer than the company's twelve hours."""
    Company.objects.update_or_create(pk=1, defaults={"shock_target_mg_l": 50})
    well = house.record.train.wells.get()
    for key, value in (("casing_diameter", 6), ("total_depth", 240), ("static_level", 60)):
        make_measurement(well=well, quantity_key=key, value=value)
    for key, text in (
        ("disinfect-scope", "here"),
        ("chlorine-product", "liquid"),
        ("chlorine-strength", "5.25"),
    ):
        house.types(key, text)
    needed = house.sheet().outcomes.expected("shock-chlorination.contact_time")
    poured(house.record, house.lead, at=NOW)
    timer = start_timer(record=house.record, line_key="contact", by=house.lead, now=NOW)
    assert needed > 12
    assert timer.needed_minutes == pytest.approx(60 * needed)


# --- what is asked ------------------------------------------------------------------------------


@pytest.mark.parametrize(("carbon", "asked"), [(True, "chlorine-after"), (False, "chlorine-tap")])
def test_chlorine_is_read_behind_the_carbon_or_at_the_tap(carbon, asked):
    train = make_train(stages=("filter",))
    Medium.objects.update(is_carbon=carbon)
    make_stage(train=train, kind="feeder", product=make_product("c", oxidant="chlorine"))
    record, _, lead = make_house(train=train)
    keys = {item.line.key for item in House(record, lead).sheet().items}
    assert keys & {"chlorine-after", "chlorine-tap"} == {asked}
    assert ("soaked" in keys) == carbon


def test_one_answer_of_many_parts_opens_a_question(house):
    house.types("disinfect-scope", "here")
    house.types("bypass-list", "bypassed", part="softener")
    asked = [item.stage.kind for item in house.sheet().items if item.line.key == "sanitised"]
    assert asked == ["softener"]


# --- what is computed ---------------------------------------------------------------------------


@pytest.fixture
def filled(house):
    answer_all(house.record, house.lead, without=("steps",))
    return house


def known(house, panel, key, part=""):
    sheet = house.sheet()
    return sheet.outcomes.of(panel, sheet.stage(part) if part else None).known[key]


def test_what_was_read_today_wins_over_what_is_on_file(filled):
    site, well = filled.record.site, filled.record.train.wells.get()
    make_measurement(site=site, quantity_key="iron", value=9, place="raw")
    make_measurement(well=well, quantity_key="pump_flow", value=99)
    assert known(filled, PanelName.OXIDANT_DEMAND, "iron").value == 3
    assert known(filled, PanelName.FEED_SETTING, "flow").value == 8
    assert known(filled, PanelName.FEED_SETTING, "strength").value == 71.6


def test_a_calibrated_pump_wins_over_its_plate(filled):
    """26 mL in 3 minutes at 20 percent: 43.3 mL/min at full output, 16.5 gallons a day."""
    assert known(filled, PanelName.DOSE_FROM_SETTING, "feeder_output").value == 24
    set_step(record=filled.record, setting=PumpSetting(percent=20), by=filled.lead, now=NOW)
    output = known(filled, PanelName.DOSE_FROM_SETTING, "feeder_output")
    assert output.value == pytest.approx(26 / 3 / 0.2 * 1440 / 3785.41, rel=1e-3)


def test_water_used_in_a_day_is_counted_or_of_the_people(filled):
    """75 gallons for each of three people; counted figures win, and are shared among them."""
    assert known(filled, PanelName.FILTER_INTERVAL, "daily_use", "filter").value == 225
    make_measurement(site=filled.record.site, quantity_key="daily_use", value=300)
    assert known(filled, PanelName.FILTER_INTERVAL, "daily_use", "filter").value == 300
    assert known(filled, PanelName.SOFTENER, "use_per_person", "softener").value == 100


@pytest.mark.parametrize(("side", "flow"), [("before", 8), ("after", 6)])
def test_water_passes_the_retention_tank_as_fast_as_the_pump_or_the_house(filled, side, flow):
    make_measurement(site=filled.record.site, quantity_key="peak_flow", value=6)
    Train.objects.update(retention_side=side)
    filled.record.refresh_from_db()
    assert known(filled, PanelName.CONTACT, "flow").value == flow


def test_twin_tanks_hold_twice_the_water(filled):
    before = known(filled, PanelName.TURNOVER, "volume").value
    filled.record.train.stages.filter(kind="filter").update(parallel_count=2)
    after = known(filled, PanelName.TURNOVER, "volume").value
    assert after - before == pytest.approx(18.36, abs=0.01)


def test_salt_is_eight_pounds_a_cubic_foot_unless_the_part_says_otherwise(filled):
    assert known(filled, PanelName.SOFTENER, "salt_dose", "softener").text == "8 lb/ft3"
    filled.record.train.stages.filter(kind="softener").update(salt_dose_lb_ft3=6)
    assert known(filled, PanelName.SOFTENER, "salt_dose", "softener").value == 6


def test_the_aim_follows_the_sulfide_of_the_raw_water(filled):
    """2 to 10 mg/L for iron alone, 5 to 15 with sulfide: company values, common practice."""
    for sulfide, aim in (("2", (5, 15)), ("0", (2, 10)), ("< 0.1", (2, 10))):
        filled.types("raw-sulfide", sulfide)
        assert filled.sheet().aim == aim
        assert known(filled, PanelName.OXIDANT_DEMAND, "residual").value == sum(aim) / 2


def test_a_wait_goes_by_the_tap_of_its_step(filled):
    step = set_step(
        record=filled.record,
        setting=PumpSetting(percent=20),
        tap_flow_gpm=10,
        by=filled.lead,
        now=NOW,
    )
    sheet = filled.sheet()
    assert step.tap_flow_gpm == 10
    assert wait_minutes(sheet.outcomes, sheet.steps[0]) == pytest.approx(47, abs=0.1)
    assert wait_minutes(sheet.outcomes) == pytest.approx(94, abs=0.1)


def test_a_glass_that_was_not_clear_before_says_nothing(filled):
    assert not looks_say_nothing(filled.sheet())
    filled.types("glass-treated", "few")
    assert looks_say_nothing(filled.sheet())
    filled.types("glass-treated", "clear")
    filled.types("soaked", "not_soaked")
    assert looks_say_nothing(filled.sheet())


def test_the_use_level_of_the_product_is_told_to_the_advice(filled):
    OxidantProduct.objects.update(maximum_use_level_mg_l=25)
    advice = filled.sheet().advice
    assert advice.json["inputs"]["maximum_use_level"]["value"] == 25
    assert advice.json["inputs"]["target_high"]["value"] == 15
