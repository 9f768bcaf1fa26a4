"""The list of jobs behind a number of the report."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from functools import reduce
from itertools import islice
from operator import or_
from typing import Any, TypedDict

from django.contrib.auth.models import User
from django.db.models import Exists, F, OuterRef, Q, Subquery

from jobs.models import HandoverFact, HandoverHelper, Job
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
from .following import CHUNK
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
    "outside": ("callbacks of jobs that are too recent", _in_no_rate),
    "inherited": ("jobs on systems taken over from others", Q()),
    "returns": ("every callback, repeats included", None),
    "not_sure": ("reports that may be callbacks", None),
}

CHOICES = [(key, words[0].upper() + words[1:]) for key, (words, _) in WHAT.items()]


@dataclass(frozen=True)
class JobLine:
    """One job with its callback, ready to be shown or exported."""

    job: Job
    callback: Job | None
    installer: str
    #: who else worked on it, with what he did
    helpers: tuple[tuple[str, str], ...]
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
        return _inherited(selection, asked)
    rows = callback_jobs.looked_at(selection).filter(condition)
    if "installer" in asked:
        rows = rows.filter(follow__installer=asked["installer"])
    if "kind" in asked or "water" in asked:
        rows = rows.filter(work__in=_works(asked))
    if "cause" in asked:
        rows = rows.filter(cause_found=CAUSES.index(asked["cause"]))
    if "group" in asked:
        rows = rows.filter(_of_groups(asked["group"]))
    return _listed(rows)


def _works(asked: Narrowed) -> list[int]:
    return callback_jobs.works_of(kind=asked.get("kind", ""), water=asked.get("water", ""))


def _inherited(selection: Selection, asked: Narrowed) -> Described:
    """Not followed, so that nothing ends them: a cause narrows them to none."""
    facts = HandoverFact.objects.standing().filter(job=OuterRef("pk"))
    rows = callback_jobs.inherited(selection).annotate(
        fact_kind=Subquery(facts.values("kind")), fact_water=Subquery(facts.values("water"))
    )
    if "group" in asked or "cause" in asked:
        rows = rows.none()
    if "installer" in asked:
        rows = rows.filter(installer=asked["installer"])
    if "kind" in asked:
        rows = rows.filter(fact_kind=asked["kind"])
    if "water" in asked:
        rows = rows.filter(fact_water=asked["water"])
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
    if "kind" in asked or "water" in asked:
        facts = facts.filter(origin__follow__work__in=_works(asked))
    if "cause" in asked:
        facts = facts.filter(_with_cause(asked["cause"]))
    if "group" in asked:
        found = (_with_cause(cause) for cause in CAUSES if group_of(cause) == asked["group"])
        facts = facts.filter(reduce(or_, found))
    rows: Described = Job.objects.filter(pk__in=facts.values("job"))
    return rows.select_related(
        "site", "origin__site", "origin__installer", "origin__train"
    ).order_by(F("reported_on"), "pk")


def _with_cause(cause: str) -> Q:
    """Reports that the narrow table would give this number."""
    would = Q(cause__in=RECHECK_WOULD_FIND)
    if cause == RECHECK_MISSED:
        return would & Q(recheck_overdue=True)
    named = Q(cause="" if cause == NOT_CODED else cause)
    return named & ~(would & Q(recheck_overdue=True))


def causes() -> list[tuple[str, str]]:
    """Each with its words, in the order of the groups."""
    ordered = sorted(CAUSES, key=lambda cause: list(GROUPS).index(group_of(cause)))
    return [(cause, cause_label(cause)) for cause in ordered]


def leads() -> list[User]:
    """Everybody whose job has handed over water, those who left included."""
    led = HandoverFact.objects.filter(installer=OuterRef("pk"))
    return sorted(User.objects.filter(Exists(led)), key=lambda user: list_name(user).casefold())


def lines(rows: Iterable[Any]) -> list[JobLine]:
    """Lines of rows, with their callbacks and helpers in two more queries of each part."""
    found: list[JobLine] = []
    rows = iter(rows)
    while part := list(islice(rows, CHUNK)):
        callbacks = Job.objects.in_bulk(
            {pk for row in part if (pk := getattr(row, "callback_pk", None))}
        )
        helpers = _helpers({_index_job(row).pk for row in part})
        found += [_line(row, callbacks, helpers) for row in part]
    return found


def _helpers(jobs: Collection[int]) -> dict[int, list[tuple[str, str]]]:
    rows = HandoverHelper.objects.filter(fact__job__in=jobs, fact__corrected_by=None)
    found: dict[int, list[tuple[str, str]]] = defaultdict(list)
    for row in rows.select_related("fact", "person").order_by("pk"):
        found[row.fact.job_id].append((list_name(row.person), row.did))
    return found


def cause_of(callback: Job) -> str:
    """As the report reads it."""
    if not callback.cause:
        return NOT_CODED
    if callback.recheck_missed and callback.cause in RECHECK_WOULD_FIND:
        return RECHECK_MISSED
    return callback.cause


def _index_job(row: Any) -> Any:
    """The job that is counted, also where the row is its callback."""
    return row if hasattr(row, "callback_pk") else row.origin


def _line(
    row: Any, callbacks: dict[int, Job], helpers: dict[int, list[tuple[str, str]]]
) -> JobLine:
    is_callback, job = not hasattr(row, "callback_pk"), _index_job(row)
    number = getattr(row, "cause_found", None)
    found = "" if number is None else CAUSES[number]
    found = cause_of(row) if is_callback else found
    callback = row if is_callback else callbacks.get(row.callback_pk) if found else None
    group = group_of(found) if found else ""
    kind, water = _class_of(row)
    return JobLine(
        job=job,
        callback=callback,
        installer=list_name(job.installer),
        helpers=tuple(helpers.get(job.pk, ())),
        state="" if is_callback else callback_jobs.STATES[getattr(row, "state", INHERITED)],
        system=callback_jobs.KINDS.get(kind, ""),
        water=WATERS.get(water, ""),
        cause=cause_label(found) if found else "",
        group=GROUPS[group].name if group else "",
        counts=bool(group) and GROUPS[group].counts,
        defect=getattr(row, "defect", None),
    )


def _class_of(row: Any) -> tuple[str, str]:
    """Kind of system and raw water; a callback's own are not asked for."""
    work = getattr(row, "work", None)
    if work is not None:
        return work_of(work)
    return getattr(row, "fact_kind", ""), getattr(row, "fact_water", "")
