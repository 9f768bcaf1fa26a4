"""What work promises, from the act that makes a promise to the worklist that shows it."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import Stage
from equipment.quantities import SettingName
from jobs.errors import BadEntry, WrongState
from jobs.models import FollowUp, FollowUpRule
from jobs.models.company import company_day
from jobs.workflows import follow_ups
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.samples import Result, enter_result, send_sample
from jobs.workflows.trains import end_stage
from tests.acts import HOUR, arrived, booked, closed, opened, visited, worked
from tests.conftest import NOW
from tests.factories import (
    Sample,
    make_record,
    make_rule,
    make_setting,
    make_staff,
    make_startup_train,
    make_train,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = company_day(NOW)


@pytest.fixture
def rules():
    call_command("load_rules", verbosity=0)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def listed(dispatcher_client, clock):
    """Names of what the worklist shows on a day: days late, or less than nothing days left."""

    def on(day):
        clock(NOW + day * DAY)
        groups = dispatcher_client.get(reverse("worklist")).context["groups"]
        rows = [row for group in groups for row in group.rows]
        return {row.follow_up.rule.code: row.late or -row.left for row in rows}

    return on


def every_service(**rule):
    """A rule under which a closed service promises something."""
    given = {"event": "visit_closed", "filter": {"job_kind": "service"}, **rule}
    return make_rule("x1", **given)


# --- kept, and not kept -------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "kept"), [(6, False), (7, True), (21, True)])
def test_work_before_its_window_does_not_keep_a_promise(lead, listed, days, kept):
    """Due after 14 days, seven days of window before it: on day 6 it is too early to tell."""
    every_service(closing_parameters={"job_kinds": ["recheck"]})
    train = make_train(stages=("softener",))
    worked(train, lead)
    worked(train, lead, "recheck", at=NOW + days * DAY)
    assert ("x1" in listed(30)) != kept


def test_the_visit_that_kept_a_promise_stands_beside_it(lead):
    every_service(closing_parameters={"job_kinds": ["recheck"]})
    train = make_train(stages=("softener",))
    worked(train, lead)
    job = worked(train, lead, "recheck", at=NOW + 14 * DAY)
    promise = FollowUp.objects.get()
    assert (promise.status, promise.visit) == ("done", job.visits.get())


def test_a_visit_keeps_what_it_carries_where_no_kind_is_asked(lead, listed):
    every_service(closing_parameters={})
    train = make_train(stages=("softener",))
    worked(train, lead)
    worked(train, lead, "repair", at=NOW + 14 * DAY)
    assert "x1" in listed(30)
    job = opened(train, "repair", at=NOW + 15 * DAY)
    visit = booked(job, lead, at=NOW + 15 * DAY, follow_ups=FollowUp.objects.alive())
    arrived(visit)
    closed(visit)
    assert "x1" not in listed(30)


@pytest.mark.parametrize(("outcome", "kept"), [("stable", True), ("no_fault", False)])
def test_only_a_named_outcome_keeps_it(lead, listed, outcome, kept):
    every_service(closing_parameters={"job_kinds": ["recheck"], "outcomes": ["stable"]})
    train = make_train(stages=("softener",))
    worked(train, lead)
    visited(opened(train, "recheck", at=NOW + 14 * DAY), lead, outcome, at=NOW + 14 * DAY)
    assert ("x1" in listed(30)) != kept


@pytest.mark.parametrize(
    ("lines", "kept"),
    [({"a": "1", "b": "2"}, True), ({"a": "1"}, False), ({"a": "1", "b": ""}, False)],
)
def test_every_line_it_waits_for_is_answered(lead, listed, lines, kept):
    every_service(closing_parameters={"job_kinds": ["recheck"], "line_keys": ["a", "b"]})
    train = make_startup_train()
    worked(train, lead)
    job = opened(train, "recheck", at=NOW + 14 * DAY)
    record = make_record(job=job, by=lead)
    for key, text in lines.items():
        record.answers.create(line_key=key, text=text, read_at=NOW, saved_at=NOW, by=lead)
    type(record).objects.filter(pk=record.pk).update(status="closed", closed_at=NOW, closed_by=lead)
    visited(job, lead, at=NOW + 14 * DAY)
    assert ("x1" in listed(30)) != kept


# --- again --------------------------------------------------------------------------------------


def test_a_promise_every_so_many_days_counts_from_the_work_and_not_from_its_day(lead, listed):
    """Due after 14 days, done on day 20, every 100 days: due on day 120, a week of window."""
    every_service(recurrence={"every_days": 100}, closing_parameters={"job_kinds": ["refill"]})
    train = make_train(stages=("softener",))
    worked(train, lead)
    worked(train, lead, "refill", at=NOW + 20 * DAY)
    assert "x1" not in listed(112)
    assert listed(113)["x1"] == -14
    assert listed(128)["x1"] == 8


def test_a_promise_every_so_many_months_keeps_its_day(lead, listed):
    every_service(
        recurrence={"every_months": 12},
        closing_parameters={"job_kinds": ["refill"]},
        window_before_days=5,
        window_after_days=9,
    )
    train = make_train(stages=("softener",))
    worked(train, lead)
    worked(train, lead, "refill", at=NOW + 20 * DAY)
    again = FollowUp.objects.alive().get()
    assert again.due_on == (TODAY + 14 * DAY).replace(year=TODAY.year + 1)
    assert (again.due_on - again.window_from).days == 5
    assert (again.window_until - again.due_on).days == 9


def test_newer_work_moves_an_open_promise_and_leaves_a_booked_one(lead):
    every_service()
    train = make_train(stages=("softener",))
    worked(train, lead)
    worked(train, lead, at=NOW + 3 * DAY)
    first, second = FollowUp.objects.order_by("cycle")
    assert (first.status, second.status) == ("superseded", "open")
    booked(opened(train, "recheck"), lead, at=NOW + 9 * DAY, follow_ups=[second])
    worked(train, lead, at=NOW + 5 * DAY)
    assert FollowUp.objects.alive().get() == second


def test_a_rule_that_is_not_in_force_promises_nothing(lead, listed):
    every_service(is_active=False)
    worked(make_train(stages=("softener",)), lead)
    assert listed(30) == {}


# --- the interval of a wash, the refill, the feeder ---------------------------------------------


def started_up(train, by, **facts):
    return follow_ups.happened(
        event=FollowUpRule.Event.STARTUP_CLOSED,
        about=follow_ups.About(train.site, train),
        day=TODAY,
        by=by,
        now=NOW,
        completed=True,
        disinfected=False,
        **facts,
    )


def test_the_interval_is_looked_at_from_three_weeks_on_and_late_after_six_and_a_half(
    rules, lead, listed
):
    started_up(make_startup_train(), lead)
    assert "f2" not in listed(20)
    assert listed(21)["f2"] == -24
    assert listed(45)["f2"] == 0
    assert listed(46)["f2"] == 46 - 21, "late after the window, counted from the due day"


def test_without_a_programmed_interval_a_run_is_taken_as_seven_days(rules, lead):
    started_up(make_startup_train(), lead)
    assert {(row.due_on - TODAY).days for row in FollowUp.objects.filter(rule__code="f2")} == {21}


@pytest.mark.parametrize(
    ("run", "due"),
    [
        *[(3, 21), (4, 24), (5, 25), (12, 24), (40, 40), (60, 45)],
        (1.4, 21),  # fifteen runs to the day
        (1.9, 32),  # the first day from the 21st that is in the last fifth of one: 16.84 runs
        (0.99, 21),  # in none up to the 45th
    ],
)
def test_the_day_is_the_end_of_a_run(rules, lead, run, due):
    train = make_train(stages=("filter",))
    make_setting(
        stage=train.stages.get(), name=SettingName.WASH_INTERVAL, new_value=run, unit="day"
    )
    started_up(train, lead)
    assert (FollowUp.objects.get(rule__code="f2").due_on - TODAY).days == due


def test_a_part_that_was_taken_out_is_promised_nothing(rules, lead):
    train = make_startup_train()
    end_stage(stage=train.stages.get(kind="feeder"), on=TODAY, by=lead, now=NOW)
    started_up(train, lead)
    found = FollowUp.objects.values_list("rule__code", "stage__kind")
    assert sorted(found) == [("f11", None), ("f2", "filter"), ("f2", "softener")]


@pytest.mark.parametrize(
    ("outcome", "found"),
    [("completed", {"f1": -21, "f3": -183}), ("defect_found", {"f1": -5, "f3": -183})],
)
def test_a_feeder_set_and_left_on_is_looked_at_sooner_where_a_defect_stays(
    rules, lead, outcome, found
):
    """With a defect two working days and three of window, else two weeks and one of window."""
    train = make_startup_train()
    visit = booked(opened(train, "repair"), lead)
    arrived(visit)
    make_setting(stage=train.stages.get(kind="feeder"), at=NOW + HOUR / 2)
    closed(visit, outcome, feeder="on")
    rows = {row.rule.code: row for row in FollowUp.objects.select_related("rule")}
    assert {code: (TODAY - rows[code].window_until).days for code in found} == found


def test_a_setting_before_the_arrival_is_none_of_this_visit(rules, lead):
    """Booked for nine, arrived at eleven; at ten somebody else had set the pump."""
    train = make_startup_train()
    feeder = train.stages.get(kind="feeder")
    visit = booked(opened(train), lead)
    make_setting(stage=feeder, at=NOW + HOUR)
    arrived(visit, at=NOW + 2 * HOUR)
    closed(visit, at=NOW + 3 * HOUR, feeder="on")
    assert not FollowUp.objects.filter(rule__code="f1").exists()


@pytest.mark.parametrize(
    ("strength", "changed"), [(71.6, False), (78, False), (80, True), (35, True)]
)
def test_another_strength_of_the_solution_is_another_dose(lead, strength, changed):
    feeder = make_startup_train().stages.get(kind="feeder")
    for name, value in ((SettingName.OUTPUT, 20), (SettingName.STRENGTH, 71.6)):
        make_setting(stage=feeder, name=name, new_value=value, at=NOW - 40 * DAY)
    make_setting(stage=feeder, name=SettingName.STRENGTH, new_value=strength, at=NOW)
    assert follow_ups.feeder_changed_since(feeder, NOW - HOUR) == changed


def test_a_new_pump_is_a_change_whatever_it_is_set_to(lead):
    feeder = make_startup_train().stages.get(kind="feeder")
    Stage.objects.filter(pk=feeder.pk).update(fitted_on=TODAY)
    feeder.refresh_from_db()
    assert follow_ups.feeder_changed_since(feeder, NOW)


def poured(stage, *, at=NOW, now=None, by=None):
    return record_fill(
        stage=stage,
        poured=Poured(at=at, product_gal=5),
        by=by or make_staff("technician"),
        now=now or at,
    )


def test_a_fill_keeps_the_promise_of_its_tank_and_counts_from_its_day(rules, lead, listed):
    """Told three days later: the half year of the company counts from the pouring."""
    first, second = make_startup_train(), make_startup_train()
    started_up(first, lead)
    started_up(second, lead)
    feeder = first.stages.get(kind="feeder")
    poured(feeder, at=NOW + 30 * DAY, now=NOW + 33 * DAY)
    rows = FollowUp.objects.filter(rule__code="f3")
    assert rows.filter(status="done").get().stage == feeder
    assert rows.get(status="open", stage=feeder).due_on == TODAY + 210 * DAY
    assert rows.get(status="open", train=second).due_on == TODAY + 180 * DAY


# --- samples ------------------------------------------------------------------------------------


def bottle(train, by, kind="bacteria", *, at=NOW, now=None):
    sample = Sample(site=train.site, kind=kind, taken_at=at, taken_by=by, place="raw")
    return send_sample(sample=sample, by=by, now=now or at)


def read(sample, outcome, by, *, at):
    result = Result(outcome, company_day(at))
    return enter_result(sample=sample, result=result, by=by, now=at)


def test_a_result_keeps_what_waited_for_that_bottle_only(rules, lead, listed):
    train = make_train()
    bottles = [bottle(train, lead, "annual"), bottle(train, lead, "annual")]
    read(bottles[0], "results", lead, at=NOW + DAY)
    missing = FollowUp.objects.alive().get(rule__code="f15")
    assert missing.subject_key == f"sample:{bottles[1].pk}"
    assert listed(12) == {"f15": 10}


def test_a_bottle_of_another_kind_does_not_keep_the_annual_test(rules, lead):
    train = make_train()
    started_up(train, lead)
    read(bottle(train, lead, "bacteria"), "negative", lead, at=NOW + DAY)
    read(bottle(train, lead, "survey"), "results", lead, at=NOW + DAY)
    assert FollowUp.objects.alive().filter(rule__code="f11").exists()
    read(bottle(train, lead, "annual", at=NOW + 2 * DAY), "results", lead, at=NOW + 3 * DAY)
    assert FollowUp.objects.alive().get(rule__code="f11").cycle == 2


def test_the_result_is_missed_from_the_day_the_bottle_was_filled(rules, lead, listed):
    """Filled on Friday and told on Wednesday: Wednesday is the third working day."""
    bottle(make_train(), lead, at=NOW - 5 * DAY, now=NOW)
    assert listed(-1)["f15"] == 0
    assert listed(0)["f15"] == 1


def test_a_result_is_late_from_the_third_working_day(rules, lead, listed):
    """Filled on Wednesday: Friday is the second one, and nobody works before Monday."""
    bottle(make_train(), lead)
    assert [listed(day)["f15"] for day in (2, 4)] == [-2, 0]
    assert listed(5)["f15"] == 3


# --- put off, given up, settled -----------------------------------------------------------------


@pytest.fixture
def promise(lead):
    every_service()
    worked(make_train(stages=("softener",)), lead)
    return FollowUp.objects.get()


def test_put_off_means_another_day(promise, lead):
    with pytest.raises(BadEntry, match="after today"):
        follow_ups.snooze(follow_up=promise, until=TODAY, reason="away", by=lead, now=NOW)


def test_a_booked_promise_is_neither_put_off_nor_given_up(promise, lead):
    booked(opened(promise.train), lead, at=NOW + DAY, follow_ups=[promise])
    promise.refresh_from_db()
    with pytest.raises(WrongState, match="Only an open promise"):
        follow_ups.snooze(follow_up=promise, until=TODAY + DAY, reason="away", by=lead, now=NOW)
    with pytest.raises(WrongState, match="A visit carries this promise"):
        follow_ups.waive(follow_up=promise, reason="sold the house", by=lead, now=NOW)


@pytest.mark.parametrize(("reason", "taken"), [("sold", False), ("moved", True), (" sold ", False)])
def test_giving_up_takes_a_reason_of_five_letters(promise, lead, reason, taken, dispatcher_client):
    sent = {"reason": reason}
    answer = dispatcher_client.post(reverse("follow-up-waive", args=[promise.pk]), sent)
    assert (answer.status_code == 302) == taken
    promise.refresh_from_db()
    assert (promise.status == "waived") == taken


def test_a_closed_account_is_no_owner_of_what_is_put_off(promise, lead, owner):
    owner.is_active = False
    owner.save()
    second = make_staff("owner")
    for days in (1, 2, 3):
        follow_ups.snooze(
            follow_up=promise, until=TODAY + days * DAY, reason="away", by=lead, now=NOW
        )
    assert promise.owner == second


@pytest.mark.parametrize(("figure", "promised"), [(10, False), (10.01, True), (9, False)])
def test_above_means_above(lead, figure, promised):
    make_rule("x1", event="setting_changed", filter={"dose_moved_percent": {"above": 10}})
    train = make_train()
    follow_ups.happened(
        event=FollowUpRule.Event.SETTING_CHANGED,
        about=follow_ups.About(train.site, train),
        day=TODAY,
        by=lead,
        now=NOW,
        dose_moved_percent=figure,
    )
    assert FollowUp.objects.exists() == promised
