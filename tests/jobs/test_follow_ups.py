"""Promises arise from rule rows, stand once, and end only by what keeps them."""

from datetime import date, timedelta

import pytest
from django.core.management import call_command

from equipment.models import StoredAssessment
from jobs.errors import BadEntry, WrongState
from jobs.models import FollowUp, FollowUpRule, Job
from jobs.models.company import company_day
from jobs.records.loading import load_sheet
from jobs.records.paper import paper_of
from jobs.schedule.working_days import add_working_days
from jobs.workflows import follow_ups
from jobs.workflows.follow_up_booking import book_from
from jobs.workflows.follow_up_dates import run_end_days, validate_rule
from jobs.workflows.records import close_record, open_record
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.visits import Held, arrive
from tests.acts import HOUR, answered, booked, bottled, opened
from tests.conftest import NOW
from tests.factories import (
    make_fill,
    make_follow_up,
    make_job,
    make_record,
    make_sample,
    make_setting,
    make_staff,
    make_startup_train,
    make_visit,
)
from tests.record_scenes import acknowledge_all, answer_all, make_ready, read_final_step

pytestmark = pytest.mark.django_db
DAY = company_day(NOW)


@pytest.fixture(autouse=True)
def rules(db):
    call_command("load_rules", verbosity=0)


@pytest.fixture
def train():
    return make_startup_train()


def start_up(train, by, **facts):
    about = follow_ups.About(train.site, train)
    return follow_ups.happened(
        event="startup_closed", about=about, day=DAY, by=by, now=NOW, **facts
    )


def codes(rows):
    return sorted({row.rule.code for row in rows})


def test_a_closed_start_up_promises_recheck_interval_refill_and_annual_test(train):
    made = start_up(train, make_staff("technician"))
    assert {"f1", "f2", "f3", "f11"} <= set(codes(made))
    f1 = next(row for row in made if row.rule.code == "f1")
    assert f1.due_on == DAY + timedelta(days=14)
    assert (f1.window_from, f1.window_until) == (DAY + timedelta(days=7), DAY + timedelta(days=21))
    f2 = [row for row in made if row.rule.code == "f2"]
    assert {row.stage.kind for row in f2} == {"filter", "softener"}
    assert all(21 <= (row.due_on - DAY).days <= 45 for row in f2)


def test_the_same_event_twice_adds_nothing(train):
    by = make_staff("technician")
    first = start_up(train, by)
    assert start_up(train, by) == first
    assert FollowUp.objects.count() == len(first)


def test_only_a_disinfected_well_promises_a_bacteria_sample(train):
    by = make_staff("technician")
    assert "f13" not in codes(start_up(train, by, disinfected=False))
    assert "f13" in codes(start_up(train, by, disinfected=True))


@pytest.mark.parametrize("run_days", [1, 2, 3, 5, 7, 10, 14])
def test_an_interval_is_looked_at_in_the_last_fifth_of_its_run(run_days):
    days = run_end_days(run_days)
    assert 21 <= days <= 45
    share = days / run_days % 1
    assert run_days < 3 or share >= 0.8 or share == 0


@pytest.mark.parametrize(
    ("supply_days", "shelf_days", "wanted", "basis"),
    [
        (50, 75, 40, "level"),
        (300, 75, 75, "age"),
        (1000, 1000, 180, "cap"),
        (1, 75, 1, "level"),  # not on the day it was filled
    ],
)
def test_a_refill_is_due_at_the_earliest_of_level_age_and_cap(
    train, supply_days, shelf_days, wanted, basis
):
    by = make_staff("technician")
    feeder = train.stages.get(kind="feeder")
    feeder.product.shelf_life_days = shelf_days
    feeder.product.save()
    StoredAssessment.objects.create(
        name="feed-setting",
        method_version="feed/1",
        site=train.site,
        train=train,
        inputs={},
        results={"days_of_supply": {"value": supply_days, "unit": "day"}},
        recorded_at=NOW,
        recorded_by=by,
    )
    refill = next(row for row in start_up(train, by) if row.rule.code == "f3")
    assert (refill.due_on - DAY).days == wanted
    assert (refill.window_from - DAY).days == max(0, wanted - 14), "no day of it has gone by"
    assert basis in refill.details["basis"]


def test_a_refill_follows_the_newest_record_of_the_system():
    """Four fifths of what the tank lasts at the setting that was left, not at the computed one."""
    first, visit, lead = make_ready()
    close_record(record=first, visit=visit, by=lead, now=NOW + HOUR)
    at = NOW + timedelta(days=30)
    visit = booked(opened(first.train, "startup", at=at), lead, at=at)
    record = open_record(job=visit.job, purpose="startup", by=lead, now=at)
    worse = {"raw-iron": "10", "raw-sulfide": "6"}
    answer_all(record, lead, answers=worse, without=("steps",), now=at)
    read_final_step(record, lead, now=at)
    acknowledge_all(record, lead, now=at)
    outcomes = load_sheet(record, now=at).outcomes
    said = outcomes.of("dose-from-setting").value("days_of_supply")
    assert said != pytest.approx(outcomes.of("feed-setting").value("days_of_supply"))
    assert said * 0.8 < 180, "the company's cap would come first"
    close_record(record=record, visit=visit, by=lead, now=at + HOUR)
    due = company_day(at) + timedelta(days=int(said * 0.8))
    paper = paper_of(record, load_sheet(record, now=at + HOUR), visit=visit)
    refill = next(row for row in paper["next"] if "efill" in row["what"])
    assert refill["when"] == f"about {due:%B %-d, %Y}"


def test_a_fill_keeps_the_refill_promise_and_makes_the_next(train):
    by = make_staff("technician")
    start_up(train, by)
    feeder = train.stages.get(kind="feeder")
    follow_ups.close_by_fill(fill=make_fill(stage=feeder, by=by), by=by, now=NOW)
    cycles = FollowUp.objects.filter(rule__code="f3").order_by("cycle")
    assert [row.status for row in cycles] == ["done", "open"]


def test_a_feeder_left_on_by_an_unfinished_visit_is_looked_at_within_two_working_days(train):
    lead = make_staff("technician")
    visit = make_visit(job=make_job(train=train, kind="startup"), lead=lead, arrived_at=NOW)
    feeder = train.stages.get(kind="feeder")
    make_setting(stage=feeder, at=NOW + timedelta(minutes=30))
    close_visit(
        visit=visit,
        ending=Ending("incomplete_parts", "on", "service"),
        by=lead,
        now=NOW + timedelta(hours=1),
    )
    f1 = FollowUp.objects.get(rule__code="f1")
    assert f1.due_on == add_working_days(DAY, 2)
    assert f1.window_from <= DAY


def test_an_unchanged_feeder_left_on_makes_no_new_promise(train):
    lead = make_staff("technician")
    feeder = train.stages.get(kind="feeder")
    make_setting(stage=feeder, at=NOW - timedelta(days=40))
    visit = make_visit(job=make_job(train=train, kind="service"), lead=lead, arrived_at=NOW)
    close_visit(visit=visit, ending=Ending("completed", "on", "service"), by=lead, now=NOW)
    assert not FollowUp.objects.filter(rule__code="f1").exists()


@pytest.mark.parametrize(("new", "changed"), [(32, False), (34, True), (20, True)])
def test_a_dose_moved_by_more_than_a_tenth_counts_as_changed(train, new, changed):
    feeder = train.stages.get(kind="feeder")
    make_setting(stage=feeder, new_value=30, at=NOW - timedelta(days=40))
    make_setting(stage=feeder, new_value=new, at=NOW)
    assert follow_ups.feeder_changed_since(feeder, NOW - timedelta(minutes=5)) is changed


def recheck_visit(train, lead, promise, *, answered):
    job = make_job(train=train, kind="recheck", planned=True)
    promise.status = "open"
    visit = make_visit(job=job, lead=lead, arrived_at=NOW)
    FollowUp.objects.filter(pk=promise.pk).update(status="booked", visit=visit)
    record = make_record(job=job)
    for key in answered:
        record.answers.create(line_key=key, text="3", read_at=NOW, saved_at=NOW, by=lead)
    record.status, record.closed_at, record.closed_by = "closed", NOW, lead
    record.save()
    return visit


@pytest.mark.parametrize(
    ("answered", "status"),
    [
        (["peroxide-retention", "stop-first", "stop-second"], "done"),
        (["chlorine-retention", "stop-first", "stop-second"], "done"),
        (["stop-first", "stop-second"], "open"),
        (["peroxide-retention", "stop-first"], "open"),
    ],
)
def test_a_recheck_is_kept_only_with_its_required_readings(train, answered, status):
    lead = make_staff("technician")
    promise = make_follow_up(train=train, rule=FollowUpRule.objects.get(code="f1"))
    visit = recheck_visit(train, lead, promise, answered=answered)
    close_visit(visit=visit, ending=Ending("stable", "on", "service"), by=lead, now=NOW)
    promise.refresh_from_db()
    assert promise.status == status


def test_a_negative_sample_keeps_the_bacteria_promise_and_a_positive_one_does_not(train):
    by = make_staff("dispatcher")
    start_up(train, by, disinfected=True)
    week = NOW + timedelta(days=7)
    answered(bottled(train.site, at=week), "positive")
    assert FollowUp.objects.alive().filter(rule__code="f13").exists()
    answered(bottled(train.site, at=week + timedelta(days=7)), "negative")
    assert not FollowUp.objects.alive().filter(rule__code="f13").exists()


def test_the_annual_test_comes_again_on_its_day(train):
    by = make_staff("dispatcher")
    start_up(train, by)
    sample = make_sample(site=train.site, kind="annual", outcome="results")
    follow_ups.close_by_result(sample=sample, by=by, now=NOW + timedelta(days=300))
    first, second = FollowUp.objects.filter(rule__code="f11").order_by("cycle")
    assert first.status == "done"
    assert second.due_on == first.due_on.replace(year=first.due_on.year + 1)


def test_booking_from_the_list_opens_the_job_and_carries_the_promise(train):
    by, lead = make_staff("dispatcher"), make_staff("technician")
    start_up(train, by)
    promise = FollowUp.objects.get(rule__code="f1")
    start = NOW + timedelta(days=14)
    held = Held(lead, start, start + timedelta(hours=1))
    visit = book_from(follow_up=promise, held=held, by=by, now=NOW)
    promise.refresh_from_db()
    assert (promise.status, promise.visit_id) == ("booked", visit.pk)
    assert (visit.job.kind, visit.job.planned) == ("recheck", True)
    late = Held(
        make_staff("technician"), start + timedelta(days=1), start + timedelta(days=1, hours=1)
    )
    with pytest.raises(WrongState, match="booked or ended already"):
        book_from(follow_up=promise, held=late, by=by, now=NOW)
    assert Job.objects.count() == 1, "of two who book it the second opens nothing"


def test_a_late_promise_stays_late_when_it_is_put_off(train):
    by = make_staff("dispatcher")
    promise = make_follow_up(train=train, due_on=DAY - timedelta(days=30))
    follow_ups.snooze(
        follow_up=promise, until=DAY + timedelta(days=3), reason="away", by=by, now=NOW
    )
    assert promise in FollowUp.objects.overdue_on(DAY)
    assert promise not in FollowUp.objects.due_by(DAY)
    assert promise in FollowUp.objects.due_by(DAY + timedelta(days=3))


def test_the_third_putting_off_makes_it_the_owners(train, owner):
    promise = make_follow_up(train=train)
    by = make_staff("dispatcher")
    for days, whose in ((1, None), (2, None), (3, owner)):
        until = DAY + timedelta(days=days)
        follow_ups.snooze(follow_up=promise, until=until, reason="away", by=by, now=NOW)
        promise.refresh_from_db()
        assert promise.owner == whose


def test_overdue_begins_the_day_after_the_window(train):
    promise = make_follow_up(train=train, due_on=DAY - timedelta(days=7))
    assert promise.window_until == DAY
    assert promise not in FollowUp.objects.overdue_on(DAY)
    assert promise in FollowUp.objects.overdue_on(DAY + timedelta(days=1))


def test_waiving_needs_a_reason_and_no_visit(train):
    by = make_staff("dispatcher")
    promise = make_follow_up(train=train)
    with pytest.raises(BadEntry):
        follow_ups.waive(follow_up=promise, reason=" ", by=by, now=NOW)
    follow_ups.waive(follow_up=promise, reason="system removed", by=by, now=NOW)
    assert promise.status == "waived"
    with pytest.raises(WrongState):
        follow_ups.waive(follow_up=promise, reason="system removed", by=by, now=NOW)


def test_working_days_pass_over_weekends_and_holidays():
    # Thursday before Independence Day observed on Friday 3 July 2026
    assert add_working_days(date(2026, 7, 2), 1) == date(2026, 7, 6)


@pytest.mark.parametrize(
    ("field", "value", "said"),
    [
        ("filter", {"moon": 1}, "moon"),
        ("also_on", [{"event": "never"}], "event"),
        ("closing_parameters", {"colour": 1}, "colour"),
        ("recurrence", {"hourly": 1}, "every_days"),
    ],
)
def test_rule_parameters_that_no_code_reads_are_refused(field, value, said):
    rule = FollowUpRule.objects.get(code="f1")
    setattr(rule, field, value)
    with pytest.raises(BadEntry, match=said):
        validate_rule(rule)


def test_a_bypassed_system_with_a_running_feeder_is_refused(train):
    lead = make_staff("technician")
    visit = make_visit(job=make_job(train=train), lead=lead)
    arrive(visit=visit, by=lead, now=NOW)
    with pytest.raises(BadEntry, match="unplug the dosing pump"):
        close_visit(
            visit=visit,
            ending=Ending("completed", "on", "bypassed"),
            by=lead,
            now=NOW,
        )
