"""What was done and not billed, and what was not charged, by cause."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, F, Q, QuerySet, Sum

from jobs.models import Company, Job
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.reports.callbacks import GROUPS
from jobs.wording.figures import dollars

from .tables import Table, Value, table

#: an invoice that takes longer is late: common practice, no source
LATE_AFTER_DAYS = 3
#: what was not charged and has no cause of a callback
INCLUDED, OTHER, UNKNOWN = "included", "other", "unknown"
WITHOUT_CAUSE = {
    UNKNOWN: "callback, cause not entered yet",
    INCLUDED: "planned visit, part of earlier work",
    OTHER: "other work",
}


@dataclass(frozen=True)
class Unbilled:
    job: Job
    done_on: date
    days: int

    @property
    def is_late(self) -> bool:
        return self.days > LATE_AFTER_DAYS


@dataclass(frozen=True)
class NotCharged:
    """Jobs of one cause, or of none, and what they would have come to."""

    name: str
    warranty: int
    goodwill: int
    cents: int
    #: of them without an amount
    unpriced: int

    @property
    def jobs(self) -> int:
        return self.warranty + self.goodwill


def unbilled_rows() -> QuerySet[Job]:
    """Oldest first; what was billed before references were kept here is none of it."""
    rows = Job.objects.filter(
        status=Job.Status.COMPLETED, charge_kind=Job.Charge.BILLABLE, invoice_ref=""
    )
    first = Company.load().billed_from
    if first:
        rows = rows.filter(completed_at__gte=day_start(first))
    return rows.select_related("site", "customer").order_by("completed_at", "pk")


def unbilled(rows: Iterable[Job], *, now: datetime) -> list[Unbilled]:
    today = company_day(now)
    found = []
    for job in rows:
        if job.completed_at is not None:
            done_on = company_day(job.completed_at)
            found.append(Unbilled(job, done_on, (today - done_on).days))
    return found


def not_charged(since: date, until: date) -> list[NotCharged]:
    """By cause, most jobs first; both days belong to it."""
    rows = Job.objects.filter(
        status=Job.Status.COMPLETED,
        charge_kind__in=Job.NOT_CHARGED,
        completed_at__gte=day_start(since),
        completed_at__lt=day_start(until + timedelta(days=1)),
    )
    counted: Any = rows.values("cause", "planned", is_callback=~Q(callback_answer__in=["", "no"]))
    sums: dict[str, list[int]] = {}
    for row in counted.annotate(
        warranty=Count("pk", filter=Q(charge_kind=Job.Charge.WARRANTY)),
        goodwill=Count("pk", filter=Q(charge_kind=Job.Charge.GOODWILL)),
        cents=Sum("cost_cents", default=0),
        unpriced=Count("pk", filter=Q(cost_cents=None)),
    ).order_by():
        name = _name(row["cause"], is_callback=row["is_callback"], is_planned=row["planned"])
        so_far = sums.setdefault(name, [0, 0, 0, 0])
        for place, key in enumerate(("warranty", "goodwill", "cents", "unpriced")):
            so_far[place] += int(row[key])
    found = [NotCharged(name, *counts) for name, counts in sums.items()]
    return sorted(found, key=lambda each: (-each.jobs, each.name))


def _name(cause: str, *, is_callback: bool, is_planned: bool) -> str:
    if cause:
        return f"{Job.Cause(cause).label} ({GROUPS[cause[0]].name})"
    if is_callback:
        return WITHOUT_CAUSE[UNKNOWN]
    return WITHOUT_CAUSE[INCLUDED if is_planned else OTHER]


def total_cents(rows: QuerySet[Job]) -> tuple[int, int]:
    """Their amounts together, and how many have none."""
    sums = rows.order_by().aggregate(
        cents=Sum(F("cost_cents"), default=0), unpriced=Count("pk", filter=Q(cost_cents=None))
    )
    return int(sums["cents"]), int(sums["unpriced"])


def tables(since: date, until: date, *, now: datetime) -> list[Table]:
    lines: list[tuple[Value, ...]] = [
        (
            line.job.pk,
            line.done_on,
            line.days,
            line.job.get_kind_display(),
            str(line.job.site),
            str(line.job.customer or ""),
            dollars(line.job.cost_cents),
        )
        for line in unbilled(unbilled_rows(), now=now)
    ]
    given: list[tuple[Value, ...]] = [
        (row.name, row.warranty, row.goodwill, dollars(row.cents), row.unpriced)
        for row in not_charged(since, until)
    ]
    heads = ("Job", "Done on", "Days", "Kind of job", "House", "Customer", "Amount, dollars")
    causes = ("Cause", "Warranty", "No charge", "Would have come to, dollars", "Without an amount")
    return [table("Done and not billed", heads, lines), table("Not charged", causes, given)]
