"""Visits that need a call from the office, on top of the worklist, in one query."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Subquery

from jobs.models import Customer, Visit
from jobs.models.telling import letters_of_row, not_told_yet

from .telling import why_not_told

SHOWN = 50


@dataclass(frozen=True)
class NeedsCall:
    """A visit whose customer does not know of it: why, and whom to telephone."""

    visit: Visit
    customer: Customer | None
    why: str


def visits_to_call(now: datetime) -> list[Visit]:
    """The next ones first; `letter` is what became of the newest letter."""
    newest = letters_of_row().order_by("-pk").values("state")[:1]
    rows = Visit.objects.filter(not_told_yet(now)).annotate(letter=Subquery(newest))
    return list(rows.with_job().order_by("starts_at", "pk")[:SHOWN])


def calls_of(visits: list[Visit], contacts: dict[int, Customer]) -> list[NeedsCall]:
    return [_call(visit, contacts.get(visit.job.site_id) or visit.job.customer) for visit in visits]


def _call(visit: Visit, customer: Customer | None) -> NeedsCall:
    letter: str | None = getattr(visit, "letter")  # noqa: B009 # of the query
    return NeedsCall(visit, customer, why_not_told(customer, letter))
