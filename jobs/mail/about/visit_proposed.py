"""To who is told of visits to the house: a time is held and not firm; would it suit?"""

from __future__ import annotations

from datetime import datetime

from jobs.mail import visits
from jobs.mail.kind import Kind
from jobs.models import OutboxMail, Visit


def write(*, visit: Visit, now: datetime) -> OutboxMail | None:
    return visits.write_about(visit, KIND, "proposed", now=now)


def was_written(visit: Visit) -> bool:
    """Somebody asked the customer about this visit, whatever its time was then."""
    return OutboxMail.objects.filter(visit=visit, template=KIND.name).exists()


def _objection(mail: OutboxMail, now: datetime) -> str:
    visit = visits.visit_of(mail)
    if not visit.is_only_held:
        return f"The visit is {visit.get_status_display()}."
    return visits.told(mail, visit)


KIND = Kind(__name__, visits.invitation, _objection)
