"""Visits with what their customers ask and nobody has handled."""

from __future__ import annotations

from jobs.models import Visit, VisitRequest
from jobs.models.visits import VisitQuerySet


def with_what_is_asked(visits: VisitQuerySet) -> list[Visit]:
    """In the order of the day, in one query; each says it: `visit.asked`, oldest first."""
    found: dict[int, Visit] = {}
    asked: dict[int, list[VisitRequest]] = {}
    for row in visits.with_open_requests():
        visit = found.setdefault(row.pk, row)
        if pk := getattr(row, "request", None):
            kind, note, at = (getattr(row, f"asked_{name}") for name in ("kind", "note", "at"))
            request = VisitRequest(pk=pk, visit=visit, kind=kind, note=note, at=at)
            asked.setdefault(row.pk, []).append(request)
    for pk, visit in found.items():
        visit.asked = asked.get(pk, ())
    return list(found.values())
