"""Kind of work and raw water of a system on the day its water was handed over.

The rules of `class/1`: parts that stood at the end of that day; the newest standing raw reading
that was taken up to that day and known by then. Waits and ages are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, OuterRef

from equipment.models import Measurement, Site, Stage, Train
from equipment.models.measurements import counted_value
from equipment.quantities import PlaceName
from jobs.models.facts import HandoverFact
from jobs.models.visits import day_start

from . import water_classes

FILTERING = (Stage.Kind.FILTER, Stage.Kind.NEUTRALIZER, Stage.Kind.AERATION)
#: a laboratory has so long: what is known by the end of that day names the water
LAB_WAIT = timedelta(days=14)
#: an older reading says nothing about the water of that day
OLDEST = timedelta(days=3 * 365)


@dataclass(frozen=True)
class WorkClass:
    """The class, and the values behind it."""

    kind: str
    water: str
    parts: tuple[int, ...]
    sulfide: float | None
    ph: float | None
    sulfide_reading_id: int | None
    ph_reading_id: int | None

    @property
    def kept(self) -> dict[str, Any]:
        """As the columns of a fact."""
        return {**vars(self), "parts": list(self.parts)}


def class_of(train: Train, day: date, *, known_by: datetime) -> WorkClass:
    parts = list(Stage.objects.on_day(day).filter(train=train).order_by("position", "pk"))
    kinds = {part.kind for part in parts}
    kind = HandoverFact.Kind.OTHER
    if Stage.Kind.FEEDER in kinds:
        kind = HandoverFact.Kind.FEEDER
    elif kinds & set(FILTERING):
        kind = HandoverFact.Kind.FILTER
    found = {figure: _raw(train.site, figure, day, known_by) for figure in water_classes.FIGURES}
    figures = {figure: row and row[1] for figure, row in found.items()}
    readings = {figure: row and row[0] for figure, row in found.items()}
    return WorkClass(
        kind=kind,
        water=water_classes.class_of(figures),
        parts=tuple(part.pk for part in parts),
        sulfide=figures["sulfide"],
        ph=figures["ph"],
        sulfide_reading_id=readings["sulfide"],
        ph_reading_id=readings["ph"],
    )


def lab_answered_by(day: date) -> datetime:
    """What is known by then counts for water handed over on that day."""
    return day_start(day + LAB_WAIT + timedelta(days=1))


def _raw(site: Site, figure: str, day: date, known_by: datetime) -> tuple[int, float] | None:
    newer = Measurement.objects.filter(corrects=OuterRef("pk"), recorded_at__lt=known_by)
    ends = day_start(day + timedelta(days=1))
    row: tuple[int, float] | None = (
        Measurement.objects.filter(
            ~Exists(newer),
            site=site,
            quantity_key=figure,
            place=PlaceName.RAW,
            value__isnull=False,
            measured_at__lt=ends,
            measured_at__gte=ends - OLDEST,
            recorded_at__lte=known_by,
        )
        .order_by("-measured_at", "-pk")
        .annotate(counted=counted_value())
        .values_list("pk", "counted")
        .first()
    )
    return row
