"""Tries to reach somebody: the presses that note one, and what a row of tries comes to."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from itertools import takewhile

from jobs.models import ContactAttempt
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
from jobs.wording.days import day, days_from

#: so many tries in a row that reached nobody: another way must be found
UNREACHED = 3


def presses(today: date) -> dict[str, object]:
    """What one press each may note, with the next working day as the day to call again."""
    said = [(how.value, str(how.label).capitalize()) for how in ContactAttempt.IN_VAIN]
    return {"not_reached_presses": said, "again_on": add_working_days(today, 1)}


def noted(tried: ContactAttempt) -> str:
    if tried.again_on is None:
        return "Noted."
    return f"Noted: call again on {day(tried.again_on, company_day(tried.at))}."


def tries_in_vain(attempts: Sequence[ContactAttempt]) -> int:
    """How many of the newest tries, counted back to the last talk, reached nobody."""
    missed = (row.how in ContactAttempt.IN_VAIN for row in attempts)
    return len(list(takewhile(bool, missed)))


def again(attempts: Sequence[ContactAttempt], today: date) -> str:
    """When they are called again, as the newest try left it; "" where it left nothing."""
    due = attempts[0].again_on if attempts else None
    if due is None:
        return ""
    return "call again today" if due <= today else f"call again {days_from(due, today)}"
