"""What customers ask about a visit, and who of the office handled it."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.mail.about import customer_asks
from jobs.mail.recipients import office
from jobs.models import Visit, VisitRequest

from .log import log

#: somebody who keeps writing fills the office's mailbox at most so often for one visit
REQUESTS_A_VISIT = 10


@transaction.atomic
def ask(*, visit: Visit, kind: str, note: str, now: datetime) -> VisitRequest:
    """Keep what is asked and tell the office. The same again, still open, is one request."""
    open_ones = VisitRequest.objects.open().filter(visit=visit)
    same = open_ones.filter(kind=kind, note=note).first()
    if same:
        return same
    if VisitRequest.objects.filter(visit=visit).count() >= REQUESTS_A_VISIT:
        raise BadEntry("The office has your requests. Please call us.", field="note")
    request = VisitRequest.objects.create(visit=visit, kind=kind, note=note, at=now)
    for user in office():
        customer_asks.write(request=request, user=user, now=now)
    return request


@transaction.atomic
def handle(*, visit: Visit, seen: int, how: str, by: User, now: datetime) -> int:
    """Requests up to the newest that stood on the page; one that came after it stays open."""
    if not how.strip():
        raise BadEntry("Say what was agreed with the customer.", field="how")
    handled = (
        VisitRequest.objects.open()
        .filter(visit=visit, pk__lte=seen)
        .update(handled_at=now, handled_by=by, handled_how=how.strip()[:200])
    )
    if handled:
        log(verb="requests_handled", subject=visit, by=by, now=now, site=visit.job.site)
    return handled
