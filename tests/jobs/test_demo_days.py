"""Days of the demo, without loading it."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.contrib.auth.models import User
from django.core.management import CommandError, call_command

from jobs.demo.calendar import Calendar
from jobs.demo.loading import in_order
from jobs.models.company import company_day


def test_days_of_work_move_away_from_weekends_and_today_does_not():
    saturday = datetime(2026, 6, 13, 15, 0, tzinfo=UTC)
    day = Calendar(saturday).working_day
    assert day(0) == company_day(saturday)
    assert (day(1).isoformat(), day(-6).isoformat()) == ("2026-06-15", "2026-06-05")


def test_what_lies_ahead_today_is_not_moved_to_hours_that_are_over():
    """A quarter to nine, with somebody at a house; the wanted hour after noon is taken."""
    friday = datetime(2026, 11, 27, 13, 45, tzinfo=UTC)
    calendar, somebody = Calendar(friday), User(pk=1)
    taken = calendar.place([somebody], 0, 13.0, 45)
    assert taken == calendar.at(calendar.today, 13.0)
    assert calendar.place([somebody], 0, 13.0, 45) == calendar.at(calendar.today, 14.0)
    assert calendar.place([somebody], -2, 13.0, 45) == calendar.at(calendar.day(-2), 13.0)
    assert calendar.place([somebody], -2, 13.0, 45) == calendar.at(calendar.day(-2), 7.5)


def test_today_is_lived_by_the_hour_and_other_days_as_they_are_told():
    def story(*acts):
        return {"story": [{"day": day, "hour": hour, "do": name} for day, hour, name in acts]}

    told = {
        "owner_acts": [],
        "houses": {
            "now": {"story": [{"day": 0, "do": "e"}]},
            "first": story((-1, 15, "a"), (0, 13, "d"), (2, 9, "f")),
            "second": story((-1, 9, "b"), (0, 8.5, "c"), (2, 8, "g")),
        },
    }
    assert [act["do"] for *_, act in in_order(told)] == list("abcdefg")


@pytest.mark.parametrize("text", ["yesterday", "2026-06-10T14:00"])
def test_a_moment_that_cannot_be_read_is_refused(text):
    with pytest.raises(CommandError, match="--now"):
        call_command("load_demo", "--now", text, stdout=StringIO())
