"""The list of jobs behind a number of the report."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any, TypedDict

from django.db.models import F, Q

from jobs.models import Job
from jobs.models.facts import CAUSES, RECHECK_WOULD_FIND, work_of

from . import callback_jobs
from .callback_jobs import (
    INHERITED,
    JUDGEABLE,
    LEFT,
    NOT_CODED,
    OFF,
    RECENT,
    RECHECK_MISSED,
    REMOVED,
    Described,
    Selection,
)
from .callbacks import GROUPS, UNKNOWN_GROUPS, cause_label, group_of, list_name
from .water_classes import WATERS

_called = Q(state=JUDGEABLE, cause_found__isnull=False)
_in_no_rate = Q(cause_found__isnull=False) & ~Q(state=JUDGEABLE)


def _of_groups(*groups: str) -> Q:
    """Jobs whose callback has a cause of these groups."""
    wanted = [number for number, cause in enumerate(CAUSES) if group_of(cause) in groups]
    return Q(cause_found__in=wanted)


_workmanship = _of_groups(*(key for key, group in GROUPS.items() if group.counts))
_unknown = _of_groups(*UNKNOWN_GROUPS)
#: number of the report: (words over the list, which jobs)
WHAT: dict[str, tuple[str, Q | None]] = {
    "jobs": ("all jobs of the period", Q()),
    "judgeable": ("judgeable jobs", Q(state=JUDGEABLE)),
    "recent": ("jobs that are too recent", Q(state=RECENT)),
    "lost": ("jobs lost to follow-up", Q(state__in=[LEFT, REMOVED, OFF])),
    "callbacks": ("jobs with a callback", _called),
    "workmanship": ("jobs whose callback counts as workmanship", _called & _workmanship),
    "excluded": ("jobs whose callback is excluded by rule", _called & ~_workmanship & ~_unknown),
    "unknown": ("jobs whose callback has no known cause", _called & _unknown),
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
    if what == "inherited":
        rows = callback_jobs.inherited(selection)
        if "installer" in asked:
            rows = rows.filter(installer=asked["installer"])
        return _listed(rows)
    rows = callback_jobs.looked_at(selection).filter(condition)
    if "installer" in asked:
        rows = rows.filter(follow__installer=asked["installer"])
    if "kind" in asked or "water" in asked:
        works = callback_jobs.works_of(kind=asked.get("kind", ""), water=asked.get("water", ""))
        rows = rows.filter(work__in=works)
    if "cause" in asked:
        known = [number for number, cause in enumerate(CAUSES) if cause == asked["cause"]]
        rows = rows.filter(cause_found__in=known)
    if "group" in asked:
        rows = rows.filter(_of_groups(asked["group"]))
    return _listed(rows)


def _listed(rows: Described) -> Described:
    listed: Described = (
        callback_jobs.callback_jobs_of(rows)
        .select_related("site", "installer", "train")
        .order_by("index_on", "pk")
    )
    return listed


def _callbacks(selection: Selection, what: str, asked: Narrowed) -> Described:
    answer = Job.CallbackAnswer.YES if what == "returns" else Job.CallbackAnswer.NOT_SURE
    facts = callback_jobs.all_callbacks(selection).filter(answer=answer)
    if "installer" in asked:
        facts = facts.filter(origin__follow__installer=asked["installer"])
    rows: Described = Job.objects.filter(pk__in=facts.values("job"))
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
    number = getattr(row, "cause_found", None)
    found = "" if number is None else CAUSES[number]
    found = cause_of(row) if is_callback else found
    callback = row if is_callback else callbacks.get(row.callback_pk) if found else None
    group = group_of(found) if found else ""
    work = getattr(row, "work", None)
    kind, water = ("", "") if work is None else work_of(work)
    return JobLine(
        job=job,
        callback=callback,
        installer=list_name(job.installer),
        state="" if is_callback else callback_jobs.STATES[getattr(row, "state", INHERITED)],
        system=callback_jobs.KINDS.get(kind, ""),
        water=WATERS.get(water, ""),
        cause=cause_label(found) if found else "",
        group=GROUPS[group].name if group else "",
        counts=bool(group) and GROUPS[group].counts,
        defect=getattr(row, "defect", None),
    )
