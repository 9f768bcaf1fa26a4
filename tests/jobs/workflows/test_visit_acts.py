"""From booking to closing: what each act leaves for the office, the report and the customer."""

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.errors import BadEntry, WrongState
from jobs.models import Job, OutboxMail, Visit
from jobs.models.company import company_day
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows.jobs import Wanted, cancel_job, open_job
from jobs.workflows.people import close_account
from jobs.workflows.records import close_record
from jobs.workflows.visits import set_out
from tests.acts import (
    HOUR,
    arrived,
    booked,
    called_back,
    closed,
    held,
    moved,
    opened,
    visited,
    worked,
)
from tests.conftest import NOW
from tests.factories import make_customer, make_rule, make_site, make_staff, make_tenure, make_train
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = company_day(NOW)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def train():
    return make_train(stages=("softener",))


def report(window=90, today=TODAY):
    return callback_report(Selection(date(2026, 1, 1), TODAY, window, today))


# --- booking ------------------------------------------------------------------------------------


def test_fourteen_hours_are_booked_and_not_a_minute_more(train, lead):
    assert booked(opened(train), lead, hours=14).pk
    with pytest.raises(BadEntry, match="at most 14 hours"):
        booked(opened(train), lead, at=NOW + DAY, hours=14 + 1 / 60)


def test_nobody_is_his_own_second_person(train, lead):
    with pytest.raises(BadEntry, match="must be another one") as refused:
        booked(opened(train), lead, helper=lead)
    assert refused.value.field == "helper"


def test_a_tentative_visit_holds_the_time_and_writes_nobody(dispatcher_client, train, lead):
    visit = booked(opened(train), lead, status="tentative")
    assert not OutboxMail.objects.exists()
    day = dispatcher_client.get(reverse("day"), {"on": TODAY.isoformat()}).content.decode()
    assert re.search(r'class="box at-\d+ for-4"', day)
    assert visit.status == Visit.Status.TENTATIVE


def test_a_closed_account_is_sent_nowhere(train, lead, owner):
    visit = booked(opened(train), lead)
    close_account(user=lead, by=owner, now=NOW)
    lead = type(lead).objects.get(pk=lead.pk)
    with pytest.raises(BadEntry, match="Tess Alder is not a technician"):
        booked(opened(train), lead, at=NOW + DAY)
    with pytest.raises(BadEntry, match="Tess Alder is not a technician"):
        moved(visit, at=NOW + DAY, lead=lead)


def test_a_customer_is_told_an_hour_unless_somebody_says_otherwise(train, lead):
    visit = booked(opened(train), lead, hours=4)
    assert (visit.arrive_from, visit.arrive_until) == (NOW, NOW + HOUR)
    told = held(lead, arrive_until=NOW + 3 * HOUR)
    assert told.window == (NOW, NOW + 3 * HOUR)


def test_a_house_without_notice_is_not_stopped_by_that_of_another(train, lead, dispatcher_client):
    flooded = {"level": "no_drinking", "cause": "flood", "reason": "flooded"}
    where = reverse("notice-new", args=[make_train().site.pk])
    assert dispatcher_client.post(where, flooded).status_code == 302
    assert booked(opened(train, "startup"), lead).pk


def test_a_visit_under_way_is_moved_by_hand_too(train, lead):
    """Stuck behind a tree: set out, then moved to the afternoon."""
    visit = set_out(visit=booked(opened(train), lead), by=lead, now=NOW)
    assert moved(visit, at=NOW + 3 * HOUR).starts_at == NOW + 3 * HOUR


def test_what_is_closed_or_cancelled_is_not_booked_again(train, lead):
    with pytest.raises(WrongState, match="open a new one"):
        booked(worked(train, lead), lead, at=NOW + DAY)


def test_a_job_with_a_visit_to_come_is_not_cancelled(train, lead):
    job = opened(train)
    booked(job, lead)
    with pytest.raises(WrongState, match="Cancel or close its visits first"):
        cancel_job(job=job, reason="sold", by=lead, now=NOW)


def test_time_held_after_leaving_is_free_again(train, lead):
    """Left at half past, the next call is booked for that very quarter."""
    visit = booked(opened(train), lead, hours=4)
    arrived(visit)
    closed(visit, at=NOW + HOUR / 2)
    assert booked(opened(train), lead, at=NOW + HOUR / 2).pk


# --- the day of handing over, and whose work it is ----------------------------------------------


def test_the_clock_of_callbacks_starts_when_the_house_was_left(train, lead):
    """Told two days later from the office: the report counts from the day on site."""
    job = opened(train)
    visit = booked(job, lead, at=NOW - 9 * DAY)
    arrived(visit)
    closed(visit, at=NOW - 9 * DAY, now=NOW - 7 * DAY)
    job.refresh_from_db()
    assert job.index_on == TODAY - 9 * DAY
    called_back(job, at=NOW)
    counts = callback_report(Selection(TODAY - 10 * DAY, TODAY - 8 * DAY, 90, TODAY)).total
    assert (counts.jobs, counts.outside) == (1, 1)


def test_who_handed_the_water_over_stays_when_another_finishes_the_job():
    """The start-up waits for a bottle; another technician comes for the paper a week later."""
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    arrived(visit)
    closed(visit, "waiting", at=NOW + 5 * HOUR)
    other = make_staff("technician", last_name="Beech")
    job = visited(record.job, other, at=NOW + 7 * DAY)
    assert (job.status, job.index_on, job.installer) == (Job.Status.COMPLETED, TODAY, lead)
    later = TODAY + 100 * DAY
    people = callback_report(Selection(TODAY, TODAY, 90, later)).people
    assert [(person.pk, person.counts.judgeable) for person in people] == [(lead.pk, 1)]


@pytest.mark.parametrize(
    ("outcome", "ticked", "defects"),
    [("completed", False, 0), ("completed", True, 1), ("defect_found", False, 1)],
)
def test_a_defect_at_a_recheck_stands_beside_the_rate(train, lead, outcome, ticked, defects):
    worked(train, lead, at=NOW - 100 * DAY)
    recheck = opened(train, "recheck", at=NOW - 90 * DAY, planned=True)
    visited(recheck, lead, outcome, at=NOW - 90 * DAY, defect_found=ticked)
    total = report().total
    assert (total.judgeable, total.defects, total.callbacks) == (1, defects, 0)


def test_an_unplanned_recheck_finds_defects_too(train, lead):
    """The customer asked for it; nothing was promised, and the defect is one all the same."""
    worked(train, lead, at=NOW - 100 * DAY)
    visited(opened(train, "interval", at=NOW - 50 * DAY), lead, "defect_found", at=NOW - 50 * DAY)
    assert report().total.defects == 1


def test_a_second_visit_to_finished_work_takes_no_defect_back(train, lead):
    """Two visits were booked; the first found the defect, the second only fetched the tools."""
    worked(train, lead, at=NOW - 100 * DAY)
    recheck = opened(train, "recheck", at=NOW - 90 * DAY, planned=True)
    second = booked(recheck, lead, at=NOW - 80 * DAY)
    visited(recheck, lead, "defect_found", at=NOW - 90 * DAY)
    arrived(second)
    closed(second)
    assert report().total.defects == 1


def test_what_a_visit_promises_counts_from_the_day_on_site(clock, train, lead, dispatcher_client):
    """Told three days later: due two weeks after the visit, not after the telling."""
    make_rule(event="visit_closed", filter={"job_kind": "service"})
    visit = booked(opened(train), lead, at=NOW - 3 * DAY)
    arrived(visit)
    closed(visit, at=NOW - 3 * DAY + HOUR, now=NOW)
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert "due 21\u00a0Jun," in page.partition("What it promised")[2]


def test_no_access_is_said_where_what_was_tried_is_asked(train, lead):
    visit = booked(opened(train), lead)
    arrived(visit)
    with pytest.raises(BadEntry, match="Choose how the visit ended"):
        closed(visit, "no_access")


def test_what_is_not_finished_is_in_no_rate(train, lead):
    job = opened(train, "service", at=NOW - 100 * DAY)
    visited(job, lead, "incomplete_parts", at=NOW - 100 * DAY)
    assert (job.status, job.index_on) == (Job.Status.OPEN, None)
    assert report().total.jobs == 0


# --- callbacks ----------------------------------------------------------------------------------


def test_a_callback_to_a_callback_is_one_to_the_first_job(train, lead):
    first = worked(train, lead, at=NOW - 100 * DAY)
    second = visited(called_back(first, at=NOW - 90 * DAY), lead, at=NOW - 90 * DAY, cause="A_leak")
    third = called_back(second, at=NOW - 60 * DAY)
    assert third.origin == first
    found = report()
    assert (found.total.judgeable, found.total.callbacks) == (1, 1)
    assert found.people[0].returns == 2


@pytest.mark.parametrize(
    ("kind", "is_callback", "charge"),
    [
        ("repair", True, "goodwill"),
        ("repair", False, "billable"),
        ("recheck", False, "goodwill"),
        ("interval", False, "goodwill"),
        ("refill", False, "billable"),
    ],
)
def test_nobody_pays_for_our_own_second_look(train, lead, kind, is_callback, charge):
    first = worked(train, lead, at=NOW - 10 * DAY)
    job = called_back(first, kind=kind) if is_callback else opened(train, kind)
    assert job.charge_kind == charge


def test_a_callback_is_closed_with_its_cause_and_by_whom(train, lead, owner_client):
    first = worked(train, lead, at=NOW - 100 * DAY)
    visit = booked(called_back(first, at=NOW - 90 * DAY), lead, at=NOW - 90 * DAY)
    arrived(visit)
    with pytest.raises(BadEntry, match="what caused this callback"):
        closed(visit)
    closed(visit, cause="A_leak", cause_note="union hand tight")
    page = owner_client.get(reverse("cause-review")).content.decode()
    assert "union hand tight" in page
    assert Job.objects.get(pk=visit.job_id).cause_by == lead


def test_an_unfinished_callback_is_not_asked_for_its_cause(train, lead):
    first = worked(train, lead, at=NOW - 10 * DAY)
    assert visited(called_back(first), lead, "incomplete_parts").status == Job.Status.OPEN


def test_the_day_of_a_report_is_today_at_the_latest(train):
    assert opened(train, reported_on=TODAY).reported_on == TODAY
    with pytest.raises(BadEntry, match="cannot lie ahead"):
        opened(train, reported_on=TODAY + DAY)


def test_earlier_work_is_on_the_same_system_of_the_same_house(train, lead):
    elsewhere = worked(make_train(stages=("softener",)), lead)
    with pytest.raises(BadEntry, match="on the same system"):
        opened(train, "callback", origin=elsewhere, callback_answer="yes")
    with pytest.raises(BadEntry, match="which earlier job"):
        opened(train, "callback", callback_answer="yes")


def test_a_system_of_another_house_is_refused(train, lead):
    with pytest.raises(BadEntry, match="stands at another house"):
        open_job(site=make_site(), train=train, wanted=Wanted("service", TODAY), by=lead, now=NOW)


def test_work_is_asked_for_by_the_contact_of_the_house():
    site = make_site(customer=make_customer(name="Ada Quill"))
    make_tenure(site=site, customer=make_customer(name="A. Tenant"), is_contact=False)
    assert opened(make_train(site=site)).customer.name == "Ada Quill"


# --- the recheck that we owed -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("days", "done_after", "workmanship"),
    [
        (21, None, 1),  # the last day of its window
        (22, None, 0),  # we were late when the customer called
        (22, 20, 1),  # it had been done
        (22, 22, 1),  # done on the day of the call
        (22, 23, 0),
    ],
)
def test_a_setting_that_our_late_recheck_would_have_found_is_not_the_installers(
    lead, days, done_after, workmanship
):
    make_rule(
        event="visit_closed",
        filter={"job_kind": "service"},
        closing_parameters={"job_kinds": ["recheck"]},
    )
    train = make_train(stages=("feeder",))
    begun = NOW - 120 * DAY
    first = worked(train, lead, at=begun)
    if done_after is not None:
        visited(
            opened(train, "recheck", at=begun + done_after * DAY, planned=True),
            lead,
            at=begun + done_after * DAY - HOUR,
        )
    at = begun + days * DAY
    visited(called_back(first, at=at), lead, at=at, cause="B_low")
    total = report().total
    assert (total.callbacks, total.workmanship) == (1, workmanship)


def test_a_late_recheck_next_door_excuses_nobody(lead):
    make_rule(event="visit_closed", filter={"job_kind": "startup"})
    begun = NOW - 120 * DAY
    worked(make_train(stages=("feeder",)), lead, "startup", at=begun)
    first = worked(make_train(stages=("feeder",)), lead, at=begun + 2 * HOUR)
    at = begun + 40 * DAY
    visited(called_back(first, at=at), lead, at=at, cause="B_low")
    assert report().total.workmanship == 1
