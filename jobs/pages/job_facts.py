"""What decides about one job, as it stood and as it stands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Q

from jobs.models import CallbackFact, HandoverFact, HandoverHelper, Job, LossFact
from jobs.reports.water_classes import WATERS
from jobs.wording.names import person


@dataclass(frozen=True)
class Line:
    """One row of a chain; the first of a list is the one that stands."""

    said: str
    at: datetime
    by: str
    reason: str
    stands: bool
    loss: LossFact | None = None


def context_of(job: Job) -> dict[str, object]:
    facts = list(
        HandoverFact.objects.filter(job=job)
        .select_related("installer", "recorded_by", "corrected_by")
        .prefetch_related("helpers__person")
        .order_by("-pk")
    )
    reports = CallbackFact.objects.select_related(
        "origin__installer", "recorded_by", "corrected_by"
    )
    return {
        "job": job,
        "handover": facts[0] if facts else None,
        "report": reports.filter(job=job).last(),
        "handovers": [_line(fact, _handed(fact)) for fact in facts],
        "helpers": [(person(row.person), row.did) for fact in facts[:1] for row in _of(fact)],
        "own": [_line(row, _reported(row)) for row in reports.filter(job=job).order_by("-pk")],
        "called_back": reports.filter(origin=job).order_by("reported_on", "job", "-pk"),
        "losses": [_line(row, _lost(row), row) for row in _losses(facts)],
    }


def _of(fact: HandoverFact) -> list[HandoverHelper]:
    return list(fact.helpers.all())


def _losses(facts: list[HandoverFact]) -> list[LossFact]:
    if not facts:
        return []
    of = Q(site=facts[0].site_id) | Q(train=facts[0].train_id)
    rows = LossFact.objects.filter(of).select_related("recorded_by", "corrected_by")
    return list(rows.order_by("-pk"))


def _line(
    row: HandoverFact | CallbackFact | LossFact, said: str, loss: LossFact | None = None
) -> Line:
    stands = not hasattr(row, "corrected_by")
    by = person(row.recorded_by) or "the program"
    may = loss if stands and loss and loss.how in WITHDRAWN_HERE else None
    return Line(said, row.recorded_at, by, row.reason, stands, may)


#: a system is put back on the page of its house, with its parts
WITHDRAWN_HERE = (*LossFact.HOUSE_GONE, LossFact.How.WATER_OFF)


def _handed(fact: HandoverFact) -> str:
    if fact.day is None:
        return "water was never handed over"
    taken = ", taken over from others" if fact.is_inherited else ""
    return (
        f"lead {person(fact.installer)}, water handed over {fact.day:%-d %B %Y}; "
        f"{fact.get_kind_display()}, raw water: {WATERS[fact.water]}{taken} ({fact.method})"
    )


def _reported(row: CallbackFact) -> str:
    said = f"reported {row.reported_on:%-d %B %Y}: {row.get_answer_display()}"
    if row.origin:
        who = person(row.origin.installer) or "nobody yet"
        said += f", from job {row.origin_id} ({who})"
    return f"{said}; {row.get_cause_display()}" if row.cause else said


def _lost(row: LossFact) -> str:
    of = "house" if row.site_id else "system"
    return f"{of}: {row.get_how_display()}, {row.day:%-d %B %Y}"
