"""The way in: where each role begins, how long it lasts, and what a guesser meets."""

import re
from datetime import timedelta

import pytest
from django.conf import settings
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from jobs.mail import links
from jobs.models import Company, OutboxMail, StaffProfile
from jobs.workflows.password_asks import answer_asks
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


def test_asking_for_a_password_does_the_same_whoever_asks(django_assert_num_queries):
    """The page notes the address and looks up nothing; the letter is written by the next tick."""
    person = make.make_staff("dispatcher")
    closed = make.make_staff("dispatcher", is_active=False)
    answers = []
    for email in (person.email, "nobody@example.com", closed.email):
        with django_assert_num_queries(1):
            answers.append(Client().post(reverse("password-reset"), {"email": email}))
    assert {answer.url for answer in answers} == {reverse("password-reset-sent")}
    assert not OutboxMail.objects.exists()
    assert answer_asks(timezone.now()) == 1
    assert list(OutboxMail.objects.values_list("recipient", flat=True)) == [person.email]
    assert answer_asks(timezone.now()) == 0


def test_a_letter_goes_to_the_whole_address_that_was_asked_for_in_any_case():
    make.make_staff("dispatcher", email="leanna@example.com")
    asked = make.make_staff("dispatcher", email="anna@example.com")
    Client().post(reverse("password-reset"), {"email": "Anna@Example.com"})
    assert answer_asks(timezone.now()) == 1
    assert OutboxMail.objects.get().recipient == asked.email


def test_an_old_ask_is_of_no_use():
    person = make.make_staff("dispatcher")
    Client().post(reverse("password-reset"), {"email": person.email})
    assert answer_asks(timezone.now() + timedelta(minutes=61)) == 0
    assert not OutboxMail.objects.exists()


def choose(password, **names):
    """The page behind the link of the letter, with a new password typed twice."""
    person, client = make.make_staff("technician", **names), Client()
    page = client.get(links.password_url(person).removeprefix("http://testserver"), follow=True)
    twice = {"new_password1": password, "new_password2": password}
    answer = client.post(page.request["PATH_INFO"], twice)
    return answer.status_code, answer.content.decode()


@pytest.mark.parametrize(
    ("password", "reason"),
    [
        ("aaaaaaaaaaaa", "repeats"),
        ("abababababab", "repeats"),
        ("abcdabcdabcd", "repeats"),
        ("abbaabbbabaab", "repeats"),
        ("kpzqkpzqkpzqvwx", "repeats"),
        ("Fernhollow-26-26", "tried first"),
        ("butterfly-1234!!", "tried first"),
        ("Password12345!", "tried first"),
        ("P@ssw0rd1234", "tried first"),
        ("waterwell2026", "tried first"),
        ("WellPump-2026!", "tried first"),
        ("Revisit-Summer-26", "tried first"),
        ("OurCompany2026!!", "tried first"),
        ("alderbrook-1985", "too similar|tried first"),
        ("qwertyuiop1234", "tried first"),
    ],
)
def test_long_passwords_that_are_guessed_at_once_are_refused(password, reason):
    Company.objects.update_or_create(pk=Company.load().pk, defaults={"name": "Fernhollow"})
    status, page = choose(password, first_name="Tess", last_name="Alderbrook")
    assert status == 200
    assert re.search(reason, page)


def test_the_name_of_the_company_is_no_password():
    assert choose("Thistledown-26!")[0] == 302
    Company.objects.update_or_create(pk=1, defaults={"name": "Thistledown Springs"})
    assert "tried first" in choose("Thistledown-26!")[1]


@pytest.mark.parametrize(
    "password", ["barrel-of-sand-9", "tank-heater-1", "gravel otter lantern", "kX7-vQ2p-Lm9w"]
)
def test_unrelated_words_and_chance_are_taken(password):
    assert choose(password)[0] == 302


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
