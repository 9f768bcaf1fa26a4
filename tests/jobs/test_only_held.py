"""A visit that is only held: asked about, confirmed by the office or by the customer's yes."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from icalendar import Calendar

from jobs.models import OutboxMail, Visit, VisitTold
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.visits import cancel_visit
from tests.acts import booked, moved, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_staff, make_train
from tests.jobs.mail.letters import calendar_of, text_of, words_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
TOMORROW = company_day(NOW) + timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def held_for(**customer):
    site = make_site(customer=make_customer(**customer), street="3 Otter Lane")
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    at = at_hour(TOMORROW, 9)
    return booked(opened(make_train(site=site)), lead, at=at, now=NOW, status="tentative")


@pytest.fixture
def visit():
    return held_for()


def press(client, name, visit):
    page = client.post(reverse(name, args=[visit.pk]), follow=True).content.decode()
    return " ".join(page.split())


def letters(visit):
    return [mail.template for mail in OutboxMail.objects.filter(visit=visit).order_by("pk")]


def yes(mail):
    address = re.search(r"http://testserver(/v/[^\s#]+)", text_of(mail))[1]
    return Client().post(address, {"answer": "confirm"})


def status_in(mail):
    (event,) = Calendar.from_ical(calendar_of(mail)[1]).walk("VEVENT")
    return event["STATUS"], event["SEQUENCE"]


def test_the_office_confirms_it_and_the_customer_is_told(dispatcher_client, visit):
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert "Confirm, tell the customer" in page
    page = press(dispatcher_client, "visit-confirm", visit)
    assert "Confirmed. 09:00 to 10:00" in page
    assert letters(visit) == ["visit_confirmation"]
    assert "Confirm, tell the customer" not in page
    assert "The visit is confirmed already." in press(dispatcher_client, "visit-confirm", visit)
    assert letters(visit) == ["visit_confirmation"]


@pytest.mark.parametrize("name", ["visit-confirm", "visit-propose"])
def test_hours_that_are_over_are_neither_confirmed_nor_asked_about(visit, clock, name):
    clock(visit.arrive_until)
    page = press(signed_in(make_staff("dispatcher")), name, visit)
    assert "The hours of this visit are over: move it first." in page
    visit.refresh_from_db()
    assert (visit.status, letters(visit)) == ("tentative", [])


def test_a_yes_to_our_question_confirms_it(dispatcher_client, visit):
    for _ in range(2):
        press(dispatcher_client, "visit-propose", visit)
    (asked,) = OutboxMail.objects.filter(visit=visit)
    assert "It is not firm before you say yes." in words_of(asked)
    assert status_in(asked) == ("TENTATIVE", 0)
    send(asked, Postbox())
    assert not VisitTold.objects.exists()
    yes(asked)
    page = " ".join(
        dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode().split()
    )
    assert "Confirmed. 09:00 to 10:00" in page
    assert "told by mail: answered" in page
    firm = OutboxMail.objects.get(template="visit_confirmation")
    assert status_in(firm)[0] == "CONFIRMED"


def test_moving_what_nobody_was_told_of_writes_nobody(visit):
    moved(visit, at=at_hour(TOMORROW, 13), now=NOW)
    assert letters(visit) == []


def test_moving_what_was_asked_about_asks_again_and_the_old_yes_confirms_nothing(
    dispatcher_client, visit
):
    press(dispatcher_client, "visit-propose", visit)
    asked = send(OutboxMail.objects.get(), Postbox())
    visit.refresh_from_db()
    moved(visit, at=at_hour(TOMORROW, 13), now=NOW)
    assert letters(visit) == ["visit_proposed", "visit_proposed"]
    assert yes(asked).status_code == 404
    assert Visit.objects.get().status == "tentative"
    again = OutboxMail.objects.latest("pk")
    assert "does not hold" not in words_of(again)
    assert "between 1:00 pm and 2:00 pm" in words_of(again)
    yes(again)
    assert Visit.objects.get().status == "confirmed"


def test_who_cannot_be_mailed_is_telephoned(dispatcher_client):
    visit = held_for(email="")
    page = press(dispatcher_client, "visit-propose", visit)
    assert "cannot be mailed: telephone, then confirm" in page


def test_nobody_reads_that_a_visit_is_cancelled_of_which_he_never_heard(dispatcher, visit):
    cancel_visit(visit=visit, reason="not needed", by=dispatcher, now=NOW)
    mail = send(OutboxMail.objects.get(visit=visit), Postbox())
    assert mail.last_error == "The customer never heard of the visit."
