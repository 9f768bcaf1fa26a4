"""Which jobs are looked at, what became of each, and its first callback. Reading only.

One row of the queryset is one job; the report counts these rows and the list of jobs shows them,
so that a number and the jobs behind it cannot differ.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db import connections
from django.db.models import Case, Exists, F, OuterRef, Q, QuerySet, Subquery, Value, When
from django.db.models.functions import TruncDate

from equipment.models import Measurement, Stage
from equipment.models.measurements import counted_value
from equipment.quantities import PlaceName
from jobs.models import Job, SiteTenure

from . import water_classes
from .days import DaysBetween, TwoDaysLater

WINDOWS = (30, 90, 365)
JUDGEABLE, RECENT, LEFT, REMOVED = "judgeable", "recent", "left", "removed"
INHERITED = "inherited"
STATES = {
    JUDGEABLE: "judgeable",
    RECENT: "too recent",
    LEFT: "customer left",
    REMOVED: "system removed",
    INHERITED: "taken over from others",
}
KINDS = {
    "feeder": "oxidant feed",
    "filter": "filter, neutralizer or aeration",
    "other": "softener, UV or cartridge",
}
FILTERING = (Stage.Kind.FILTER, Stage.Kind.NEUTRALIZER, Stage.Kind.AERATION)
#: causes that a recheck would have found; its being overdue is the office's part
RECHECK_WOULD_FIND = (Job.Cause.B_HIGH, Job.Cause.B_LOW)
RECHECK_MISSED, NOT_CODED = "R_missed", "not_coded"
#: jobs with columns that the database works out, which the type checker cannot know
Described = QuerySet[Any, Any]


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


def index_jobs() -> QuerySet[Job]:
    """Work after which treated water was handed over; callbacks themselves are none of it."""
    return (
        Job.objects.filter(kind__in=Job.INDEX_KINDS, index_on__isnull=False)
        .exclude(status=Job.Status.CANCELLED)
        .exclude(callback_answer=Job.CallbackAnswer.YES)
        .filter(installer__isnull=False, train__isnull=False)
    )


def in_period(selection: Selection) -> QuerySet[Job]:
    return index_jobs().filter(index_on__gte=selection.since, index_on__lte=selection.until)


def looked_at(selection: Selection, *, inherited: bool = False) -> Described:
    """The jobs of the report, each with state, kind, water, cause of its first callback, defect.

    `cause_found` is None without a callback; RECHECK_MISSED and NOT_CODED stand beside the causes.
    """
    rows: Described = (
        _described(selection)
        .filter(train__is_inherited=inherited)
        .annotate(water=water_classes.class_case(_figures()))
    )
    return rows


def cells(selection: Selection) -> list[tuple[Any, ...]]:
    """(installer, state, kind, water, cause, defect, jobs): alike jobs counted by the database.

    Jobs on systems taken over are among them, with a state of their own. Each job is described
    once, then counted: a plain grouped query would describe it again for every column.
    """
    described = (
        _described(selection)
        .annotate(**_figures())
        .order_by()
        .values_list(
            "installer", "state", "kind_of_system", "cause_found", "defect", *water_classes.FIGURES
        )
    )
    inner, values = described.query.get_compiler(described.db).as_sql()
    with connections[described.db].cursor() as cursor:
        cursor.execute(COUNTED.format(inner=inner), values)
        return [(*row[:5], bool(row[5]), row[6]) for row in cursor.fetchall()]


COUNTED = f"""
WITH described (installer, state, kind, cause, defect, {", ".join(water_classes.FIGURES)})
    AS MATERIALIZED ({{inner}})
SELECT installer, state, kind, {water_classes.class_sql()}, cause, defect, COUNT(*)
FROM described GROUP BY 1, 2, 3, 4, 5, 6
"""


def _described(selection: Selection) -> Described:
    return (
        in_period(selection)
        .annotate(removed_after=DaysBetween("train__removed_on", "index_on"))
        .annotate(
            state=_state(selection),
            kind_of_system=_kind(),
            cause_found=Subquery(first_callback(selection).values("cause_found")[:1]),
            defect=Exists(_defects(selection)),
        )
    )


def callbacks_in_window(selection: Selection) -> Described:
    """Callbacks of the job outside, reported in the window after it, oldest first."""
    rows: Described = (
        Job.objects.filter(
            origin=OuterRef("pk"), callback_answer=Job.CallbackAnswer.YES, planned=False
        )
        .exclude(status=Job.Status.CANCELLED)
        .annotate(days_after=DaysBetween("reported_on", OuterRef("index_on")))
        .filter(days_after__gte=0, days_after__lte=selection.window_days)
        .order_by("reported_on", "pk")
    )
    return rows


def first_callback(selection: Selection) -> Described:
    cause = Case(
        When(cause="", then=Value(NOT_CODED)),
        When(recheck_missed=True, cause__in=RECHECK_WOULD_FIND, then=Value(RECHECK_MISSED)),
        default=F("cause"),
    )
    rows: Described = callbacks_in_window(selection).annotate(cause_found=cause)
    return rows


def all_callbacks(selection: Selection) -> Described:
    """Reports in the window after the jobs of the period, repeats and open questions included.

    The period is asked by counted days, so that the database begins at the few callbacks.
    """
    return (
        Job.objects.filter(planned=False, origin__isnull=False)
        .exclude(status=Job.Status.CANCELLED)
        .filter(
            origin__kind__in=Job.INDEX_KINDS,
            origin__installer__isnull=False,
            origin__train__is_inherited=False,
        )
        .exclude(origin__status=Job.Status.CANCELLED)
        .exclude(origin__callback_answer=Job.CallbackAnswer.YES)
        .annotate(
            days_in=DaysBetween("origin__index_on", Value(selection.since)),
            days_after=DaysBetween("reported_on", "origin__index_on"),
        )
        .filter(days_in__gte=0, days_in__lte=(selection.until - selection.since).days)
        .filter(days_after__gte=0, days_after__lte=selection.window_days)
    )


def _state(selection: Selection) -> Case:
    """Lost jobs first: whoever left or took the system out can report nothing any more."""
    window, today = selection.window_days, selection.today
    ended = (
        SiteTenure.objects.filter(
            site=OuterRef("site"),
            customer=OuterRef("customer"),
            part__in=SiteTenure.OF_THE_HOUSE,
            from_on__lte=OuterRef("index_on"),
            until_on__gt=OuterRef("index_on"),
            until_on__lte=today,
        )
        .annotate(days_after=DaysBetween("until_on", OuterRef("index_on")))
        .filter(days_after__lte=window)
    )
    return Case(
        When(train__is_inherited=True, then=Value(INHERITED)),
        When(removed_after__lte=window, then=Value(REMOVED)),
        When(Exists(ended), then=Value(LEFT)),
        When(index_on__gt=selection.judged_until, then=Value(RECENT)),
        default=Value(JUDGEABLE),
    )


def _kind() -> Case:
    """What the system was on the day it was handed over."""
    fitted = Stage.objects.filter(
        Q(removed_on=None) | Q(removed_on__gt=OuterRef("index_on")),
        train=OuterRef("train"),
        fitted_on__lte=OuterRef("index_on"),
    )
    return Case(
        When(Exists(fitted.filter(kind=Stage.Kind.FEEDER)), then=Value("feeder")),
        When(Exists(fitted.filter(kind__in=FILTERING)), then=Value("filter")),
        default=Value("other"),
    )


def _figures() -> dict[str, Subquery]:
    """The newest raw reading up to the handover, of each figure that a class is made of."""
    return {figure: Subquery(_raw(figure)) for figure in water_classes.FIGURES}


def _raw(quantity_key: str) -> Described:
    return (
        Measurement.objects.standing()
        .filter(
            site=OuterRef("site"),
            quantity_key=quantity_key,
            place=PlaceName.RAW,
            value__isnull=False,
            measured_at__lt=TwoDaysLater(OuterRef("index_on")),
        )
        .order_by("-measured_at", "-pk")
        .annotate(counted=counted_value())
        .values("counted")[:1]
    )


def _defects(selection: Selection) -> QuerySet[Job]:
    """Planned rechecks of the same system within the window that found a defect."""
    return (
        Job.objects.filter(train=OuterRef("train"), defect_found=True)
        .filter(Q(planned=True) | Q(kind__in=[Job.Kind.RECHECK, Job.Kind.INTERVAL]))
        .exclude(callback_answer=Job.CallbackAnswer.YES)
        .exclude(pk=OuterRef("pk"))
        .annotate(days_after=DaysBetween(TruncDate("completed_at"), OuterRef("index_on")))
        .filter(days_after__gte=0, days_after__lte=selection.window_days)
    )
