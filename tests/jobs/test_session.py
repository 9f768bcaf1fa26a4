"""The way in: where each role begins, how long it lasts, and what a guesser meets."""

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse

from jobs.models import OutboxMail, StaffProfile
from tests import factories as make
from tests.conftest import signed_in

pytestmark = pytest.mark.django_db
PASSWORD = "tank-heater-1"


def sign_in(person, password=PASSWORD, **more):
    client = Client()
    sent = {"username": person.get_username(), "password": password}
    return client, client.post(reverse("sign-in"), sent, **more)


@pytest.mark.parametrize(
    ("roles", "begins"),
    [
        (("dispatcher",), "worklist"),
        (("owner",), "worklist"),
        (("technician", "dispatcher"), "worklist"),
        (("technician",), "my-day"),
    ],
)
def test_each_role_begins_at_its_own_page(roles, begins):
    client = signed_in(make.make_staff(*roles))
    assert client.get(reverse("home")).url == reverse(begins)


def test_a_phone_stays_signed_in_longer_than_the_office():
    phone, _ = sign_in(make.make_staff("technician"))
    office, _ = sign_in(make.make_staff("technician", "dispatcher"))
    assert phone.session.get_expiry_age() == settings.TECHNICIAN_SESSION_AGE
    assert office.session.get_expiry_age() == settings.SESSION_COOKIE_AGE
    assert settings.TECHNICIAN_SESSION_AGE > settings.SESSION_COOKIE_AGE


def test_a_wrong_password_says_what_may_be_wrong_and_lets_nobody_in():
    client, answer = sign_in(make.make_staff("dispatcher"), "not-this-one")
    assert "do not belong together" in answer.content.decode()
    assert client.get(reverse("worklist")).status_code == 302


@pytest.mark.parametrize("elsewhere", ["https://example.com/", "//example.com"])
def test_signing_in_never_leads_out_of_the_house(elsewhere):
    person = make.make_staff("dispatcher")
    sent = {"username": person.get_username(), "password": PASSWORD, "next": elsewhere}
    assert Client().post(reverse("sign-in"), sent).url == reverse("home")


def test_signing_out_ends_the_session(dispatcher_client):
    assert dispatcher_client.get(reverse("sign-out")).status_code == 405
    dispatcher_client.post(reverse("sign-out"))
    assert dispatcher_client.get(reverse("worklist")).status_code == 302


def test_asking_for_a_password_says_the_same_whoever_asks():
    person = make.make_staff("dispatcher")
    known = Client().post(reverse("password-reset"), {"email": person.email})
    unknown = Client().post(reverse("password-reset"), {"email": "nobody@example.com"})
    assert known.url == unknown.url == reverse("password-reset-sent")
    assert list(OutboxMail.objects.values_list("recipient", flat=True)) == [person.email]


def test_units_are_kept_for_the_person_who_asks(dispatcher_client, dispatcher):
    sent = {"unit_system": "metric", "phone": "518-555-0188"}
    assert dispatcher_client.post(reverse("account"), sent).status_code == 302
    profile = StaffProfile.objects.get(user=dispatcher)
    assert profile.unit_system == "metric"
    assert str(profile.phone.as_e164) == "+15185550188"


def test_a_closed_account_is_shut_at_once(dispatcher_client, dispatcher):
    dispatcher.is_active = False
    dispatcher.save()
    assert dispatcher_client.get(reverse("worklist")).status_code == 302
