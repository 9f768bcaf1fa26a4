"""Which jobs are looked at, what became of each, and its first callback. Reading only.

The narrow table has one row a job that is followed; the report counts these rows and the list of
jobs shows them, so that a number and the jobs behind it cannot differ.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, NamedTuple

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Sum,
    Value,
    When,
)
from django.db.models.functions import TruncDate

from jobs.models import CallbackFact, Follow, HandoverFact, Job
from jobs.models.facts import (
    CAUSES,
    NOT_CODED,
    RECHECK_MISSED,
    number_of,
    work_of,
)
from jobs.models.facts import (
    KINDS as KIND_NAMES,
)
from jobs.models.facts import (
    WATERS as WATER_NAMES,
)

from .days import DaysBetween, day_number

WINDOWS = (30, 90, 365)
JUDGEABLE, RECENT, LEFT, REMOVED, OFF = "judgeable", "recent", "left", "removed", "off"
INHERITED = "inherited"
STATES = {
    JUDGEABLE: "judgeable",
    RECENT: "too recent",
    LEFT: "customer left",
    REMOVED: "system removed",
    OFF: "water off",
    INHERITED: "taken over from others",
}
LOST = {
    Follow.How.CUSTOMER_GONE: LEFT,
    Follow.How.SYSTEM_GONE: REMOVED,
    Follow.How.WATER_OFF: OFF,
}
KINDS = {kind: str(HandoverFact.Kind(kind).label) for kind in KIND_NAMES}
#: jobs with columns that the database works out, which the type checker cannot know
Described = QuerySet[Any, Any]

__all__ = ["KINDS", "NOT_CODED", "RECHECK_MISSED", "STATES", "WINDOWS", "Selection", "cells"]


@dataclass(frozen=True)
class Selection:
    """Jobs handed over from `since` to `until`, callbacks within `window_days`, as of `today`."""

    since: date
    until: date
    window_days: int
    today: date

    @property
    def judged_until(self) -> date:
        """A job handed over later has not had its whole window yet."""
        return self.today - timedelta(days=self.window_days)


class Alike(NamedTuple):
    """Jobs that are alike in everything that is counted, and the days they were followed."""

    installer: int
    state: str
    kind: str
    water: str
    cause: str | None
    jobs: int
    days: int


def in_period(selection: Selection) -> Described:
    """Rows of the period, whatever became of them."""
    rows: Described = Follow.objects.filter(
        day__gte=number_of(selection.since), day__lte=number_of(selection.until)
    )
    return rows


def ended_in_window(selection: Selection, rows: Described) -> Described:
    """Those that a callback or a loss has ended by today; the bound lets the short index serve."""
    known = rows.filter(ended__lte=number_of(selection.today) - F("day"))
    found: Described = known.filter(ended__lte=selection.window_days)
    return found.filter(ended__lte=Follow.LONGEST)


def cells(selection: Selection) -> list[Alike]:
    """Alike jobs counted by the database: two short questions of the judged, two of the recent."""
    rows, today = in_period(selection), number_of(selection.today)
    recent = rows.filter(day__gt=number_of(selection.judged_until))
    return [
        *judged_cells(selection),
        *_alike(selection, recent, RECENT, Sum(Value(today) - F("day"))),
    ]


def judged_cells(selection: Selection) -> list[Alike]:
    """Those that had their whole window, and among them what was lost in it."""
    judged = in_period(selection).filter(day__lte=number_of(selection.judged_until))
    return _alike(selection, judged, JUDGEABLE, Count("*") * selection.window_days)


def _alike(selection: Selection, rows: Described, state: str, days: Any) -> list[Alike]:
    """All of them by class, less those that ended, which are counted by how and why."""
    by_class = ("installer", "work")
    total = rows.values_list(*by_class).annotate(jobs=Count("*"), days=days).order_by()
    whole = {(who, work): (jobs, followed) for who, work, jobs, followed in total}
    full = Value(selection.window_days)
    if state == RECENT:
        full = Value(number_of(selection.today)) - F("day")  # type: ignore[assignment]
    short = (
        ended_in_window(selection, rows)
        .values_list(*by_class, "how", "cause")
        .annotate(jobs=Count("*"), days=Sum("ended"), full=Sum(full))
        .order_by()
    )
    found, jobs_of, days_of = [], Counter[tuple[int, int]](), Counter[tuple[int, int]]()
    for who, work, how, cause, jobs, days, full_days in short:
        jobs_of[who, work] += jobs
        days_of[who, work] += full_days
        named = CAUSES[cause] if how == Follow.How.CALLBACK else None
        found.append(Alike(who, LOST.get(how, state), *work_of(work), named, jobs, days))
    for (who, work), (jobs, days) in whole.items():
        if jobs > jobs_of[who, work]:
            left, followed = jobs - jobs_of[who, work], days - days_of[who, work]
            found.append(Alike(who, state, *work_of(work), None, left, followed))
    return found


def defects(selection: Selection) -> Counter[int]:
    """Judged jobs with a defect found at a planned recheck, by installer."""
    judged = in_period(selection).filter(day__lte=number_of(selection.judged_until))
    lost = ended_in_window(selection, judged).filter(how__gt=Follow.How.CALLBACK)
    found = Job.objects.filter(defect_found=True, train__isnull=False).values("train")
    rows = (
        judged.filter(Exists(_defects(selection, "job__train", "job__index_on", "job")))
        .filter(job__train__in=found)
        .exclude(pk__in=lost.values("pk"))
        .values_list("installer")
        .annotate(jobs=Count("pk"))
        .order_by()
    )
    return Counter(dict(rows))


def _taken_over(selection: Selection) -> QuerySet[HandoverFact]:
    """The fact of each job on a system taken over, less the callbacks among them."""
    facts = HandoverFact.objects.standing().filter(
        is_inherited=True, day__gte=selection.since, day__lte=selection.until
    )
    yes = CallbackFact.objects.standing().filter(answer=Job.CallbackAnswer.YES)
    return facts.exclude(Exists(yes.filter(job=OuterRef("job"))))


def inherited(selection: Selection) -> Described:
    """Jobs on systems taken over: they have their facts, and are not followed."""
    rows: Described = Job.objects.filter(pk__in=_taken_over(selection).values("job"))
    return rows


def count_inherited(selection: Selection) -> int:
    """As many as `inherited` lists, from the facts alone: a job has one that stands."""
    return _taken_over(selection).count()


def looked_at(selection: Selection) -> Described:
    """The jobs of the report, each with state, work, number of its cause, and defect."""
    today, window = number_of(selection.today), selection.window_days
    is_over = Q(follow__ended__lte=window) & Q(follow__ended__lte=Value(today) - F("follow__day"))
    lost = [When(is_over & Q(follow__how=how), then=Value(name)) for how, name in LOST.items()]
    recent = Q(follow__day__gt=number_of(selection.judged_until))
    rows: Described = Job.objects.filter(
        follow__day__gte=number_of(selection.since), follow__day__lte=number_of(selection.until)
    )
    told: Described = rows.annotate(
        state=Case(*lost, When(recent, then=Value(RECENT)), default=Value(JUDGEABLE)),
        work=F("follow__work"),
        cause_found=Case(
            When(is_over & Q(follow__how=Follow.How.CALLBACK), then=F("follow__cause"))
        ),
        defect=Exists(_defects(selection, "train", "index_on", "pk")),
    )
    return told


def first_callback() -> Described:
    """The report that decides about the job outside; the same that ends it in the table."""
    rows: Described = CallbackFact.objects.standing().filter(
        origin=OuterRef("pk"),
        answer=Job.CallbackAnswer.YES,
        reported_on__gte=OuterRef("index_on"),
    )
    first: Described = rows.order_by("reported_on", "job").values("job")[:1]
    return first


def all_callbacks(selection: Selection) -> Described:
    """Reports in the window after the jobs of the period, each with who led the first of them;
    repeats and open questions included.

    Looked up report by report, and not from all jobs of the period: reports are few.
    """
    first = in_period(selection).filter(
        job=OuterRef("origin"),
        day__lte=OuterRef("reported_number"),
        day__gte=OuterRef("reported_number") - selection.window_days,
    )
    rows: Described = CallbackFact.objects.standing().filter(
        origin__isnull=False,
        reported_on__gte=selection.since,
        reported_on__lte=selection.until + timedelta(days=selection.window_days),
    )
    dated = rows.annotate(reported_number=day_number("reported_on"))
    led = dated.annotate(lead=Subquery(first.values("installer")[:1]))
    told: Described = led.filter(lead__isnull=False)
    return told


def works_of(*, kind: str = "", water: str = "") -> list[int]:
    """Numbers of the classes of a kind of work, of a raw water, or of both."""
    found = []
    for number in range(len(KIND_NAMES) * len(WATER_NAMES)):
        named = work_of(number)
        if kind in ("", named[0]) and water in ("", named[1]):
            found.append(number)
    return found


def _defects(selection: Selection, train: str, index_on: str, job: str) -> QuerySet[Job]:
    """Planned rechecks of the same system within the window that found a defect."""
    return (
        Job.objects.filter(train=OuterRef(train), defect_found=True)
        .filter(Q(planned=True) | Q(kind__in=[Job.Kind.RECHECK, Job.Kind.INTERVAL]))
        .exclude(callback_answer=Job.CallbackAnswer.YES)
        .exclude(pk=OuterRef(job))
        .annotate(days_after=DaysBetween(TruncDate("completed_at"), OuterRef(index_on)))
        .filter(days_after__gte=0, days_after__lte=selection.window_days)
    )


def callback_jobs_of(jobs: Described) -> Described:
    """The jobs with the number of the job that reported first."""
    listed: Described = jobs.annotate(callback_pk=Subquery(first_callback()))
    return listed
