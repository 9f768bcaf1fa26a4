"""A free stretch of the week, and which promises would fit into it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User

from jobs.models import Company, FollowUp, Visit
from jobs.models.company import company_day
from jobs.schedule.days_ahead import Calendar, Wanted, moment_of_minute
from jobs.schedule.driving import Place
from jobs.schedule.stretches import free_stretches, worth_booking
from jobs.schedule.working_time import Span

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
    calendar = Calendar.load([who], [day], Company.load())
    stretches = worth_booking(free_stretches(calendar.plan, who.pk, day, spans), now)
    whole = next((span for span in stretches if span[0] <= at < span[1]), None)
    towns = {visit.job.site.town for visit in held}
    return {
        "person": who,
        "on": day,
        "today": company_day(now),
        "stretch": whole,
        "others": stretches,
        "held": held,
        "fitting": fitting(calendar, who, whole, towns, now) if whole else [],
        "nav": "day",
    }


def fitting(
    calendar: Calendar, who: User, whole: Span, towns: set[str], now: datetime
) -> list[Fitting]:
    """Open promises that may be kept in it, the driving included: near ones first, then by harm."""
    open_ones = FollowUp.objects.due_by(company_day(whole[0])).filter(visit=None).with_site()
    found = []
    for row in rows_of(open_ones[:MOST], company_day(now)):
        begins = beginning(calendar, who, whole, row.follow_up)
        if begins and is_booked(row.follow_up):
            value = f"{who.pk}|{begins.isoformat()}"
            found.append(Fitting(row, row.follow_up.site.town in towns, value))
    return sorted(found, key=lambda each: not each.is_near)[:SHOWN]


def beginning(calendar: Calendar, who: User, whole: Span, promise: FollowUp) -> datetime | None:
    """The first quarter hour after the drive there from which its work and the drive on fit."""
    wanted = Wanted(Place.of(promise.site), promise.terms.minutes, whole[0])
    stands = calendar.day(company_day(whole[0]), wanted).stands(who.pk)
    starts_at = min((moment_of_minute(stand.start) for stand in stands), default=None)
    length = timedelta(minutes=promise.terms.minutes)
    return starts_at if starts_at and starts_at + length <= whole[1] else None


def is_booked(follow_up: FollowUp) -> bool:
    """Kept by a visit; others are closed by a word or by the owner."""
    return not follow_up.rule.is_review and follow_up.terms.closing != "acknowledged"
