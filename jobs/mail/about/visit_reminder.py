"""To who is told of visits to the house, a week and a day before a visit."""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Literal

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import Company, OutboxMail, Visit
from jobs.schedule.hours import clock_of, hour_of_day

KIND = Kind(__name__, visits.invitation, visits.stands, tells_the_visit=True)

ReminderKind = Literal["week", "day"]
REMINDER_DAYS = {"week": 7, "day": 1}
#: a letter a week ahead is of no use close to the visit
USELESS_BEFORE = {"week": timedelta(days=2), "day": timedelta(0)}


def write(*, visit: Visit, kind: ReminderKind, now: datetime) -> OutboxMail | None:
    return visits.write_about(
        visit,
        KIND,
        f"reminder-{kind}",
        now=now,
        not_before=reminder_at(visit, kind, hour=Company.load().mail_from_hour),
        useful_until=useless_from(visit, kind),
    )


def reminder_at(visit: Visit, kind: ReminderKind, *, hour: int) -> datetime:
    """When a reminder is due: the first mail hour of that day at the house."""
    zone = clock_of(visit)
    day = visit.arrive_from.astimezone(zone).date() - timedelta(days=REMINDER_DAYS[kind])
    return hour_of_day(day, hour, zone=zone)


def useless_from(visit: Visit, kind: ReminderKind) -> datetime:
    return visit.arrive_from - USELESS_BEFORE[kind]
