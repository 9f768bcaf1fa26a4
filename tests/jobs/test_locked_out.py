"""Guessing passwords slows down who guesses, and is no way to lock out anybody else."""

from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.db.models import F
from django.test import Client

from jobs.mail import links

SIGN_IN = "/sign-in/"
RIGHT = "tank-heater-1"
FAR = "192.0.2.9"  # an address for examples (RFC 5737, IETF, 2010)


@pytest.fixture(autouse=True)
def guarded(settings):
    settings.AXES_ENABLED = True


def post(client, username, password, address=FAR, **headers):
    sent = {"username": username, "password": password}
    return client.post(SIGN_IN, sent, REMOTE_ADDR=address, headers=headers)


def guess(client, user, times, address=FAR):
    return [
        post(client, user.username, f"wrong-{number}", address).status_code
        for number in range(times)
    ]


def device_of(user):
    """A browser in which the person signed in and out again."""
    client = Client()
    assert post(client, user.username, RIGHT).status_code == 302
    client.post("/sign-out/")
    return client


def test_fifth_wrong_password_closes_the_account_to_strange_devices(client, dispatcher):
    assert guess(client, dispatcher, 5) == [200, 200, 200, 200, 429]
    answer = post(client, dispatcher.username, RIGHT)
    assert answer.status_code == 429
    assert "Too many tries" in answer.content.decode()
    assert "_auth_user_id" not in client.session


def test_the_right_password_on_a_known_device_gets_in_while_others_guess(dispatcher):
    known = device_of(dispatcher)
    guess(Client(), dispatcher, 9)
    assert post(Client(), dispatcher.username, RIGHT).status_code == 429
    assert post(known, dispatcher.username, RIGHT).status_code == 302
    assert post(Client(), dispatcher.username, RIGHT).status_code == 429  # the others stay out


def test_a_stolen_device_takes_five_tries_too_and_shuts_out_no_other_device(dispatcher):
    stolen, desk = device_of(dispatcher), device_of(dispatcher)
    assert guess(stolen, dispatcher, 5)[-1] == 429
    assert post(stolen, dispatcher.username, RIGHT).status_code == 429
    assert post(desk, dispatcher.username, RIGHT).status_code == 302
    assert post(Client(), dispatcher.username, RIGHT).status_code == 302


def test_a_device_known_for_one_person_is_strange_for_another(dispatcher, owner):
    known = device_of(dispatcher)
    guess(Client(), owner, 5)
    assert post(known, owner.username, RIGHT).status_code == 429


@pytest.mark.parametrize("forged", ["", "1", "WzEsIjEiXQ:made-up", "\u00e9"])
def test_a_forged_mark_of_a_device_is_none(client, dispatcher, forged):
    guess(Client(), dispatcher, 5)
    client.cookies["device"] = forged
    assert post(client, dispatcher.username, RIGHT).status_code == 429


def test_another_program_or_a_forged_header_does_not_get_around_it(client, dispatcher):
    guess(client, dispatcher, 5)
    headers = {"user-agent": "other", "x-forwarded-for": "192.0.2.7"}
    answer = post(Client(), dispatcher.username, RIGHT, "192.0.2.11", **headers)
    assert answer.status_code == 429


def test_colleagues_are_not_locked_out(client, dispatcher, owner):
    guess(client, dispatcher, 5)
    assert post(client, owner.username, RIGHT).status_code == 302


def test_one_address_that_tries_many_accounts_is_stopped_and_known_devices_there_are_not(
    dispatcher, owner
):
    desk = device_of(dispatcher)
    tried = [post(Client(), f"nobody-{n}", "wrong").status_code for n in range(30)]
    assert tried == [200] * 29 + [429]
    assert post(Client(), owner.username, RIGHT).status_code == 429
    assert post(desk, dispatcher.username, RIGHT).status_code == 302
    assert post(Client(), owner.username, RIGHT, "192.0.2.10").status_code == 302


def test_slips_on_known_devices_of_an_office_do_not_close_its_address(dispatcher, owner):
    for _ in range(8):
        guess(device_of(dispatcher), dispatcher, 4)
    assert post(Client(), owner.username, RIGHT).status_code == 302


def test_behind_a_proxy_that_tells_no_address_nobody_is_counted_by_it(owner):
    for number in range(35):
        post(Client(), f"nobody-{number}", "wrong", "127.0.0.1")
    assert post(Client(), owner.username, RIGHT, "127.0.0.1").status_code == 302


def test_a_new_password_by_mail_opens_the_account_at_once(dispatcher):
    guess(Client(), dispatcher, 7)
    client = Client()
    page = client.get(links.password_url(dispatcher).removeprefix("http://testserver"), follow=True)
    chosen = {"new_password1": "barrel-of-sand-9", "new_password2": "barrel-of-sand-9"}
    assert client.post(page.request["PATH_INFO"], chosen).status_code == 302
    assert post(Client(), dispatcher.username, "barrel-of-sand-9").status_code == 302
    guess(Client(), dispatcher, 5)  # the guesser goes on, and the device is known by now
    assert post(client, dispatcher.username, "barrel-of-sand-9").status_code == 302


def test_account_opens_after_15_minutes_even_if_guessing_went_on(client, dispatcher):
    guess(client, dispatcher, 8)
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=15, seconds=1))
    assert post(client, dispatcher.username, RIGHT).status_code == 302


def test_right_password_forgets_earlier_slips(client, dispatcher):
    guess(client, dispatcher, 4)
    assert post(client, dispatcher.username, RIGHT).status_code == 302
    client.post("/sign-out/")
    assert guess(client, dispatcher, 4) == [200, 200, 200, 200]
