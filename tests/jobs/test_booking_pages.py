"""Booking, moving and ending visits on the pages of office and technician."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import (
    CallbackFact,
    Company,
    Follow,
    Job,
    OutboxMail,
    TechnicianSlot,
    Visit,
    WorkNeed,
)
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.schedule.working_days import add_working_days
from jobs.workflows.visits import Held, move_visit
from tests import factories as make
from tests.acts import arrived, booked, closed, opened, worked
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db


@pytest.fixture
def lead():
    return make.make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def tomorrow():
    return add_working_days(company_day(timezone.now()), 1)


def booking(lead, on, **changed):
    return {
        "kind": "service",
        "symptom": "smell is back",
        "lead": lead.pk,
        "status": "confirmed",
        "reported_on": company_day(timezone.now()).isoformat(),
        "day": on.isoformat(),
        "start": "09:00",
        **changed,
    }


def book(client, site, sent):
    return client.post(f"{reverse('visit-book')}?site={site.pk}", sent)


def test_a_booked_visit_holds_the_usual_time_of_its_kind(dispatcher_client, lead, tomorrow):
    site = make.make_site()
    answer = book(dispatcher_client, site, booking(lead, tomorrow, kind="recheck"))
    visit = Visit.objects.get()
    assert answer.url == reverse("visit-detail", args=[visit.pk])
    assert visit.starts_at == at_hour(tomorrow, 9)
    assert visit.ends_at - visit.starts_at == timedelta(minutes=60)
    assert visit.arrive_until - visit.arrive_from == timedelta(hours=1)
    assert TechnicianSlot.objects.filter(technician=lead).count() == 4
    assert OutboxMail.objects.filter(visit=visit).count() == 1


def test_a_taken_time_is_refused_beside_what_was_typed(dispatcher_client, lead, tomorrow):
    make.make_visit(lead=lead, starts_at=at_hour(tomorrow, 9))
    answer = book(dispatcher_client, make.make_site(), booking(lead, tomorrow, start="09:30"))
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "smell is back" in page
    assert Visit.objects.count() == 1
    assert Job.objects.count() == 1


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"day": "2020-01-01"}, "This day is over"),
        ({"arrive_from": "10:00", "arrive_until": "09:00"}, "ends before it begins"),
        ({"minutes": "5"}, "At least 15, please."),
    ],
)
def test_a_slip_is_said_at_its_field(dispatcher_client, lead, tomorrow, changed, said):
    answer = book(dispatcher_client, make.make_site(), booking(lead, tomorrow, **changed))
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not Job.objects.exists()


# --- the callback question ----------------------------------------------------------------------


@pytest.fixture
def finished():
    """A start-up finished lately on the only system of a house."""
    train = make.make_startup_train()
    now = timezone.now() - timedelta(days=20)
    return make.make_job(train=train, kind="startup", status="completed", now=now)


def test_the_callback_question_must_be_answered_after_recent_work(
    dispatcher_client, lead, tomorrow, finished
):
    page = dispatcher_client.get(reverse("visit-book"), {"site": finished.site_id})
    assert "Is this because of earlier work?" in page.content.decode()
    sent = booking(lead, tomorrow, train=finished.train_id)
    answer = book(dispatcher_client, finished.site, sent)
    assert answer.status_code == 422
    assert "“not sure” is an answer" in answer.content.decode()
    assert Job.objects.count() == 1


@pytest.mark.parametrize(
    ("said", "kept", "has_origin"),
    [("yes-{pk}", "yes", True), ("not_sure", "not_sure", True), ("no", "no", False)],
)
def test_each_answer_is_kept_with_its_origin(
    dispatcher_client, lead, tomorrow, finished, said, kept, has_origin
):
    sent = booking(lead, tomorrow, train=finished.train_id, callback=said.format(pk=finished.pk))
    assert book(dispatcher_client, finished.site, sent).status_code == 302
    job = Job.objects.latest("pk")
    assert job.callback_answer == kept
    assert job.origin == (finished if has_origin else None)


@pytest.mark.parametrize("kind", Job.Kind.values)
def test_whatever_the_visit_is_for_the_question_is_asked(
    dispatcher_client, lead, tomorrow, finished, kind
):
    """Who calls because of bad water is booked as a recheck or a refill as well."""
    sent = booking(lead, tomorrow, train=finished.train_id, kind=kind)
    sent["sure"] = f"day-{tomorrow},no-well"
    answer = book(dispatcher_client, finished.site, sent)
    assert answer.status_code == 422
    assert "“not sure” is an answer" in answer.content.decode()


@pytest.mark.parametrize(("days", "status"), [(364, 422), (370, 302)])
def test_only_work_of_more_than_a_year_ago_is_not_asked_about(
    dispatcher_client, lead, tomorrow, days, status
):
    train, today = make.make_train(stages=("softener",)), company_day(timezone.now())
    worked(train, lead, at=at_hour(today - timedelta(days=days), 9))
    sent = booking(lead, tomorrow, train=train.pk)
    assert book(dispatcher_client, train.site, sent).status_code == status


def test_work_of_this_morning_is_offered_although_nobody_told_it_yet(
    dispatcher_client, lead, tomorrow
):
    """The customer calls before the technician has closed the visit."""
    train, today = make.make_train(stages=("softener",)), company_day(timezone.now())
    before, day = (at_hour(today - timedelta(days=n), 9) for n in (2, 1))
    visit = booked(opened(train, at=before), lead, at=day, now=before)
    page = dispatcher_client.get(reverse("visit-book"), {"site": train.site_id})
    assert "Yes, from: Service, not told yet" in page.content.decode()
    sent = booking(lead, tomorrow, train=train.pk, callback=f"yes-{visit.job_id}")
    assert book(dispatcher_client, train.site, sent).status_code == 302
    arrived(visit)
    closed(visit, now=timezone.now())
    row = Follow.objects.get(job=visit.job_id)
    assert (row.how, row.ended) == (Follow.How.CALLBACK, 1)


def test_the_question_offers_all_the_work_of_late(dispatcher_client, lead):
    train, today = make.make_train(stages=("softener",)), company_day(timezone.now())
    for days in (40, 20):
        worked(train, lead, at=at_hour(today - timedelta(days=days), 9))
    page = dispatcher_client.get(reverse("visit-book"), {"site": train.site_id})
    assert page.content.decode().count("Yes, from: Service") == 2


@pytest.mark.parametrize(("said", "kept"), [("promised", ""), ("yes-{pk}", "yes")])
def test_a_promise_may_be_booked_because_the_customer_called(
    dispatcher_client, lead, tomorrow, finished, said, kept
):
    """Then it is a report like any other, although we would have come anyway."""
    promise = make.make_follow_up(train=finished.train)
    sent = booking(lead, tomorrow, train=finished.train_id, callback=said.format(pk=finished.pk))
    where = f"{reverse('visit-book')}?follow_up={promise.pk}"
    page = dispatcher_client.get(where).content.decode()
    assert "No report: we come because we promised it" in page
    assert dispatcher_client.post(where, sent).status_code == 302
    job = Job.objects.latest("pk")
    assert (job.callback_answer, job.planned) == (kept, kept == "")
    assert CallbackFact.objects.filter(job=job).exists() == bool(kept)


def test_the_question_follows_the_chosen_system(dispatcher_client, finished):
    where = reverse("visit-callback", args=[finished.site_id])
    asked = {"kind": "service", "train": finished.train_id, "reported_on": "2020-01-01"}
    assert "no finished work" in dispatcher_client.get(where, asked).content.decode()
    asked["reported_on"] = company_day(timezone.now()).isoformat()
    assert "Yes, from: Start-up" in dispatcher_client.get(where, asked).content.decode()


# --- who is free --------------------------------------------------------------------------------


def test_the_table_of_the_day_shows_held_and_free_hours(dispatcher_client, lead, tomorrow):
    make.make_visit(lead=lead, starts_at=at_hour(tomorrow, 9), hours=1.5)
    page = dispatcher_client.get(reverse("visit-free"), {"day": tomorrow.isoformat()})
    text = page.content.decode()
    assert text.count("held") - text.count("“held”") == 1
    assert "2/4" in text


# --- moving, cancelling, running ----------------------------------------------------------------


@pytest.fixture
def visit(lead, tomorrow):
    return make.make_visit(lead=lead, starts_at=at_hour(tomorrow, 9))


def moving(visit, tomorrow, start="13:00"):
    return {
        "lead": visit.lead_id,
        "day": tomorrow.isoformat(),
        "start": start,
        "minutes": 60,
        "version": visit.version,
    }


def test_the_second_of_two_movers_sees_both_times(dispatcher_client, dispatcher, visit, tomorrow):
    sent = moving(visit, tomorrow)
    move_visit(
        visit=visit,
        version=visit.version,
        held=Held(visit.lead, at_hour(tomorrow, 15), at_hour(tomorrow, 16)),
        by=dispatcher,
        now=timezone.now(),
    )
    answer = dispatcher_client.post(reverse("visit-move", args=[visit.pk]), sent)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "<td>13:00</td><td>15:00</td>" in page
    visit.refresh_from_db()
    assert visit.starts_at == at_hour(tomorrow, 15)
    sent["version"] = visit.version
    assert dispatcher_client.post(reverse("visit-move", args=[visit.pk]), sent).status_code == 302


def test_cancelling_needs_a_reason_and_gives_promises_back(dispatcher_client, visit):
    promise = make.make_follow_up(site=visit.job.site, visit=visit, status="booked")
    where = reverse("visit-cancel", args=[visit.pk])
    assert dispatcher_client.post(where, {"reason": ""}).status_code == 422
    assert dispatcher_client.post(where, {"reason": "customer away"}).status_code == 302
    promise.refresh_from_db()
    assert (promise.status, promise.visit) == ("open", None)


def test_no_access_needs_the_arrival_and_a_note(lead):
    visit = make.make_visit(lead=lead, starts_at=timezone.now(), slots=False)
    client = signed_in(lead)
    where = reverse("visit-no-access", args=[visit.pk])
    assert client.post(where, {"note": "rang twice"}).status_code == 422
    client.post(reverse("visit-arrive", args=[visit.pk]))
    assert client.post(where, {"note": ""}).status_code == 422
    assert client.post(where, {"note": "rang twice"}).status_code == 302
    visit.refresh_from_db()
    assert visit.outcome == "no_access"


def test_closing_asks_how_the_feeder_was_left(lead):
    train = make.make_startup_train()
    job = make.make_job(train=train)
    visit = make.make_visit(job=job, lead=lead, starts_at=timezone.now(), slots=False)
    client = signed_in(lead)
    client.post(reverse("visit-arrive", args=[visit.pk]))
    where = reverse("visit-close", args=[visit.pk])
    assert client.post(where, {"outcome": "completed"}).status_code == 422
    sent = {"outcome": "completed", "feeder_left": "unplugged", "bypass_left": "service"}
    assert client.post(where, sent).status_code == 302
    visit.refresh_from_db()
    assert (visit.status, visit.feeder_left) == ("closed", "unplugged")


def test_a_callback_is_not_closed_without_its_cause(lead, finished):
    job = make.make_job(train=finished.train, kind="repair", callback_answer="yes", origin=finished)
    visit = make.make_visit(job=job, lead=lead, starts_at=timezone.now(), slots=False)
    client = signed_in(lead)
    sent = {"outcome": "completed", "feeder_left": "off", "bypass_left": "service"}
    where = reverse("visit-close", args=[visit.pk])
    client.post(reverse("visit-arrive", args=[visit.pk]))
    answer = client.post(where, sent)
    assert answer.status_code == 422
    assert "Say what caused this callback." in answer.content.decode()
    assert client.post(where, {**sent, "cause": "B_high"}).status_code == 302


def test_somebody_elses_visit_is_not_ended_by_a_technician(technician_client, visit):
    for name in ("visit-detail", "visit-close", "visit-no-access"):
        assert technician_client.get(reverse(name, args=[visit.pk])).status_code == 404


# --- day, week, sheets --------------------------------------------------------------------------


def test_the_day_is_a_timetable_of_persons_by_quarters(dispatcher_client, visit, tomorrow):
    answer = dispatcher_client.get(reverse("day"), {"on": tomorrow.isoformat()})
    page = re.sub(r">\s+<", "><", answer.content.decode())
    assert '<span class="box at-8 for-4">' in page
    assert page.count('scope="row"') == 1
    (row,) = answer.context["rows"]
    assert [item.kind for item in row.between] == ["lunch", "free", "free", "free"]


@pytest.mark.parametrize(
    ("hour", "is_quiet", "words"),
    [(10, True, "4 quarters from 9:00"), (11, False, "6 quarters from 9:30")],
)
def test_the_words_of_a_free_stretch_stand_beside_the_drive_or_over_it(
    dispatcher_client, lead, tomorrow, hour, is_quiet, words
):
    """From 8 to 9 in one town, 20 minutes to the next: an hour and two hours between them."""
    for at, town in ((8, "Tarn Hollow"), (hour, "Kestrel Ford")):
        train = make.make_train(site=make.make_site(town=town))
        booked(opened(train), lead, at=at_hour(tomorrow, at), now=timezone.now())
    page = dispatcher_client.get(reverse("day"), {"on": tomorrow.isoformat()})
    (row,) = page.context["rows"]
    (drive,) = [item for item in row.between if item.kind == "drive"]
    free = next(item for item in row.between if item.kind == "free" and item.at >= 8)
    assert drive.is_quiet is is_quiet
    assert f"{free.span} quarters from {7 + free.at // 4}:{free.at % 4 * 15:02}" == words
    assert ("drive at-8 for-2 quiet" in page.content.decode()) is is_quiet


def test_a_visit_outside_working_hours_is_still_drawn(dispatcher_client, lead, tomorrow):
    make.make_visit(lead=lead, starts_at=at_hour(tomorrow, 5, 30), hours=14)
    answer = dispatcher_client.get(reverse("day"), {"on": tomorrow.isoformat()})
    assert [hour for hour, _ in answer.context["hours"]] == list(range(5, 20))


def test_an_odd_day_in_the_address_shows_today(dispatcher_client):
    for odd in ("soon", "2026-02-31", ""):
        assert dispatcher_client.get(reverse("day"), {"on": odd}).status_code == 200


def test_a_sheet_holds_what_a_person_needs_at_the_door(dispatcher_client, lead, tomorrow):
    site = make.make_site(access_notes="Gate on the north drive.", hazards="Dog: ring first.")
    make.make_visit(job=make.make_job(site=site), lead=lead, starts_at=at_hour(tomorrow, 9))
    page = dispatcher_client.get(reverse("day-sheet"), {"on": tomorrow.isoformat()})
    text = page.content.decode()
    assert "Gate on the north drive." in text
    assert "Dog: ring first." in text


def test_what_can_hurt_somebody_stands_on_sheet_and_visit(dispatcher_client, lead, tomorrow):
    site = make.make_well(head_in_pit=True).site
    make.make_notice(site=site, reason="bacteria found")
    make.make_special_use(site=site)
    visit = make.make_visit(job=make.make_job(site=site), lead=lead, starts_at=at_hour(tomorrow, 9))
    sheet = dispatcher_client.get(reverse("day-sheet"), {"on": tomorrow.isoformat()})
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk]))
    for answer in (sheet, page):
        text = answer.content.decode()
        assert "Do not drink the water: bacteria found." in text
        assert "the clinic has not been told" in text
        assert "Well head in a pit" in text


@pytest.mark.parametrize(("name", "most"), [("day", 11), ("week", 12), ("day-sheet", 12)])
def test_queries_of_the_schedule_do_not_grow(
    dispatcher_client, tomorrow, django_assert_max_num_queries, name, most
):
    Company.load()
    WorkNeed.objects.create(kind="service", licence="Wells and well pumps")
    for number in range(12):
        lead = make.make_staff("technician")
        make.make_visit(lead=lead, starts_at=at_hour(tomorrow, 8 + number % 8))
    with django_assert_max_num_queries(most):
        answer = dispatcher_client.get(reverse(name), {"on": tomorrow.isoformat()})
    assert answer.status_code == 200
