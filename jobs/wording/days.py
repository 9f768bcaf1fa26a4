"""Days as they are said."""

from __future__ import annotations

from datetime import date, timedelta


def day(value: date | None, today: date | None = None) -> str:
    """Wednesday 14 October; with the year when it is not the year of `today`."""
    if value is None:
        return ""
    year = f"\u00a0{value.year}" if today is not None and today.year != value.year else ""
    return f"{value:%A} {value.day}\u00a0{value:%B}{year}"


def short_day(value: date | None, today: date | None = None) -> str:
    """14 Oct, and the year when it is another."""
    if value is None:
        return ""
    year = f"\u00a0{value.year}" if today is not None and today.year != value.year else ""
    return f"{value.day}\u00a0{value:%b}{year}"


def counted(days: int) -> str:
    return "1\u00a0day" if days == 1 else f"{days}\u00a0days"


def days_from(value: date | None, today: date) -> str:
    """today, tomorrow, in 3 days, yesterday, 3 days ago."""
    if value is None:
        return ""
    away = (value - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if away in near:
        return near[away]
    return f"in {counted(away)}" if away > 0 else f"{counted(-away)} ago"


def days_left(left: int, late: int) -> str:
    """Until the last day allowed, and after it: 2 days left, last day, 3 days late."""
    if late:
        return f"{counted(late)} late"
    return f"{counted(left)} left" if left else "last day"


def hours_said(span: timedelta) -> str:
    """13\u00a0h\u00a015, or 13\u00a0h where no minutes are left, or 10\u00a0min."""
    hours, minutes = divmod(round(span.total_seconds() / 60), 60)
    if minutes and not hours:
        return f"{minutes}\u00a0min"
    return f"{hours}\u00a0h\u00a0{minutes:02}" if minutes else f"{hours}\u00a0h"
