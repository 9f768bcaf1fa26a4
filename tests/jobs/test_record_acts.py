"""A record from the first answer to what it leaves: evidence, settings, paper, promises."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import Fill, Measurement, OxidantProduct, SettingChange, StoredAssessment
from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.models import DoNotUse, FollowUp, Job
from jobs.records.loading import load_sheet
from jobs.records.paper import paper_of
from jobs.workflows.answers import Place, override_gate, skip_line
from jobs.workflows.dial_back import Seen, read_step, set_step, skip_step
from jobs.workflows.records import close_record, open_record
from jobs.workflows.timers import restart_timer, start_timer
from jobs.workflows.visits import cancel_visit
from jobs.workflows.way_out import WayOut
from tests.acts import HOUR, arrived, booked, closed, poured
from tests.conftest import NOW
from tests.factories import (
    make_job,
    make_site,
    make_staff,
    make_startup_train,
    make_visit,
    make_well,
)
from tests.record_scenes import answer, answer_all, make_house, make_ready

pytestmark = pytest.mark.django_db
DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
LATER = NOW + 5 * HOUR


# --- a start-up, told on the next morning -------------------------------------------------------


def test_what_a_closing_leaves_is_of_the_hour_and_the_hand_that_read_it(dispatcher_client):
    """The helper reads the iron at eleven, diluted; the lead closes on the next morning."""
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    helper = make_staff("technician", first_name="Otto", last_name="Beech")
    visit.helper = helper
    visit.save()
    read_at = NOW + HOUR
    answer(record, helper, "raw-iron", "4", dilution=2, now=read_at)
    well_of_house = make_well(site=record.site)
    feeder = load_sheet(record, now=NOW).feeder
    answer(record, helper, "solution-level", "11", stage=feeder, now=read_at)
    arrived(visit)
    closed(visit, "waiting", at=NOW + 6 * HOUR)
    visit.refresh_from_db()
    close_record(record=record, visit=visit, by=lead, now=NOW + DAY)

    rows = Measurement.objects.filter(occasion=record.uuid)
    iron = rows.get(line_key="raw-iron")
    assert (iron.value, iron.dilution, iron.place) == (8, 2, "raw")
    assert (iron.measured_at, iron.recorded_by, iron.site) == (read_at, helper, record.site)
    assert rows.get(line_key="peroxide-retention").place == "after_stage"
    assert rows.get(line_key="pump-flow").well != well_of_house
    assert rows.get(line_key="tap-iron").well is None
    settings = {"solution-strength", "wash-interval", "wash-hour", "hardness-set", "pump-setting"}
    assert not rows.filter(line_key__in=settings).exclude(side="found").exists()

    output = SettingChange.objects.get(occasion=record.uuid, name="output_percent")
    assert (output.new_value, output.at) == (20, NOW)
    fill = Fill.objects.get(occasion=record.uuid, stage__kind="feeder")
    assert (fill.level_after_gal, fill.at, fill.strength_g_l) == (11, read_at, 71.6)
    stored = StoredAssessment.objects.filter(occasion=record.uuid)
    assert {"dial-in", "feed-setting"} <= set(stored.values_list("name", flat=True))
    assert "bucket-flow" not in set(stored.values_list("name", flat=True))

    record.refresh_from_db()
    handed_over = NOW.date()
    assert record.job.index_on == record.train.handed_over_on == handed_over
    recheck = FollowUp.objects.get(rule__code="f1")
    assert recheck.due_on == handed_over + 14 * DAY
    page = dispatcher_client.get(reverse("site-history", args=[record.site_id])).content.decode()
    assert "Otto Beech" in page


def test_a_second_start_up_keeps_the_first_day_of_the_system():
    record, visit, lead = make_ready()
    record.train.handed_over_on = NOW.date() - 300 * DAY
    record.train.save()
    close_record(record=record, visit=visit, by=lead, now=LATER)
    record.train.refresh_from_db()
    assert record.train.handed_over_on == NOW.date() - 300 * DAY


def test_a_record_is_closed_in_a_visit_of_its_own_job():
    record, _, lead = make_house()
    elsewhere = make_visit(job=make_job(train=make_startup_train()), lead=lead, starts_at=LATER)
    with pytest.raises(BadEntry, match="belongs to another job"):
        close_record(record=record, visit=elsewhere, by=lead, now=LATER)


def test_a_job_that_is_over_gets_no_record():
    record, visit, lead = make_ready()
    arrived(visit)
    close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    closed(visit, at=NOW + 5 * HOUR)
    job = Job.objects.get()
    with pytest.raises(WrongState, match="not open any more"):
        open_record(job=job, purpose="recheck", by=lead, now=LATER)
    assert open_record(job=job, purpose="startup", by=lead, now=LATER) == record


# --- answers ------------------------------------------------------------------------------------


@pytest.fixture
def house():
    record, _, lead = make_house()
    return record, lead


def test_a_reading_may_be_five_minutes_ahead_of_the_server(house):
    record, lead = house
    assert answer(record, lead, "raw-iron", "3", at=NOW + 5 * MINUTE).read_at == NOW
    with pytest.raises(BadEntry, match="lies ahead"):
        answer(record, lead, "raw-iron", "4", at=NOW + 6 * MINUTE)


def test_an_answer_takes_the_reason_for_leaving_it_out_away(house):
    record, lead = house
    skip_line(record=record, place=Place("raw-iron"), reason="no kit today", by=lead, now=NOW)
    assert record.answers.get(line_key="raw-iron").skip_reason == "no kit today"
    kept = answer(record, lead, "raw-iron", "3", now=LATER)
    assert (kept.skip_reason, kept.saved_at) == ("", LATER)


def test_another_figure_is_looked_at_again(house):
    record, lead = house
    first = answer(record, lead, "raw-iron", "60", confirmed=True)
    assert first.warning_confirmed_at == NOW
    assert answer(record, lead, "raw-iron", "70").warning_confirmed_at is None


def test_what_must_be_said_cannot_be_left_out(house):
    record, lead = house
    answer(record, lead, "disinfect-scope", "not_needed")
    with pytest.raises(BadEntry, match="cannot be left out"):
        skip_line(record=record, place=Place("disinfect-why"), reason="later", by=lead, now=NOW)


@pytest.mark.parametrize("side", ["", "middle"])
def test_a_setting_says_whether_it_was_found_or_left_so(house, side):
    record, lead = house
    softener = load_sheet(record, now=NOW).stage("softener")
    with pytest.raises(BadEntry, match="found or left"):
        answer(record, lead, "wash-hour", "3", stage=softener, side=side)


def test_a_part_is_one_of_this_system(house):
    record, lead = house
    other = make_startup_train().stages.get(kind="filter")
    with pytest.raises(BadEntry, match="choose a part of this system"):
        answer(record, lead, "backwash-flow", "9", stage=other)


def test_the_office_fills_no_record_unless_it_goes_out_itself(house):
    record, _ = house
    both = make_staff("dispatcher", "technician")
    assert answer(record, both, "raw-iron", "3").by == both
    with pytest.raises(NotAllowed, match="leads or helps"):
        answer(record, make_staff("dispatcher"), "raw-iron", "4")


def test_a_wait_that_was_not_stopped_does_not_begin_anew(house):
    record, lead = house
    answer(record, lead, "disinfect-scope", "here")
    poured(record, lead, at=NOW)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    again = start_timer(record=record, line_key="contact", by=lead, now=LATER)
    assert again.started_at == NOW
    with pytest.raises(WrongState, match="Only a stopped wait"):
        restart_timer(record=record, line_key="contact", by=lead, now=LATER)
    assert DoNotUse.objects.standing().get().level == "no_use"


# --- the dial-back ------------------------------------------------------------------------------


@pytest.fixture
def dialled(house):
    record, lead = house
    answer_all(record, lead, without=("steps",))
    return record, lead


def set_to(record, lead, percent, *, at=NOW, **more):
    return set_step(record=record, setting=PumpSetting(percent=percent), by=lead, now=at, **more)


def read(record, lead, low=5.0, high=10.0, *, at=NOW + 3 * HOUR, **more):
    seen = Seen("clear", low, high, **more)
    return read_step(record=record, number=1, seen=seen, by=lead, now=at, at=more.pop("at", None))


def test_a_dose_at_the_use_level_is_fed_and_one_above_it_is_not(dialled):
    record, lead = dialled
    sheet = load_sheet(record, now=NOW)
    at_20 = sheet.outcomes.typed("dose-from-setting", None, {"setting": "20 percent"})
    OxidantProduct.objects.update(maximum_use_level_mg_l=at_20.value("dose"))
    for percent in (20.1, 22, 30):
        with pytest.raises(BadEntry, match="maximum use level"):
            set_to(record, lead, percent)
    assert set_to(record, lead, 20).setting_percent == 20


def test_a_step_is_not_read_before_it_was_set(dialled):
    record, lead = dialled
    set_to(record, lead, 20, at=NOW + HOUR)
    seen = Seen("clear", 5.0, 10.0)
    with pytest.raises(BadEntry, match="cannot be read before it was set"):
        read_step(record=record, number=1, seen=seen, by=lead, now=LATER, at=NOW + HOUR - MINUTE)
    early = read_step(record=record, number=1, seen=seen, by=lead, now=LATER, at=NOW + HOUR)
    assert (early.turnovers, early.read_at) == (0, NOW + HOUR)


@pytest.mark.parametrize(
    ("given", "taken"),
    [
        ({"tap_flow_gpm": 0.1}, True),
        ({"tap_flow_gpm": 0.05}, False),
        ({"tap_flow_gpm": 60}, True),
        ({"tap_flow_gpm": 61}, False),
        ({"drawdown_ml_min": 1000}, True),
        ({"drawdown_ml_min": 1001}, False),
    ],
)
def test_flow_and_feed_of_a_step_are_what_a_house_can_have(house, given, taken):
    record, lead = house
    if taken:
        assert set_to(record, lead, 20, **given).pk
    else:
        with pytest.raises(BadEntry):
            set_to(record, lead, 20, **given)


@pytest.mark.parametrize(
    ("low", "high", "taken"),
    [(5, 5, True), (6, 5, False), (1000, None, True), (1001, None, False), (-1, None, False)],
)
def test_a_residual_is_a_span_that_a_strip_can_show(house, low, high, taken):
    record, lead = house
    set_to(record, lead, 20)
    if taken:
        assert read(record, lead, low, high).residual_low_mg_l == low
    else:
        with pytest.raises(BadEntry, match="Residual"):
            read(record, lead, low, high)


def test_the_tap_of_the_reading_wins_over_that_of_the_setting(dialled):
    """100 minutes at 10 instead of 5 gpm are twice the turnovers."""
    record, lead = dialled
    set_to(record, lead, 20)
    at = NOW + 100 * MINUTE
    once = read_step(record=record, number=1, seen=Seen("clear", 5, 10), by=lead, now=at)
    assert once.turnovers == pytest.approx(100 * 5 / 156.7, rel=1e-3)
    set_to(record, lead, 30, at=at, tap_flow_gpm=10)
    seen = Seen("clear", 5, 10, tap_flow_gpm=20)
    twice = read_step(record=record, number=2, seen=seen, by=lead, now=at + 100 * MINUTE)
    assert twice.turnovers == pytest.approx(4 * once.turnovers)


def test_a_step_that_was_left_and_then_read_has_its_reading(dialled):
    record, lead = dialled
    set_to(record, lead, 20)
    skip_step(record=record, number=1, reason="well ran low", by=lead, now=NOW)
    kept = read(record, lead)
    assert (kept.skip_reason, kept.read_at) == ("", NOW + 3 * HOUR)


# --- paper --------------------------------------------------------------------------------------


def test_paper_says_who_came_what_was_kept_and_what_was_passed_over():
    record, visit, lead = make_house()
    record.site.time_zone = "America/Los_Angeles"
    record.site.save()
    answer_all(record, lead, without=("steps", "raw-manganese"))
    off = booked(record.job, lead, at=NOW + 2 * DAY, now=NOW)
    cancel_visit(visit=off, reason="not needed", by=lead, now=NOW)
    set_to(record, lead, 40)
    read(record, lead, 100, None, at=NOW + 10 * MINUTE)
    answer(record, lead, "raw-iron", "60", confirmed=True)
    answer(record, lead, "stop-first", "9")
    answer(record, lead, "stop-second", "8")
    left = WayOut(unplugged=True, bypass="service")
    override_gate(
        record=record,
        line_key="stop-first",
        reason="relay ordered",
        way_out=left,
        by=lead,
        now=NOW,
    )
    skip_line(record=record, place=Place("raw-ph"), reason="no kit", by=lead, now=NOW)
    paper = paper_of(record, load_sheet(record, now=LATER), visit=visit)
    rows = {row["label"]: row for block in paper["blocks"] for row in block["rows"]}
    notes = " / ".join(row["note"] for row in rows.values() if row["note"])
    assert "relay ordered (dosing pump unplugged" in notes
    assert "no kit (Tess Alder)" in notes
    assert "at most 5" in notes
    assert "Looked at twice and kept." in notes
    assert [step["state"] for step in paper["steps"]] == ["early, not used"]
    assert [step["residual"] for step in paper["steps"]] == ["above 100"]
    assert paper["visits"] == ["June 10, 2026: Tess Alder"]


def test_paper_names_what_comes_next_at_this_house_only():
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_ready()
    other = make_startup_train(site=make_site())
    close_record(record=record, visit=visit, by=lead, now=LATER)
    assert other.site_id != record.site_id
    paper = paper_of(record, load_sheet(record, now=LATER), visit=visit)
    days = [row["when"] for row in paper["next"]]
    assert days[0] == "about June 24, 2026"
    settings = {row["name"]: row["new"] for row in paper["settings"]}
    assert settings["dosing pump setting"] == "20\u202f%"
    assert [step["state"] for step in paper["steps"]] == ["kept"]
