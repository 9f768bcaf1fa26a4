"""The rows that several records are read from, each kind in one query however many there are."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import TypeVar

from django.db.models import F, Model, QuerySet

from equipment import models as rows
from equipment.on_file import Filed, filed_at
from jobs import models

Row = TypeVar("Row", bound=Model)


class Gathered:
    """By number of the record, of its system, house, job or checklist."""

    def __init__(self, records: Sequence[models.ChecklistRecord]) -> None:
        pks = [record.pk for record in records]
        trains = {record.train_id for record in records if record.train_id}
        sites = {record.site_id for record in records}
        self.wells_of_train = _wells_of(trains)
        self.wells_of_site = _by("site_id", rows.Well.objects.filter(site__in=sites))
        fitted = rows.Stage.objects.filter(train__in=trains).fitted().with_catalog()
        self.stages = _by("train_id", fitted)
        self.filed: dict[int, Filed] = filed_at(sites)
        self.notices = models.DoNotUse.objects.standing().by_house(sites)
        self.arrivals = _arrivals({record.job_id for record in records if not record.closed_at})
        self.company = models.Company.load()
        lines = models.ChecklistLine.objects.filter(template__in={r.template_id for r in records})
        self.lines = _by("template_id", lines.order_by("position"))
        self.answers = _of(pks, models.Answer.objects.select_related("by"))
        self.steps = _of(pks, models.DialStep.objects.select_related("strips").order_by("number"))
        self.timers = _of(pks, models.Timer.objects.order_by("pk"))
        self.overrides = _of(pks, models.Override.objects.select_related("by").order_by("pk"))
        read = models.Acknowledgement.objects.select_related("by").order_by("pk")
        self.acknowledgements = _of(pks, read)
        closed = [record.pk for record in records if record.closed_at]
        corrected = models.RecordCorrection.objects.select_related("by").order_by("version")
        self.corrections = _of(closed, corrected) if closed else {}


def visit_began_at(record: models.ChecklistRecord) -> datetime | None:
    """The arrival of the visit that the record is filled on; None where nobody stamped one."""
    return _arrivals({record.job_id}).get(record.job_id)


def _arrivals(jobs: Iterable[int]) -> dict[int, datetime]:
    visits = models.Visit.objects.filter(job__in=jobs, arrived_at__isnull=False)
    rows = visits.order_by("arrived_at").values_list("job_id", "arrived_at")
    return {job: at for job, at in rows if at}


def _wells_of(trains: Iterable[int]) -> Mapping[int, list[rows.Well]]:
    if not trains:
        return {}
    return _by("system", rows.Well.objects.filter(trains__in=trains).annotate(system=F("trains")))


def _of(records: Sequence[int], found: QuerySet[Row]) -> Mapping[int, list[Row]]:
    return _by("record_id", found.filter(record__in=records))


def _by(name: str, found: Iterable[Row]) -> Mapping[int, list[Row]]:
    groups: dict[int, list[Row]] = defaultdict(list)
    for row in found:
        groups[getattr(row, name)].append(row)
    return groups
