"""To the contact of the house: a visit is booked."""

from __future__ import annotations

from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit

KIND = Kind(__name__, visits.invitation, visits.stands, tells_the_time=True, tells_the_visit=True)


def write(*, visit: Visit, now: datetime) -> OutboxMail | None:
    return visits.write_about(visit, KIND, "confirmation", now=now)
