"""What is on file for a house: the newest standing figures and settings, read in one way.

A figure is what, where it was taken and, for a part, of which part. House, wells and samples speak
of the same water: the newest of them counts. Later measured wins, then later written; what was
found gives way to what was left on the same occasion.
"""

from __future__ import annotations

import copy
from collections.abc import Callable, Collection, Hashable, Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import TypeVar

from django.db.models import F
from django.utils import timezone

from equipment.engineering.oxidant.feeding import Feed
from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.engineering.results import q
from equipment.engineering.units import Quantity
from equipment.models import Measurement, SettingChange, Site, Stage, Well
from equipment.models.measurements import MeasurementQuerySet
from equipment.quantities import (
    BEHIND,
    MEASURED,
    Known,
    PlaceName,
    SettingName,
    counted,
    counted_words,
    place_of_sample,
)

Key = TypeVar("Key", bound=Hashable)


def day_text(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%-d %b %Y}"


def place_of(row: Measurement) -> str:
    """Where a figure was taken; the tap of a sample is written in words."""
    return place_of_sample(row.place) if row.sample_id else row.place


def tap_of(row: Measurement, stages: Iterable[Stage]) -> tuple[str, int]:
    """Place of a figure and the part it was read behind or on, 0 for none: one tap, one answer.

    Of parts of the kind that the place means, the one that stood on that day.
    """
    stage = row.place_stage_id or row.stage_id or 0
    if not stage and row.place in BEHIND:
        day = timezone.localdate(row.measured_at)
        behind = [part for part in stages if part.kind == BEHIND[row.place]]
        stood = [p for p in behind if p.fitted_on <= day and not (p.removed_on or day) < day]
        stage = max(stood or behind, key=lambda part: part.fitted_on).pk if behind else 0
    return (PlaceName.AFTER_STAGE, stage) if stage else (place_of(row), 0)


#: what a query says of each row
HOUSE = "house"


@dataclass(frozen=True)
class Filed:
    """The standing rows of one house, oldest first."""

    rows: list[Measurement] = field(default_factory=list)
    changes: list[SettingChange] = field(default_factory=list)


def filed_at(sites: Collection[int]) -> dict[int, Filed]:
    """Two queries for one house, three for any number of them."""
    rows = _figures(sites)
    changes = SettingChange.objects.filter(stage__train__site__in=sites).standing()
    changes = changes.order_by("at", "pk")
    found = {site: Filed() for site in sites}
    if len(found) == 1:
        return {site: Filed(list(rows), list(changes)) for site in found}
    houses = Well.objects.houses_of(found)
    for row in rows.with_house():
        for site in houses.get(row.well_id or 0) or {getattr(row, HOUSE)}:
            found[site].rows.append(row)
    for change in changes.annotate(**{HOUSE: F("stage__train__site")}):
        found[getattr(change, HOUSE)].changes.append(change)
    return found


def figures_at(site: Site) -> Filed:
    """Of a house, for whoever asks for no setting; one query."""
    return Filed(list(_figures([site.pk])))


def _figures(sites: Collection[int]) -> MeasurementQuerySet:
    return Measurement.objects.of_houses(sites).standing().order_by("measured_at", "pk")


class OnFile:
    """Read in two queries, or from rows that were read before.

    `wells`: those that count, all of the house where none is named.
    """

    def __init__(
        self,
        site: Site,
        *,
        wells: Iterable[Well] = (),
        until: datetime | None = None,
        filed: Filed | None = None,
    ) -> None:
        filed = filed or filed_at([site.pk])[site.pk]
        #: oldest first
        self.rows = _as_left([row for row in filed.rows if not until or row.measured_at <= until])
        self.settings = {
            (change.stage_id, change.name, change.tank): change
            for change in filed.changes
            if not until or change.at <= until
        }
        self.readings = self._readings(wells)

    def counting(self, wells: Iterable[Well]) -> OnFile:
        """The same file, read for a system that takes water from these wells."""
        other = copy.copy(self)
        other.readings = self._readings(wells)
        return other

    def _readings(self, wells: Iterable[Well]) -> dict[tuple[str, str, int | None], Measurement]:
        counted = {well.pk for well in wells}

        def key(row: Measurement) -> tuple[str, str, int | None] | None:
            if counted and row.well_id and row.well_id not in counted:
                return None
            return row.quantity_key, place_of(row), row.stage_id

        return self.newest(key)

    def newest(self, by: Callable[[Measurement], Key | None]) -> dict[Key, Measurement]:
        """The newest row of each key; None leaves a row out."""
        return {key: row for row in self.rows if (key := by(row)) is not None}

    def of_well(self, well: Well) -> dict[str, Measurement]:
        """What is known of one well, by quantity."""
        return self.newest(lambda row: row.quantity_key if row.well_id == well.pk else None)

    def row(self, quantity: str, place: str = "", stage: Stage | None = None) -> Measurement | None:
        return self.readings.get((quantity, place, stage.pk if stage else None))

    def value(self, quantity: str, place: str = "", stage: Stage | None = None) -> float | None:
        row = self.row(quantity, place, stage)
        figure = known(row) if row else None
        return figure.value if figure else None

    def take(self, quantity: str, place: str = "", stage: Stage | None = None) -> Quantity | None:
        """The figure as a Quantity, None when nothing is on file."""
        return q(self.value(quantity, place, stage), MEASURED[quantity].unit)

    def of_parts(self, stages: Iterable[Stage]) -> list[Measurement]:
        """The newest figures that a system rests on: of the house and of these parts."""
        wanted = {None, *(stage.pk for stage in stages)}
        return [row for (_, _, stage), row in self.readings.items() if stage in wanted]

    def setting(self, stage: Stage, name: SettingName) -> float | None:
        """As it was left last, at whichever of its tanks."""
        left = [
            row for (pk, what, _), row in self.settings.items() if (pk, what) == (stage.pk, name)
        ]
        change = max(left, key=lambda row: (row.at, row.pk), default=None)
        return change.new_value if change else None

    def pump(self, stage: Stage) -> PumpSetting | None:
        """What a dosing pump was last set to, all its figures."""
        change = self.settings.get((stage.pk, SettingName.OUTPUT, 0))
        return change.pump_now if change else None


#: what the dose of a dosing pump follows, in the order of Feed
FED = (SettingName.OUTPUT, SettingName.STRENGTH)


def fed(stage_id: int) -> Feed:
    """What a dosing pump was last set to and filled with."""
    left = {change.name: change.new_value for change in _feed_changes(stage_id)}
    return Feed(*(left.get(name) for name in FED))


def fed_until(stage_id: int, moment: datetime) -> Feed:
    """What the water was given until that moment.

    As it was found, where the first change since then says so: somebody at the house may have
    turned the knob. Else as it was left before.
    """
    changes = _feed_changes(stage_id)
    given = {change.name: change.new_value for change in changes if change.at < moment}
    later = [change for change in changes if change.at >= moment]
    given |= {c.name: c.old_value for c in reversed(later) if c.old_value is not None}
    return Feed(*(given.get(name) for name in FED))


def _feed_changes(stage_id: int) -> list[SettingChange]:
    rows = SettingChange.objects.standing().filter(stage=stage_id, name__in=FED)
    return list(rows.order_by("at", "pk"))


def _as_left(rows: list[Measurement]) -> list[Measurement]:
    """Without what was found where the same occasion says what was left."""

    def asked(row: Measurement) -> tuple[object, ...]:
        about = row.site_id, row.well_id, row.stage_id, row.tank
        return row.occasion, row.quantity_key, row.place, *about

    left = {asked(row) for row in rows if row.side == "left" and row.occasion}
    return [row for row in rows if row.side != "found" or asked(row) not in left]


def known(row: Measurement) -> Known | None:
    """The figure of a row with its origin; None where it holds words."""
    if row.value is None:
        return None
    origin = f"{row.get_origin_display()}, {day_text(row.measured_at)}"
    value = counted(row.quantity_key, row.value, row.comparator)
    if said := counted_words(row.quantity_key, row.comparator, row.other_end, row.entered):
        origin += f", {said}"
    return Known.of(value, MEASURED[row.quantity_key].unit, origin)
