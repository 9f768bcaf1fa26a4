"""Guessing passwords: the account slows down for 15 minutes, colleagues sign in as usual."""

from datetime import timedelta

import pytest
from axes.models import AccessAttempt
from django.db.models import F

SIGN_IN = "/sign-in/"


@pytest.fixture(autouse=True)
def guarded(settings):
    settings.AXES_ENABLED = True


def post(client, username, password):
    return client.post(SIGN_IN, {"username": username, "password": password})


def guess(client, user, times):
    return [post(client, user.username, f"wrong-{number}").status_code for number in range(times)]


def test_fifth_wrong_password_closes_the_account_even_to_the_right_one(client, dispatcher):
    assert guess(client, dispatcher, 5) == [200, 200, 200, 200, 429]
    answer = post(client, dispatcher.username, "tank-heater-1")
    assert answer.status_code == 429
    assert "Too many tries" in answer.content.decode()
    assert "_auth_user_id" not in client.session


def test_another_device_does_not_get_around_it(client, dispatcher):
    guess(client, dispatcher, 5)
    answer = client.post(
        SIGN_IN,
        {"username": dispatcher.username, "password": "tank-heater-1"},
        headers={"user-agent": "other", "x-forwarded-for": "192.0.2.7"},
        REMOTE_ADDR="192.0.2.9",
    )
    assert answer.status_code == 429


def test_colleagues_are_not_locked_out(client, dispatcher, owner):
    guess(client, dispatcher, 5)
    assert post(client, owner.username, "tank-heater-1").status_code == 302


def test_account_opens_after_15_minutes_even_if_guessing_went_on(client, dispatcher):
    guess(client, dispatcher, 8)
    AccessAttempt.objects.update(attempt_time=F("attempt_time") - timedelta(minutes=15, seconds=1))
    assert post(client, dispatcher.username, "tank-heater-1").status_code == 302


def test_right_password_forgets_earlier_slips(client, dispatcher):
    guess(client, dispatcher, 4)
    assert post(client, dispatcher.username, "tank-heater-1").status_code == 302
    client.post("/sign-out/")
    assert guess(client, dispatcher, 4) == [200, 200, 200, 200]
