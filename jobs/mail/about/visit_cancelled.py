"""To who is told of visits to the house: we do not come."""

from __future__ import annotations

from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit


def write(*, visit: Visit, now: datetime) -> OutboxMail | None:
    return visits.write_about(visit, KIND, "cancelled", now=now)


def _objection(mail: OutboxMail, now: datetime) -> str:
    visit = visits.visit_of(mail)
    if visit.status != Visit.Status.CANCELLED:
        return f"The visit is {visit.get_status_display()}."
    if mail.customer and not visits.was_heard_of(visit, mail.customer):
        return "The customer never heard of the visit."
    return visits.told(mail, visit)


KIND = Kind(__name__, visits.withdrawal, _objection, tells_the_visit=True)
