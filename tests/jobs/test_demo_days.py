"""Days of the demo, without loading it."""

from datetime import UTC, datetime
from io import StringIO

import pytest
from django.core.management import CommandError, call_command

from jobs.demo.calendar import Calendar
from jobs.models.company import company_day


def test_days_of_work_move_away_from_weekends_and_today_does_not():
    saturday = datetime(2026, 6, 13, 15, 0, tzinfo=UTC)
    day = Calendar(saturday).working_day
    assert day(0) == company_day(saturday)
    assert (day(1).isoformat(), day(-6).isoformat()) == ("2026-06-15", "2026-06-05")


@pytest.mark.parametrize("text", ["yesterday", "2026-06-10T14:00"])
def test_a_moment_that_cannot_be_read_is_refused(text):
    with pytest.raises(CommandError, match="--now"):
        call_command("load_demo", "--now", text, stdout=StringIO())
