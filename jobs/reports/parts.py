"""Which houses have a part, a lot or a serial number, and which had it; with day and job."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Any, NamedTuple

from django.contrib.auth.models import User
from django.db import connection
from django.db.models import Exists, F, IntegerField, OuterRef, Q, QuerySet, Value
from django.db.models.functions import TruncDate

from equipment.models import Fill, Site, Stage
from jobs.models import ChecklistRecord, Job, StripCheck, Visit
from jobs.models.company import company_day
from jobs.models.pieces import Sought, fills_of, stages_of, strips_of
from jobs.wording.names import person

from .tables import Table, table
from .tables import Value as Cell

PART, FILL, STRIPS = 0, 1, 2
#: what a union of the three asks for, in this order
COLUMNS = ("source", "number", "street", "town", "day")


class Work(NamedTuple):
    """A job and its kind."""

    job: int
    kind: str


@dataclass(frozen=True)
class Line:
    """One piece: where, what, its marks, from when to when, by whom, on which job."""

    site: Site
    what: str
    serial: str
    lot: str
    day: date
    until: date | None
    #: how it stands, in words
    state: str
    who: User | None
    of: Work | None
    part: int | None = None

    @property
    def job(self) -> int | None:
        return self.of.job if self.of else None

    @property
    def work(self) -> str:
        """What its job is called."""
        return str(Job.Kind(self.of.kind).label) if self.of else ""


def found(sought: Sought) -> QuerySet[Any, Any]:
    """(source, number, street, town, day) of every piece, by house, then by day."""
    parts = _columns(stages_of(sought), PART, "train__site", F("fitted_on"))
    fills = _columns(fills_of(sought), FILL, "stage__train__site", TruncDate("at"))
    strips = _columns(strips_of(sought), STRIPS, "record__job__site", TruncDate("at"))
    together: Any = parts.union(fills, strips, all=True).order_by(
        "street", "town", "day", "source", "number"
    )
    rows: QuerySet[Any, Any] = together
    return rows


def _columns(rows: QuerySet[Any], source: int, site: str, day: Any) -> QuerySet[Any, Any]:
    named: Any = rows.order_by().annotate(
        source=Value(source, output_field=IntegerField()),
        number=F("pk"),
        street=F(f"{site}__street"),
        town=F(f"{site}__town"),
        day=day,
    )
    columns: QuerySet[Any, Any] = named.values_list(*COLUMNS)
    return columns


def counted(sought: Sought) -> tuple[int, int]:
    """Pieces, and houses that have or had one."""
    parts = _houses(stages_of(sought), "train__site")
    fills = _houses(fills_of(sought), "stage__train__site")
    strips = _houses(strips_of(sought), "record__job__site")
    sql, values = parts.union(fills, strips, all=True).query.sql_with_params()
    with connection.cursor() as cursor:
        cursor.execute(f"SELECT COUNT(*), COUNT(DISTINCT house) FROM ({sql}) AS piece", values)
        pieces, houses = cursor.fetchone()
    return pieces, houses


def _houses(rows: QuerySet[Any], site: str) -> QuerySet[Any, Any]:
    named: Any = rows.order_by().annotate(house=F(site))
    found: QuerySet[Any, Any] = named.values_list("house")
    return found


def lines(page: Iterable[tuple[int, int, str, str, date]]) -> list[Line]:
    """What is said of each, in as many queries however many there are."""
    numbers: dict[int, list[int]] = {PART: [], FILL: [], STRIPS: []}
    order = []
    for source, number, *_ in page:
        numbers[source].append(number)
        order.append((source, number))
    said: dict[tuple[int, int], Line] = {
        **{(PART, line.part or 0): line for line in _parts(numbers[PART])},
        **_fills(numbers[FILL]),
        **_strips(numbers[STRIPS]),
    }
    return [said[key] for key in order]


def _parts(numbers: list[int]) -> list[Line]:
    rows = Stage.objects.with_catalog().select_related("train__site", "fitted_by")
    parts = list(rows.filter(pk__in=numbers)) if numbers else []
    jobs = _jobs_that_day(parts)
    return [
        Line(
            part.train.site,
            _what(part),
            part.serial,
            part.lot,
            part.fitted_on,
            part.removed_on,
            "taken out" if part.removed_on else "stands there",
            part.fitted_by,
            jobs.get((part.train_id, part.fitted_on)),
            part.pk,
        )
        for part in parts
    ]


def _what(part: Stage) -> str:
    """Its kind, and what of the catalog it is."""
    of = part.feed_pump or part.medium or part.resin or part.retention_tank or part.vessel
    kind = str(part.get_kind_display())
    return f"{kind}: {of.name}" if of else kind


def _jobs_that_day(parts: list[Stage]) -> dict[tuple[int | None, date], Work]:
    """Of each system and day of fitting the job of the visit that was there."""
    if not parts:
        return {}
    visits = Visit.objects.filter(
        status=Visit.Status.CLOSED,
        job__train__in={part.train_id for part in parts},
        starts_at__date__in={part.fitted_on for part in parts},
    )
    rows = visits.order_by("-starts_at").values_list("job__train", "starts_at", "job", "job__kind")
    return {(train, company_day(at)): Work(job, kind) for train, at, job, kind in rows}


def _fills(numbers: list[int]) -> dict[tuple[int, int], Line]:
    rows = Fill.objects.select_related("stage__train__site", "product", "recorded_by")
    ours = Q(at__gt=OuterRef("at")) | Q(at=OuterRef("at"), pk__gt=OuterRef("pk"))
    later = Fill.objects.standing().filter(ours, stage=OuterRef("stage"))
    fills = list(rows.filter(pk__in=numbers).annotate(is_last=~Exists(later))) if numbers else []
    jobs = _jobs_of({fill.occasion for fill in fills if fill.occasion})
    return {(FILL, fill.pk): _fill_line(fill, jobs) for fill in fills}


def _fill_line(fill: Any, jobs: dict[uuid.UUID, Work]) -> Line:
    name = fill.product.name if fill.product else "salt" if fill.salt_lb else "not known"
    gone, state = fill.stage.removed_on, "filled last"
    if gone:
        state = "its tank was taken out"
    elif not fill.is_last:
        state = "filled again since, on top of what was left"
    return Line(
        fill.stage.train.site,
        f"fill of {fill.stage}: {name}",
        "",
        fill.lot,
        company_day(fill.at),
        gone,
        state,
        fill.recorded_by,
        jobs.get(fill.occasion) if fill.occasion else None,
    )


def _jobs_of(occasions: set[uuid.UUID]) -> dict[uuid.UUID, Work]:
    """A visit or a record: the job of either."""
    if not occasions:
        return {}
    visits, records = (
        rows.filter(uuid__in=occasions).order_by().values_list("uuid", "job", "job__kind")
        for rows in (Visit.objects.all(), ChecklistRecord.objects.all())
    )
    return {of: Work(job, kind) for of, job, kind in visits.union(records, all=True)}


def _strips(numbers: list[int]) -> dict[tuple[int, int], Line]:
    rows = StripCheck.objects.select_related("record__job__site", "lot", "by")
    return {
        (STRIPS, check.pk): Line(
            check.record.job.site,
            f"strips: {check.lot.get_oxidant_display()}",
            "",
            check.lot.lot,
            company_day(check.at),
            None,
            f"read with; good until {check.lot.expires_on:%-d %B %Y}",
            check.by,
            Work(check.record.job_id, check.record.job.kind),
        )
        for check in (rows.filter(pk__in=numbers) if numbers else [])
    }


def tables(sought: Sought) -> list[Table]:
    heads = ("House", "Part", "Serial number", "Lot", "From", "Until", "State", "By", "Job")
    rows: list[tuple[Cell, ...]] = [
        (
            str(line.site),
            line.what,
            line.serial,
            line.lot,
            line.day,
            line.until,
            line.state,
            person(line.who) if line.who else "",
            line.job,
        )
        for line in lines(found(sought))
    ]
    return [table("Parts and lots in houses", heads, rows)]
