"""Booking and closing as typed: today is a day to book, who is asked what."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Job, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from tests.conftest import NOW, signed_in
from tests.factories import (
    make_follow_up,
    make_job,
    make_site,
    make_staff,
    make_startup_train,
    make_visit,
)
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)


@pytest.fixture(autouse=True)
def ten_in_the_morning(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def booked(client, lead, *, site=None, on=TODAY, start="13:00", **typed):
    sent = {
        "kind": "service",
        "lead": lead.pk,
        "status": "confirmed",
        "reported_on": TODAY.isoformat(),
        "day": on.isoformat(),
        "start": start,
        **typed,
    }
    site = site or make_site(street="3 Otter Lane")
    return client.post(f"{reverse('visit-book')}?site={site.pk}", sent)


def test_a_visit_of_this_afternoon_is_booked_and_stands_on_the_technicians_day(
    dispatcher_client, lead
):
    assert booked(dispatcher_client, lead).status_code == 302
    page = signed_in(lead).get(reverse("my-day")).content.decode()
    assert "3 Otter Lane" in page
    assert "13:00" in page


def test_yesterday_is_over(dispatcher_client, lead):
    answer = booked(dispatcher_client, lead, on=TODAY - timedelta(days=1))
    assert "This day is over" in answer.content.decode()


def test_the_customer_may_be_told_one_moment(dispatcher_client, lead):
    answer = booked(dispatcher_client, lead, arrive_from="13:00", arrive_until="13:00")
    assert answer.status_code == 302


def test_a_start_up_holds_half_a_day_unless_somebody_says_otherwise(dispatcher_client, lead):
    site = make_site(street="1 Otter Lane")
    booked(dispatcher_client, lead, kind="startup", site=site, sure="no-system")
    day = dispatcher_client.get(reverse("day"), {"on": TODAY.isoformat()}).content.decode()
    assert re.search(r'class="box at-\d+ for-18"', day)  # 4.5 hours in quarters


@pytest.mark.parametrize(("minutes", "status"), [(840, 302), (841, 422)])
def test_a_visit_is_fourteen_hours_long_at_most(dispatcher_client, lead, minutes, status):
    answer = booked(
        dispatcher_client,
        lead,
        on=TODAY + timedelta(days=1),
        start="07:00",
        minutes=minutes,
        sure="hours-07:00-21:00",
    )
    assert answer.status_code == status


def test_the_second_person_is_another_one(dispatcher_client, lead):
    answer = booked(dispatcher_client, lead, helper=lead.pk)
    assert answer.status_code == 422
    assert "The helper must be somebody else." in answer.content.decode()
    other = make_staff("technician", first_name="Otto", last_name="Beech")
    assert booked(dispatcher_client, lead, helper=other.pk).status_code == 302
    assert "3 Otter Lane" in signed_in(other).get(reverse("my-day")).content.decode()


# --- the end of a visit -------------------------------------------------------------------------


def closing(client, visit, **typed):
    client.post(reverse("visit-arrive", args=[visit.pk]))
    sent = {"outcome": "completed", "feeder_left": "off", "bypass_left": "service", **typed}
    return client.post(reverse("visit-close", args=[visit.pk]), sent)


@pytest.fixture
def earlier():
    train = make_startup_train()
    return make_job(train=train, kind="startup", status="completed", now=NOW - timedelta(days=20))


@pytest.mark.parametrize(
    ("answer", "asked"), [("yes", True), ("not_sure", True), ("no", False), ("", False)]
)
def test_a_cause_is_asked_where_it_may_be_a_callback(lead, earlier, answer, asked):
    origin = earlier if answer in ("yes", "not_sure") else None
    job = make_job(train=earlier.train, kind="repair", callback_answer=answer, origin=origin)
    visit = make_visit(job=job, lead=lead, starts_at=at_hour(TODAY, 13))
    page = signed_in(lead).get(reverse("visit-close", args=[visit.pk])).content.decode()
    assert ('name="cause"' in page) == asked
    assert 'value="no_access"' not in page


def test_a_house_with_a_feeder_cannot_be_left_without_saying_how_it_was_left(lead, earlier):
    visit = make_visit(job=make_job(train=earlier.train), lead=lead, starts_at=at_hour(TODAY, 13))
    client = signed_in(lead)
    page = client.get(reverse("visit-close", args=[visit.pk])).content.decode()
    assert "no dosing pump here" not in page
    assert closing(client, visit, feeder_left="none").status_code == 422
    assert closing(client, visit).status_code == 302


def test_who_moves_a_visit_begins_with_what_stands(dispatcher_client, lead):
    booked(dispatcher_client, lead, minutes=120, arrive_from="13:00", arrive_until="15:00")
    visit = Visit.objects.get()
    page = dispatcher_client.get(reverse("visit-move", args=[visit.pk])).context["form"]
    sent = {name: page.initial[name] for name in ("lead", "version", "minutes")}
    assert sent == {"lead": lead.pk, "version": 1, "minutes": 120}
    moved = {**sent, "day": TODAY.isoformat(), "start": "16:00"}
    assert dispatcher_client.post(reverse("visit-move", args=[visit.pk]), moved).status_code == 302


# --- the callback question ----------------------------------------------------------------------


def test_a_service_booked_for_a_promise_is_planned(dispatcher_client, lead, earlier):
    promise = make_follow_up(train=earlier.train, due_on=TODAY)
    sent = {
        "kind": "service",
        "train": earlier.train_id,
        "lead": lead.pk,
        "status": "confirmed",
        "callback": "no",
        "reported_on": TODAY.isoformat(),
        "day": TODAY.isoformat(),
        "start": "13:00",
    }
    where = f"{reverse('visit-book')}?follow_up={promise.pk}"
    assert dispatcher_client.post(where, sent).status_code == 302
    promise.refresh_from_db()
    assert promise.visit.job.planned


def test_what_is_called_in_is_not_planned_whatever_its_kind(dispatcher_client, lead, earlier):
    for number, (kind, said) in enumerate([("refill", "no"), ("service", "not_sure")]):
        booked(
            dispatcher_client,
            lead,
            kind=kind,
            on=TODAY + timedelta(days=number),
            site=earlier.site,
            train=earlier.train_id,
            callback=said,
        )
    refill, service = Job.objects.order_by("pk")[1:]
    assert (refill.planned, refill.callback_answer) == (False, "no")
    assert (service.planned, service.callback_answer, service.origin) == (
        False,
        "not_sure",
        earlier,
    )


def test_the_end_of_a_visit_takes_over_what_its_record_says():
    """How the bypass was left and what was found are said once, and may still be changed."""
    record, visit, lead = make_house(purpose="recheck", kind="recheck")

    def chosen():
        page = signed_in(lead).get(reverse("visit-close", args=[visit.pk])).content.decode()
        return set(re.findall(r'value="(\w+)"[^>]*\schecked', page))

    assert chosen() & {"bypassed", "defect_found"} == set()
    answer(record, lead, "bypass-left", "bypassed")
    answer(record, lead, "recheck-outcome", "defect_found")
    assert chosen() >= {"bypassed", "defect_found"}
