"""Days on which the company works: the one home of holidays."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, timedelta
from functools import cache

import holidays

from jobs.models import CompanyDay

SATURDAY = 5
#: by day: the name, and whether the company works all the same
OwnDays = Mapping[date, tuple[str, bool]]


def own_days(first: date, last: date | None = None) -> OwnDays:
    """What the company decided for single days from `first` on; one query."""
    rows = CompanyDay.objects.filter(day__gte=first)
    if last:
        rows = rows.filter(day__lte=last)
    return {
        day: (name, worked) for day, name, worked in rows.values_list("day", "name", "is_worked")
    }


def holiday_on(day: date, own: OwnDays | None = None) -> str:
    """The name of the holiday on which nobody works, "" where it is none.

    A federal holiday, unless the company works on it; or a day on which it is closed besides.
    """
    said = (own_days(day, day) if own is None else own).get(day)
    if said:
        name, is_worked = said
        return "" if is_worked else name
    return _federal(day.year).get(day, "")


@cache
def _federal(year: int) -> dict[date, str]:
    """Made once: a list of openings asks for hundreds of days."""
    return dict(holidays.country_holidays("US", years=year))


def is_working_day(day: date, own: OwnDays | None = None) -> bool:
    """Monday to Friday and no holiday."""
    return day.weekday() < SATURDAY and not holiday_on(day, own)


def add_working_days(day: date, count: int, own: OwnDays | None = None) -> date:
    own = own_days(day) if own is None else own
    while count > 0:
        day += timedelta(days=1)
        count -= is_working_day(day, own)
    return day


def holidays_from(day: date, days: int) -> list[tuple[date, str]]:
    """Holidays on a weekday among so many days."""
    span = [day + timedelta(days=n) for n in range(days)]
    own = own_days(day, span[-1])
    return [
        (each, name)
        for each in span
        if each.weekday() < SATURDAY and (name := holiday_on(each, own))
    ]
