"""A free stretch of the week, and which promises would fit into it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User

from jobs.models import FollowUp, Visit
from jobs.models.company import company_day
from jobs.schedule.stretches import free_stretches, worth_booking
from jobs.schedule.working_time import Plan, Span

from .worklist import Row, rows_of

#: promises looked at; those of the day's towns come first among them
MOST = 80
SHOWN = 20


@dataclass
class Fitting:
    """A promise that fits, and what is pressed to book it there."""

    row: Row
    is_near: bool
    value: str


def stretch_of(who: User, at: datetime, now: datetime) -> dict[str, object]:
    """The stretch that holds `at`, the visits around it, and who waits for one like it."""
    day = company_day(at)
    held = list(
        Visit.objects.on_day(day).standing().of_technician(who).with_job().order_by("starts_at")
    )
    spans = [(visit.starts_at, visit.ends_at) for visit in held]
    stretches = worth_booking(free_stretches(Plan.of([who], day, day), who.pk, day, spans), now)
    whole = next((span for span in stretches if span[0] <= at < span[1]), None)
    towns = {visit.job.site.town for visit in held}
    return {
        "person": who,
        "on": day,
        "today": company_day(now),
        "stretch": whole,
        "others": stretches,
        "held": held,
        "fitting": fitting(who, whole, towns, now) if whole else [],
        "nav": "day",
    }


def fitting(who: User, whole: Span, towns: set[str], now: datetime) -> list[Fitting]:
    """Open promises that may be kept that day and take no longer: near ones first, then by harm."""
    day, length = company_day(whole[0]), whole[1] - whole[0]
    open_ones = FollowUp.objects.due_by(day).filter(visit=None).with_site()
    rows = [
        row
        for row in rows_of(open_ones[:MOST], company_day(now))
        if timedelta(minutes=row.follow_up.terms.minutes) <= length and is_booked(row.follow_up)
    ]
    value = f"{who.pk}|{whole[0].isoformat()}"
    found = [Fitting(row, row.follow_up.site.town in towns, value) for row in rows]
    return sorted(found, key=lambda each: not each.is_near)[:SHOWN]


def is_booked(follow_up: FollowUp) -> bool:
    """Kept by a visit; others are closed by a word or by the owner."""
    return not follow_up.rule.is_review and follow_up.terms.closing != "acknowledged"
