"""Visits that need a call from the office, on top of the worklist, in one query."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.db.models import Case, F, FilteredRelation, Q, Subquery, Value, When

from jobs.models import Customer, Visit, VisitRequest
from jobs.models.telling import letters_of_row, not_told_yet

from .telling import why_not_told

SHOWN = 50


@dataclass
class NeedsCall:
    """A visit whose customer asks for something, or does not know of it; whom to telephone."""

    visit: Visit
    customer: Customer | None
    #: what is asked, each with its moment, oldest first
    asked: list[tuple[datetime, str]] = field(default_factory=list)
    #: why they do not know, where they do not
    why: str = ""


def visits_to_call(now: datetime) -> list[Any]:
    """A row for each open request of a visit, and one for each visit not told yet.

    What is asked comes first. Rows carry what the query adds: `untold`, `letter`, `asked_kind`,
    `asked_note` and `asked_at`.
    """
    newest = letters_of_row().order_by("-pk").values("state")[:1]
    untold = not_told_yet(now)
    rows = (
        Visit.objects.alias(
            asked=FilteredRelation("requests", condition=Q(requests__handled_at=None))
        )
        .annotate(
            letter=Subquery(newest),
            untold=Case(When(untold, then=Value(True)), default=Value(False)),
            asked_kind=F("asked__kind"),
            asked_note=F("asked__note"),
            asked_at=F("asked__at"),
        )
        .filter(Q(untold=True) | Q(asked_at__isnull=False))
    )
    order = (F("asked_at").asc(nulls_last=True), "starts_at", "pk")
    return list(rows.with_job().order_by(*order)[:SHOWN])


def calls_of(rows: Iterable[Any], contacts: dict[int, Customer]) -> list[NeedsCall]:
    """One for each visit."""
    calls: dict[int, NeedsCall] = {}
    for row in rows:
        customer = contacts.get(row.job.site_id) or row.job.customer
        call = calls.setdefault(row.pk, NeedsCall(row, customer))
        if row.asked_at:
            request = VisitRequest(kind=row.asked_kind, note=row.asked_note)
            call.asked.append((row.asked_at, request.said))
        if row.untold:
            call.why = why_not_told(customer, row.letter)
    return list(calls.values())
