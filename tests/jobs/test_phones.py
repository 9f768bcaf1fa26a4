"""A phone is heard of, lost, told to forget everything, or found again before that."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import Client
from django.urls import reverse

from jobs.models import LogEntry, Phone
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.jobs.acts.phone import Phone as Told
from tests.record_scenes import make_house

MINUTE = timedelta(minutes=1)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _now(clock):
    """At the visit of the house."""


def hello(client, number, waiting=0):
    headers = {"X-Phone": str(number), "X-Waiting": str(waiting)}
    return client.get(reverse("field-hello"), headers=headers)


def press(client, name, phone=None):
    """A button of the list of phones: the page that follows."""
    phone = phone or Phone.objects.get()
    return client.post(reverse(name, args=[phone.pk]), follow=True).content.decode()


def is_signed_in(client):
    return client.get(reverse("my-day")).status_code == 200


def test_a_lost_phone_is_told_to_forget_and_its_person_signs_in_anew(dispatcher_client, clock):
    lead, number = make_staff("technician", first_name="Tess", last_name="Alder"), uuid4()
    phone, elsewhere = signed_in(lead), signed_in(lead)
    colleague = signed_in(make_staff("technician"))
    assert hello(phone, number).json()["wipe"] is False
    assert hello(colleague, uuid4()).status_code == 200
    page = press(dispatcher_client, "phone-lost", Phone.objects.get(user=lead))
    assert "Tess Alder is signed out everywhere." in page
    assert "Nothing waited on the phone" in page
    assert "Not heard of since." in page
    assert not is_signed_in(phone)
    assert not is_signed_in(elsewhere)
    assert is_signed_in(colleague)
    assert is_signed_in(dispatcher_client) is False, "the office has no day"
    assert dispatcher_client.get(reverse("phones")).status_code == 200
    clock(NOW + MINUTE)
    for holder in (phone, Client(), signed_in(lead)):
        assert hello(holder, number).json() == {"wipe": True}
    clock(NOW + 9 * MINUTE)
    assert hello(Client(), number).json() == {"wipe": True}
    assert Phone.objects.get(number=number).wiped_at == NOW + MINUTE
    assert hello(signed_in(lead), uuid4()).json()["wipe"] is False
    assert LogEntry.objects.filter(verb="phone_lost").count() == 1


def test_entries_that_had_not_come_are_said_to_the_office_and_to_who_typed_them(
    clock, dispatcher_client
):
    record, visit, lead = make_house()
    phone, number = Told(lead, record, visit), uuid4()
    clock(NOW + 10 * MINUTE)
    assert hello(phone.client, number, waiting=3).status_code == 200
    phone.answer("raw-iron", "3", at=NOW + 5 * MINUTE)
    clock(NOW + 60 * MINUTE)
    page = press(dispatcher_client, "phone-lost")
    assert "2 entries that had not come from the phone will be missing" in page
    assert "2 entries missing for good." in page
    press(dispatcher_client, "phone-lost")
    today = signed_in(lead).get(reverse("my-day")).content.decode()
    assert "2 entries lost with a phone." in today
    assert "10 June 2026, 10:10" in today
    colleague = signed_in(make_staff("technician"))
    assert "lost with a phone" not in colleague.get(reverse("my-day")).content.decode()
    clock(NOW + timedelta(days=8))
    assert "lost with a phone" not in signed_in(lead).get(reverse("my-day")).content.decode()


def test_found_before_it_was_told_nothing_is_lost_and_afterwards_it_is_too_late(
    dispatcher_client, clock
):
    lead, number = make_staff("technician"), uuid4()
    hello(signed_in(lead), number, waiting=2)
    press(dispatcher_client, "phone-lost")
    assert "Found: nothing on it is forgotten." in press(dispatcher_client, "phone-found")
    assert hello(signed_in(lead), number, waiting=2).json()["wipe"] is False
    assert "lost with a phone" not in signed_in(lead).get(reverse("my-day")).content.decode()
    press(dispatcher_client, "phone-lost")
    hello(Client(), number)
    assert "forgotten everything already" in press(dispatcher_client, "phone-found")
    assert hello(Client(), number).json() == {"wipe": True}


def test_the_office_sees_when_each_phone_was_heard_of(dispatcher, clock):
    lead, number = make_staff("technician", first_name="Tess", last_name="Alder"), uuid4()
    for minutes, waiting in ((0, 0), (0.5, 0), (0.6, 4), (30, 4)):
        clock(NOW + minutes * MINUTE)
        hello(signed_in(lead), number, waiting)
    row = Phone.objects.get()
    assert (row.first_heard_at, row.heard_at, row.waiting) == (NOW, NOW + 30 * MINUTE, 4)
    page = signed_in(dispatcher).get(reverse("phones")).content.decode()
    assert "10 June 2026, 10:30" in page
    assert "takes the written consent of its owner" in " ".join(page.split())
    clock(NOW + timedelta(days=61))
    page = signed_in(dispatcher).get(reverse("phones")).content.decode()
    assert "No phone was heard of" in page


@pytest.mark.parametrize("number", ["", "7", "x" * 400])
def test_a_phone_without_a_number_is_greeted_all_the_same(technician_client, number):
    given = hello(technician_client, number, waiting="many")
    assert (given.status_code, given.json()["wipe"]) == (200, False)
    assert Phone.objects.count() == 0
