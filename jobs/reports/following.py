"""What became of each job that handed over water, worked out from the standing facts.

The narrow table holds what stands here and nothing else: it can be made anew at any time.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator
from datetime import date
from itertools import islice
from typing import NamedTuple

from django.db.models import Q

from jobs.models import CallbackFact, Follow, HandoverFact, Job, LossFact
from jobs.models.facts import cause_number, number_of, work_number

CHUNK = 500
HOW = {
    LossFact.How.CUSTOMER_GONE: Follow.How.CUSTOMER_GONE,
    LossFact.How.UNREACHED: Follow.How.CUSTOMER_GONE,
    LossFact.How.SYSTEM_GONE: Follow.How.SYSTEM_GONE,
    LossFact.How.WATER_OFF: Follow.How.WATER_OFF,
}


class Followed(NamedTuple):
    """A row of the narrow table."""

    installer_id: int
    work: int
    day: int
    ended: int = Follow.NEVER
    how: int = Follow.How.NONE
    cause: int | None = None


def worked_out(jobs: Collection[int]) -> dict[int, Followed]:
    """The rows of these jobs; a job without one is not followed."""
    own = CallbackFact.objects.standing().filter(job__in=jobs, answer=Job.CallbackAnswer.YES)
    returns = set(own.values_list("job", flat=True))
    facts = [
        fact
        for fact in HandoverFact.objects.standing()
        .filter(job__in=jobs, day__isnull=False, is_inherited=False)
        .select_related(None)
        if fact.job_id not in returns
    ]
    callbacks, losses = _callbacks(jobs), _losses(facts)
    return {fact.job_id: _followed(fact, callbacks.get(fact.job_id, []), losses) for fact in facts}


def in_chunks() -> Iterator[tuple[set[int], dict[int, Followed]]]:
    """All jobs with a fact or a row, in parts, and the rows they should have."""
    facts = HandoverFact.objects.filter(corrects=None).values_list("job", flat=True)
    pks = iter(sorted({*facts, *Follow.objects.values_list("job", flat=True)}))
    while chunk := set(islice(pks, CHUNK)):
        yield chunk, worked_out(chunk)


def rows_of(jobs: Collection[int]) -> dict[int, Followed]:
    """The rows as they stand in the table."""
    kept = Follow.objects.filter(job__in=jobs).values_list("job", *Followed._fields)
    return {pk: Followed(*columns) for pk, *columns in kept}


class _Report(NamedTuple):
    on: date
    job: int
    cause: int


def _callbacks(jobs: Collection[int]) -> dict[int, list[_Report]]:
    rows = CallbackFact.objects.standing().filter(origin__in=jobs, answer=Job.CallbackAnswer.YES)
    found: dict[int, list[_Report]] = defaultdict(list)
    for row in rows:
        cause = cause_number(row.cause, recheck_overdue=row.recheck_overdue)
        found[row.origin_id or 0].append(_Report(row.reported_on, row.job_id, cause))
    return {pk: sorted(reports) for pk, reports in found.items()}


Losses = dict[tuple[str, int], list[LossFact]]


def _losses(facts: Collection[HandoverFact]) -> Losses:
    sites, trains = ({getattr(fact, name) for fact in facts} for name in ("site_id", "train_id"))
    rows = LossFact.objects.standing().exclude(how=LossFact.How.STANDS)
    found: Losses = defaultdict(list)
    for row in rows.filter(Q(site__in=sites) | Q(train__in=trains)).order_by("day", "pk"):
        key = ("site", row.site_id) if row.site_id else ("train", row.train_id or 0)
        found[key].append(row)
    return found


def _followed(fact: HandoverFact, callbacks: list[_Report], losses: Losses) -> Followed:
    """A callback wins over a loss of the same day."""
    assert fact.day
    day = fact.day
    row = Followed(fact.installer_id, work_number(fact.kind, fact.water), number_of(day))
    loss = _first_loss(fact, day, losses)
    first = next((report for report in callbacks if report.on >= day), None)
    if first and (loss is None or first.on <= loss.day):
        return row._replace(ended=_days(first.on, day), how=Follow.How.CALLBACK, cause=first.cause)
    if loss:
        return row._replace(ended=_days(loss.day, day), how=HOW[LossFact.How(loss.how)])
    return row


def _first_loss(fact: HandoverFact, day: date, losses: Losses) -> LossFact | None:
    """A house that was sold on that very day was handed to its buyer."""
    of_house = [row for row in losses.get(("site", fact.site_id), []) if row.day > day]
    of_system = [row for row in losses.get(("train", fact.train_id), []) if row.day >= day]
    return min([*of_house, *of_system], key=lambda row: (row.day, row.pk), default=None)


def _days(on: date, day: date) -> int:
    return min((on - day).days, Follow.NEVER - 1)
