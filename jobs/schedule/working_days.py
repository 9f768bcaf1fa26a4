from __future__ import annotations

from datetime import date, timedelta

import holidays


def is_working_day(day: date) -> bool:
    """Monday to Friday and no federal holiday."""
    return day.weekday() < 5 and day not in holidays.country_holidays("US", years=day.year)


def add_working_days(day: date, count: int) -> date:
    while count > 0:
        day += timedelta(days=1)
        count -= is_working_day(day)
    return day
