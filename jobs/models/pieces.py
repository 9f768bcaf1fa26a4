"""What stands or stood in a house and can be told by part, lot or serial number: parts that are
fitted, solution that was filled in, strips that read its water."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.db.models import Exists, OuterRef, Q, QuerySet

from equipment.models import Fill, Stage
from jobs.wording.marks import lies_between

from .strips import StripCheck
from .visits import day_start

#: rows of the catalog that a part may be of, by column
OF_CATALOG = ("feed_pump", "vessel", "medium", "retention_tank", "resin")
KIND, PRODUCT, STRIPS = "kind", "product", "strips"


@dataclass(frozen=True)
class Sought:
    """Which pieces: of what, of which lots or serial numbers, from which days."""

    #: "kind:feeder", "medium:3", "product:2", "strips:peroxide", "" for all
    what: str = ""
    #: alone a piece of the mark; with `last` the first of a range
    first: str = ""
    last: str = ""
    since: date | None = None
    until: date | None = None
    #: True: stands there now, False: stood there and is gone, None: both
    stands: bool | None = None
    #: "lot" or "serial": only that mark counts; "": either
    by: str = ""

    @property
    def is_empty(self) -> bool:
        return not (self.what or self.first or self.last or self.since or self.until)

    @property
    def of(self) -> tuple[str, str]:
        table, _, key = self.what.partition(":")
        return table, key


def stages_of(sought: Sought) -> QuerySet[Stage]:
    """Parts, standing or not."""
    table, key = sought.of
    rows = Stage.objects.all()
    if table == KIND:
        rows = rows.filter(kind=key)
    elif table in OF_CATALOG:
        rows = rows.filter(**{table: key})
    elif table:
        return rows.none()
    if sought.since:
        rows = rows.filter(fitted_on__gte=sought.since)
    if sought.until:
        rows = rows.filter(fitted_on__lte=sought.until)
    if sought.stands is not None:
        rows = rows.filter(removed_on__isnull=sought.stands)
    return _marked(rows, sought, *([sought.by] if sought.by else ["lot", "serial"]))


def fills_of(sought: Sought) -> QuerySet[Any]:
    """Fills that no newer row corrects; what is in the tank now was filled last."""
    table, key = sought.of
    rows: QuerySet[Any] = Fill.objects.standing()
    if table == PRODUCT:
        rows = rows.filter(product__pk=key)
    elif table or sought.by == "serial":
        return rows.none()
    rows = _from_to(rows, sought)
    if sought.stands is not None:
        later = Fill.objects.standing().filter(stage=OuterRef("stage"), at__gt=OuterRef("at"))
        is_last = Q(~Exists(later), stage__removed_on=None)
        rows = rows.filter(is_last if sought.stands else ~is_last)
    return _marked(rows, sought, "lot")


def strips_of(sought: Sought) -> QuerySet[StripCheck]:
    """Strips in use on a record; they stay nowhere."""
    table, key = sought.of
    rows = StripCheck.objects.all()
    if table == STRIPS:
        rows = rows.filter(lot__oxidant=key)
    elif table:
        return rows.none()
    if sought.stands:
        return rows.none()
    return _marked(_from_to(rows, sought), sought, "lot__lot")


def _from_to(rows: QuerySet[Any], sought: Sought) -> QuerySet[Any]:
    if sought.since:
        rows = rows.filter(at__gte=day_start(sought.since))
    if sought.until:
        rows = rows.filter(at__lt=day_start(sought.until + timedelta(days=1)))
    return rows


def _marked(rows: QuerySet[Any], sought: Sought, *columns: str) -> QuerySet[Any]:
    """By a piece of the mark, or by a range; each column for itself."""
    if not sought.first and not sought.last:
        return rows
    found = Q()
    for column in columns:
        if not sought.last:
            found |= Q(**{f"{column}__icontains": sought.first})
            continue
        there = rows.order_by().exclude(**{column: ""}).values_list(column, flat=True).distinct()
        within = [mark for mark in there if lies_between(mark, sought.first, sought.last)]
        found |= Q(**{f"{column}__in": within})
    return rows.filter(found)
