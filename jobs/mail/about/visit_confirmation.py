"""To who is told of visits to the house: a visit is booked."""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit

KIND = Kind(__name__, visits.invitation, visits.stands, tells_the_time=True, tells_the_visit=True)


def write(*, visit: Visit, now: datetime, besides: Collection[int] = ()) -> OutboxMail | None:
    return visits.write_about(visit, KIND, "confirmation", now=now, besides=besides)
