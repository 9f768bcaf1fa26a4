"""An opening that was pressed, as it comes back from a page."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from django.utils import timezone
from django.utils.dateparse import parse_datetime


def opening_of(value: str) -> tuple[int, int | None, datetime] | None:
    """Person, helper and beginning as `Opening.value` says them; None where it is none."""
    person, _, rest = value.partition("|")
    moment, _, helper = rest.partition("|")
    try:
        starts_at = parse_datetime(moment)
    except ValueError:
        return None
    if not person.isdecimal() or (helper and not helper.isdecimal()):
        return None
    if starts_at is None or timezone.is_naive(starts_at):
        return None
    return int(person), int(helper) if helper else None, starts_at


def with_opening(data: Any) -> Any:
    """What was sent, with the opening that was pressed in the boxes of person, day and time."""
    chosen = opening_of(data.get("opening", "")) if data else None
    if chosen is None:
        return data
    typed, (person, helper, moment) = data.copy(), chosen
    starts_at = timezone.localtime(moment)
    for name, value in (
        ("lead", str(person)),
        ("helper", str(helper or "")),
        ("day", f"{starts_at:%Y-%m-%d}"),
        ("start", f"{starts_at:%H:%M}"),
        ("arrive_from", ""),
        ("arrive_until", ""),
        ("keep_told", ""),
        ("opening", ""),
    ):
        typed[name] = value
    return typed
