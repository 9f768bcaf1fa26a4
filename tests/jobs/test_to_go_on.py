"""A visit left to go on: on the list until somebody is booked, its word with the next."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import FollowUp, Visit
from jobs.workflows.records import open_record
from tests.acts import HOUR, arrived, booked, closed, opened
from tests.conftest import NOW, signed_in
from tests.factories import (
    make_customer,
    make_rule,
    make_site,
    make_staff,
    make_startup_train,
    make_train,
)
from tests.record_scenes import answer, load_checklists

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def left(lead, outcome="waiting", note="Chlorine stays in overnight; key with the neighbour."):
    site = make_site(customer=make_customer(name="Odile Reedham"))
    visit = booked(opened(make_train(site=site)), lead, at=NOW - 3 * HOUR)
    arrived(visit)
    return closed(visit, outcome, outcome_note=note)


def words(client, name, *args, **asked):
    return " ".join(client.get(reverse(name, args=args), asked).content.decode().split())


@pytest.mark.parametrize("outcome", ["waiting", "incomplete_parts", "stopped_unsafe", "referred"])
def test_what_is_left_open_stands_on_the_list_with_its_word(dispatcher_client, lead, outcome):
    visit = left(lead, outcome)
    page = words(dispatcher_client, "worklist")
    assert f"To go on: {Visit.Outcome(outcome).label}" in page
    assert "Left word: Chlorine stays in overnight" in page
    assert f"{reverse('visit-book')}?job={visit.job_id}" in page


def test_it_leaves_the_list_when_somebody_is_booked_and_when_the_job_is_done(
    dispatcher_client, lead
):
    visit = left(lead)
    again = booked(visit.job, lead, at=NOW + DAY, now=NOW)
    assert "To go on" not in words(dispatcher_client, "worklist")
    arrived(again)
    closed(again, "incomplete_time", outcome_note="Flush is not done.")
    page = words(dispatcher_client, "worklist")
    assert page.count("To go on") == 1
    assert "Flush is not done." in page
    last = booked(visit.job, lead, at=NOW + 2 * DAY, now=NOW)
    arrived(last)
    closed(last)
    assert "To go on" not in words(dispatcher_client, "worklist")


def test_the_next_technician_reads_the_word_on_day_visit_and_sheet(dispatcher_client, lead):
    visit = left(lead)
    other = make_staff("technician", first_name="Otto", last_name="Beech")
    later = booked(visit.job, other, at=NOW + HOUR, now=NOW)
    said = "by Tess Alder, 10 June 2026 (waiting (contact time or laboratory)): Chlorine stays in"
    assert said in words(signed_in(other), "my-day")
    assert said in words(signed_in(other), "visit-detail", later.pk)
    assert said in words(dispatcher_client, "day-sheet", on="2026-06-10")


# --- whose word settles -------------------------------------------------------------------------


@pytest.fixture
def review(lead):
    """The owner's look at the cause of a callback."""
    make_rule(
        "f24",
        name="Cause of a callback to review",
        event="visit_closed",
        filter={"job_kind": "service"},
        closing="acknowledged",
        subject="job",
        job_kind="",
        offset_days=0,
    )
    left(lead, "completed")
    return FollowUp.objects.get(rule__code="f24")


@pytest.mark.parametrize(
    ("act", "sent"),
    [("settle", {"note": "done"}), ("waive", {"reason": "nothing to review"})],
)
def test_a_dispatcher_settles_no_review_of_the_owner(
    dispatcher_client, owner_client, review, act, sent
):
    for client in (dispatcher_client, owner_client):
        answer = client.post(reverse(f"follow-up-{act}", args=[review.pk]), sent)
        assert answer.status_code == 422
        assert "The owner handles this by deciding the cause" in answer.content.decode()
    review.refresh_from_db()
    assert review.status == "open"
    page = words(dispatcher_client, "worklist")
    assert "For the owner" in page
    assert reverse("follow-up-settle", args=[review.pk]) not in page
    assert "Give up" not in words(dispatcher_client, "follow-up-detail", review.pk)
    assert reverse("cause-review") in words(owner_client, "follow-up-detail", review.pk)


def test_a_long_list_says_how_many_there_are(dispatcher_client, lead, monkeypatch):
    for hours in range(3):
        visit = booked(opened(make_train()), lead, at=NOW - (9 - hours) * HOUR)
        arrived(visit)
        closed(visit, "waiting", outcome_note="Tomorrow.")
    assert "3 visits" in words(dispatcher_client, "worklist")
    monkeypatch.setattr("jobs.pages.visit_calls.SHOWN", 2)
    page = words(dispatcher_client, "worklist")
    assert "the first 2 of 3 visits" in page
    assert page.count("To go on: waiting") == 2


@pytest.mark.parametrize("kind", ["startup", "disinfect"])
def test_work_that_its_record_completes_is_not_completed_without_one(lead, dispatcher_client, kind):
    job = opened(make_train(), kind)
    visit = booked(job, lead, at=NOW - 3 * HOUR)
    arrived(visit)
    page = signed_in(lead)
    where = reverse("visit-close", args=[visit.pk])
    told = {"feeder_left": "none", "bypass_left": "service"}
    answer = page.post(where, {"outcome": "completed", **told})
    assert answer.status_code == 422
    assert f"There is no record of this {job.get_kind_display()}" in answer.content.decode()
    visit.refresh_from_db()
    assert visit.status == "on_site"
    page.post(where, {"outcome": "incomplete_time", "outcome_note": "Tomorrow.", **told})
    job.refresh_from_db()
    assert job.status == "open"
    assert "To go on: " in words(dispatcher_client, "worklist")


@pytest.mark.parametrize(
    ("kind", "purpose", "line"),
    [("recheck", "recheck", None), ("survey", "survey", None), ("repair", "disinfect", "isolated")],
)
def test_work_whose_record_is_open_goes_on(lead, dispatcher_client, kind, purpose, line):
    load_checklists()
    job = opened(make_startup_train(), kind)
    visit = arrived(booked(job, lead, at=NOW - 3 * HOUR))
    begun = {"job": job, "purpose": purpose, "by": lead, "now": NOW}
    record = open_record(**begun)
    if line:
        answer(record, lead, line, "yes")
    where = reverse("visit-close", args=[visit.pk])
    told = {"feeder_left": "off", "bypass_left": "service", "outcome_note": "Tomorrow."}
    said = signed_in(lead).post(where, {"outcome": "completed", **told})
    assert f"({record.template.title}) is open: close it" in said.content.decode()
    signed_in(lead).post(where, {"outcome": "incomplete_time", **told})
    assert "To go on: " in words(dispatcher_client, "worklist")


def test_an_empty_record_that_was_opened_by_mistake_stops_nothing(lead):
    load_checklists()
    job = opened(make_startup_train(), "repair")
    visit = arrived(booked(job, lead, at=NOW - 3 * HOUR))
    open_record(job=job, purpose="survey", by=lead, now=NOW)
    closed(visit)
    job.refresh_from_db()
    assert job.status == "completed"
