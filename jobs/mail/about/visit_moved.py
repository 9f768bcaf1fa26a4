"""To the contact of the house: the visit has another time, or somebody else comes."""

from __future__ import annotations

from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit

KIND = Kind(__name__, visits.invitation, visits.stands, tells_the_time=True, tells_the_visit=True)


def write(*, visit: Visit, now: datetime) -> OutboxMail | None:
    """For the new time; `visit.sequence` has been raised by whoever moved it."""
    return visits.write_about(visit, KIND, "moved", now=now)
