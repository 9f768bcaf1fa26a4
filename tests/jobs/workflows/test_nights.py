"""The work of the night: once each night, made up for, tried again, and nothing kept for ever."""

from datetime import UTC, date, datetime, timedelta

import pytest
from axes.models import AccessAttempt, AccessLog
from django.contrib.sessions.models import Session

from jobs.errors import JobsError
from jobs.models import Night, SubmittedForm
from jobs.workflows import nights
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def done(monkeypatch):
    """The moments at which the work was done, instead of a copy of the test's database."""
    moments = []
    monkeypatch.setattr(nights, "PARTS", (moments.append,))
    return moments


def run(moment):
    return nights.run_due(clock=lambda: moment)


def every(step, first, last):
    moment = first
    while moment < last:
        yield moment
        moment += step


@pytest.mark.parametrize(
    "first",
    [
        datetime(2026, 3, 6, tzinfo=UTC),  # clocks go ahead on 8 March 2026 in New York
        datetime(2026, 10, 30, tzinfo=UTC),  # and back on 1 November
        datetime(2028, 2, 27, tzinfo=UTC),  # over 29 February and the end of a month
        datetime(2026, 12, 30, tzinfo=UTC),
    ],
)
def test_five_days_have_five_nights_whatever_the_calendar_does(done, first):
    run(first)
    done.clear()
    for moment in every(timedelta(minutes=20), first, first + timedelta(days=5)):
        run(moment)
    assert [moment.time().isoformat() for moment in done] == ["08:20:00"] * 5
    assert [moment.date() - first.date() for moment in done] == [
        timedelta(days=day) for day in range(5)
    ]


def test_a_night_that_was_slept_through_is_made_up_for_once(done):
    run(NOW)
    run(NOW + timedelta(days=9))
    run(NOW + timedelta(days=9, minutes=1))
    assert done == [NOW, NOW + timedelta(days=9)]


def test_a_night_of_a_clock_that_ran_ahead_counts_as_none(done):
    run(NOW + timedelta(days=1))
    run(NOW)
    run(NOW + timedelta(days=1, minutes=5))  # the same night, now for real
    assert done == [NOW + timedelta(days=1), NOW]  # done on the wrong day, at 24 h less 5 min
    run(NOW + timedelta(days=2))
    assert len(done) == 3


def test_a_clock_set_back_within_the_night_does_it_again(done):
    run(NOW + 2 * HOUR)
    run(NOW)
    assert done == [NOW + 2 * HOUR, NOW]


def test_two_workers_do_it_once(done):
    day = nights.night_of(NOW)
    assert nights.claim(day, now=NOW)
    assert not nights.claim(day, now=NOW)
    assert run(NOW) == 0
    assert done == []


def test_whoever_died_over_it_is_followed_after_an_hour(done):
    nights.claim(nights.night_of(NOW), now=NOW)
    run(NOW + HOUR - timedelta(seconds=1))
    assert done == []
    run(NOW + HOUR)
    assert done == [NOW + HOUR]


def test_a_failed_part_is_said_tried_again_after_an_hour_and_stops_no_other(monkeypatch, caplog):
    others = []

    def full(now):
        raise JobsError("The backup failed: check the disk.")

    monkeypatch.setattr(nights, "PARTS", (full, others.append))
    run(NOW)
    row = Night.objects.get(day=date(2026, 6, 10))
    assert (row.finished_at, row.error) == (None, "The backup failed: check the disk.")
    assert "check the disk" in caplog.text
    run(NOW + timedelta(minutes=59))
    assert others == [NOW]
    monkeypatch.setattr(nights, "PARTS", (others.append,))
    run(NOW + HOUR)
    row.refresh_from_db()
    assert (row.finished_at, row.error) == (NOW + HOUR, "")


def test_a_sign_in_that_ended_and_tries_of_long_ago_are_cleared_away(client, dispatcher, settings):
    """Made by people: one signs in and never comes back, one mistypes the password."""
    settings.AXES_ENABLED = True
    sent = {"username": dispatcher.username, "password": "tank-heater-1"}
    assert client.post("/sign-in/", sent | {"password": "wrong-heater-1"}).status_code == 200
    client.logout()
    assert client.post("/sign-in/", sent).status_code == 302
    AccessAttempt.objects.create(username="nobody", failures_since_start=1)
    SubmittedForm.objects.create(user=dispatcher, key="k", body_sha256="0", location="/", at=NOW)
    now = max(Session.objects.get().expire_date, NOW) + timedelta(seconds=1)
    nights.clear_away(now - timedelta(minutes=1))
    assert Session.objects.exists()
    nights.clear_away(now + timedelta(days=2))
    assert not Session.objects.exists()
    assert not AccessAttempt.objects.exists()
    assert AccessLog.objects.exists()
    nights.clear_away(now + timedelta(days=400))
    assert not AccessLog.objects.exists()
    assert not SubmittedForm.objects.exists()
