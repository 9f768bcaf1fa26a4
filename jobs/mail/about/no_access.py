"""To who is told of visits to the house: we stood at the door, please call for another time."""

from __future__ import annotations

from datetime import datetime, timedelta

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit


def write(*, visit: Visit, now: datetime) -> OutboxMail | None:
    until = now + timedelta(days=3)
    return visits.write_about(visit, KIND, "no-access", now=now, useful_until=until)


def _objection(mail: OutboxMail, now: datetime) -> str:
    visit = visits.visit_of(mail)
    if visit.job.visits.to_come().exists():
        return "Another visit is booked already."
    return visits.told(mail, visit)


KIND = Kind(__name__, visits.without_calendar, _objection)
