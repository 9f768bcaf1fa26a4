"""The list of jobs behind a number of the report."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypedDict

from django.db.models import F, Q, Subquery

from jobs.models import Job

from . import callback_jobs
from .callback_jobs import (
    JUDGEABLE,
    LEFT,
    NOT_CODED,
    RECENT,
    RECHECK_MISSED,
    RECHECK_WOULD_FIND,
    REMOVED,
    Described,
    Selection,
)
from .callbacks import GROUPS, cause_label, group_of, list_name
from .water_classes import WATERS

_called = Q(state=JUDGEABLE, cause_found__isnull=False)
_in_no_rate = Q(cause_found__isnull=False) & ~Q(state=JUDGEABLE)
_workmanship = Q(cause_found__startswith="A_") | Q(cause_found__startswith="B_")
#: number of the report: (words over the list, which jobs)
WHAT: dict[str, tuple[str, Q | None]] = {
    "jobs": ("all jobs of the period", Q()),
    "judgeable": ("judgeable jobs", Q(state=JUDGEABLE)),
    "recent": ("jobs that are too recent", Q(state=RECENT)),
    "lost": ("jobs lost to follow-up", Q(state__in=[LEFT, REMOVED])),
    "callbacks": ("jobs with a callback", _called),
    "workmanship": ("jobs whose callback counts as workmanship", _called & _workmanship),
    "excluded": ("jobs whose callback is excluded by rule", _called & ~_workmanship),
    "defects": ("jobs with a defect found at a planned recheck", Q(state=JUDGEABLE, defect=True)),
    "outside": ("callbacks of jobs that are in no rate", _in_no_rate),
    "inherited": ("jobs on systems taken over from others", Q()),
    "returns": ("every callback, repeats included", None),
    "not_sure": ("reports that may be callbacks", None),
}


@dataclass(frozen=True)
class JobLine:
    """One job with its callback, ready to be shown or exported."""

    job: Job
    callback: Job | None
    installer: str
    state: str
    system: str
    water: str
    cause: str
    group: str
    counts: bool
    defect: bool | None

    @property
    def days_after(self) -> int | None:
        if self.callback is None or self.job.index_on is None:
            return None
        return (self.callback.reported_on - self.job.index_on).days


class Narrowed(TypedDict, total=False):
    """Which jobs are asked for: the number they stand behind, and what narrows it."""

    what: str
    installer: int
    group: str
    kind: str
    water: str
    cause: str


def rows_for(selection: Selection, asked: Narrowed) -> Described:
    """The rows of a list; jobs, or callbacks where each of them is a line of its own."""
    what = asked.get("what", "jobs")
    condition = WHAT[what][1]
    if condition is None:
        return _callbacks(selection, what, asked)
    rows = callback_jobs.looked_at(selection, inherited=what == "inherited").filter(condition)
    if "installer" in asked:
        rows = rows.filter(installer=asked["installer"])
    if "kind" in asked:
        rows = rows.filter(kind_of_system=asked["kind"])
    if "water" in asked:
        rows = rows.filter(water=asked["water"])
    if "cause" in asked:
        rows = rows.filter(cause_found=asked["cause"])
    if "group" in asked:
        group = asked["group"]
        rows = rows.filter(
            Q(cause_found=NOT_CODED) if group == "?" else Q(cause_found__startswith=f"{group}_")
        )
    first = callback_jobs.first_callback(selection).values("pk")[:1]
    listed: Described = (
        rows.annotate(callback_pk=Subquery(first))
        .select_related("site", "installer", "train")
        .order_by("index_on", "pk")
    )
    return listed


def _callbacks(selection: Selection, what: str, asked: Narrowed) -> Described:
    answer = Job.CallbackAnswer.YES if what == "returns" else Job.CallbackAnswer.NOT_SURE
    rows = callback_jobs.all_callbacks(selection).filter(callback_answer=answer)
    if "installer" in asked:
        rows = rows.filter(origin__installer=asked["installer"])
    return rows.select_related(
        "site", "origin__site", "origin__installer", "origin__train"
    ).order_by(F("reported_on"), "pk")


def lines(rows: Iterable[Any]) -> list[JobLine]:
    """Lines of a page of rows, with their callbacks in one more query."""
    rows = list(rows)
    pks = {pk for row in rows if (pk := getattr(row, "callback_pk", None))}
    callbacks = Job.objects.in_bulk(pks)
    return [_line(row, callbacks) for row in rows]


def label_of(cause: str) -> str:
    known = {NOT_CODED, RECHECK_MISSED, *Job.Cause.values}
    return cause_label(cause) if cause in known else "not on the list"


def cause_of(callback: Job) -> str:
    """As the report reads it."""
    if not callback.cause:
        return NOT_CODED
    if callback.recheck_missed and callback.cause in RECHECK_WOULD_FIND:
        return RECHECK_MISSED
    return callback.cause


def _line(row: Any, callbacks: dict[int, Job]) -> JobLine:
    is_callback = not hasattr(row, "callback_pk")
    job = row.origin if is_callback else row
    callback = row if is_callback else callbacks.get(row.callback_pk)
    found = cause_of(row) if is_callback else row.cause_found
    group = group_of(found) if found else ""
    return JobLine(
        job=job,
        callback=callback,
        installer=list_name(job.installer),
        state="" if is_callback else callback_jobs.STATES[row.state],
        system="" if is_callback else callback_jobs.KINDS[row.kind_of_system],
        water="" if is_callback else WATERS[row.water],
        cause=cause_label(found) if found else "",
        group=GROUPS[group].name if group else "",
        counts=bool(group) and GROUPS[group].counts,
        defect=None if is_callback else row.defect,
    )
