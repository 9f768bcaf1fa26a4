"""Fills of a period, each with the one before it in its tank and what records say of its days."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from django.contrib.auth.models import User
from django.db.models import F, QuerySet, Window
from django.db.models.functions import RowNumber

from equipment.engineering.factors import DAYS_PER_MONTH
from equipment.engineering.oxidant.feeding import oxidant_in_kg, oxidant_used_kg
from equipment.engineering.units import quantity, size_in
from equipment.models import Fill, SettingChange, StoredAssessment
from equipment.quantities import SettingName
from jobs.fieldwork.keys import PanelName
from jobs.models import LogEntry, LossFact
from jobs.models.company import company_day
from jobs.models.fed import FED, age_of
from jobs.models.visits import day_start

from .chemical_balance import Compared, Daily, Written, compare


@dataclass(frozen=True)
class Asked:
    """Fills of these days, both of which belong to it; "" and None: any."""

    since: date
    until: date
    house: int | None = None
    tank: int | None = None
    #: a person's number, or the household
    person: str = ""
    only: str = ""

    @property
    def first(self) -> datetime:
        return day_start(self.since)

    @property
    def last(self) -> datetime:
        return day_start(self.until + timedelta(days=1))


@dataclass(frozen=True)
class Line:
    fill: Fill
    written: Written
    compared: Compared
    #: solution put in; of the first fill of a tank what stood in it
    volume_gal: float | None

    @property
    def is_salt(self) -> bool:
        return self.fill.salt_lb is not None

    @property
    def what(self) -> str:
        if self.is_salt:
            return "salt"
        return self.fill.product.name if self.fill.product else "product not written"

    @property
    def strength(self) -> float | None:
        return self.written.strength_g_l

    @property
    def amount(self) -> float | None:
        """Pounds of salt, or kilograms of active oxidant; None: not written."""
        if self.is_salt:
            return self.fill.salt_lb
        if self.volume_gal is None or not self.strength:
            return None
        return oxidant_in_kg(self.volume_gal, self.strength)

    @property
    def who(self) -> User | None:
        """Who wrote it down; None: the household filled it."""
        by_us = self.fill.filled_by == Fill.FilledBy.COMPANY
        return self.fill.recorded_by if by_us else None


def read(asked: Asked) -> list[Line]:
    """Newest first; six queries, however many fills there are."""
    period = _in_period(asked)
    rows = list(period.select_related("stage__train__site", "product", "recorded_by"))
    if not rows:
        return []
    trains = period.order_by().values("stage__train")
    strengths = _strengths(period)
    dailies, off = _dailies(trains), _off(trains)
    before = {row.stage_id: _written(row, strengths) for row in _before(asked, period)}
    found = []
    for row in sorted(rows, key=lambda row: (row.at, row.pk)):
        fill, stage = _written(row, strengths), row.stage
        earlier = before.get(row.stage_id)
        days = dailies[stage.pk] if fill.salt_lb is not None else dailies[-stage.train_id]
        volume = fill.put_in_gal
        if earlier is None and volume is None and fill.salt_lb is None:
            volume = fill.after_gal
        found.append(Line(row, fill, compare(earlier, fill, days, off[stage.train_id]), volume))
        before[row.stage_id] = fill
    return found[::-1]


def _in_period(asked: Asked) -> QuerySet[Fill]:
    rows = Fill.objects.standing().filter(at__gte=asked.first, at__lt=asked.last)
    if asked.house:
        rows = rows.filter(stage__train__site=asked.house)
    return rows.filter(stage=asked.tank) if asked.tank else rows


def _before(asked: Asked, period: QuerySet[Fill]) -> QuerySet[Fill]:
    """Of each tank the last fill before the period."""
    rows = Fill.objects.standing().filter(
        at__lt=asked.first, stage__in=period.order_by().values("stage")
    )
    place = Window(RowNumber(), partition_by=F("stage"), order_by=[F("at").desc(), F("pk").desc()])
    return rows.annotate(place=place).filter(place=1)


def _strengths(period: QuerySet[Fill]) -> dict[int, list[tuple[datetime, float]]]:
    """What the solution of each tank was set down as, oldest first: a fill may leave it out."""
    rows = SettingChange.objects.standing().filter(
        stage__in=period.order_by().values("stage"),
        name=SettingName.STRENGTH,
        new_value__isnull=False,
    )
    found: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for stage, at, value in rows.order_by("at", "pk").values_list("stage", "at", "new_value"):
        found[stage].append((at, float(value or 0)))
    return found


def _written(row: Fill, strengths: dict[int, list[tuple[datetime, float]]]) -> Written:
    poured = [part for part in (row.product_gal, row.water_gal) if part is not None]
    known = [value for at, value in strengths.get(row.stage_id, ()) if at <= row.at]
    return Written(
        company_day(row.at),
        row.salt_lb,
        sum(poured) if poured else None,
        row.level_before_gal,
        row.level_after_gal,
        row.strength_g_l or (known[-1] if known else None),
    )


def _dailies(trains: QuerySet[Any, Any]) -> dict[int, list[Daily]]:
    """By number of the softener, or of the system below zero; oldest first.

    A correction counts from the day of the record that it corrects.
    """
    rows = StoredAssessment.objects.filter(
        train__in=trains, name__in=(*FED, PanelName.SOFTENER)
    ).values_list(
        "pk",
        "corrects",
        "recorded_at",
        "name",
        "train",
        "line_key",
        "results__dose__value",
        "inputs__dose",
        "inputs__daily_use",
        "results__salt_per_month__value",
    )
    began: dict[int, datetime] = {}
    told: dict[tuple[int, date], tuple[tuple[datetime, bool], Daily]] = {}
    for pk, corrects, at, name, train, line, left, asked, water, salt in rows.order_by("pk"):
        began[pk] = began.get(corrects or 0, at)
        of, amount, said = -int(train or 0), None, ""
        dose = left if left is not None else _entered(asked, "mg/L")
        if name == PanelName.SOFTENER:
            of = int(line.removeprefix("stage-") or 0)
            amount = salt / DAYS_PER_MONTH if salt is not None else None
            said = f"{salt:.0f} lb in a month" if salt is not None else ""
        elif dose is not None and (gallons := _entered(water, "gal")) is not None:
            amount = oxidant_used_kg(gallons, dose)
            said = f"{dose:.1f} mg/L in {gallons:.0f} gal a day"
        since = company_day(began[pk])
        # a correction is newer than what it corrects, and takes its place
        age = age_of(name, began[pk])
        if (of, since) not in told or told[of, since][0] <= age:
            told[of, since] = age, Daily(since, amount, said)
    found: dict[int, list[Daily]] = defaultdict(list)
    for (of, _), (_, daily) in sorted(told.items(), key=lambda item: item[0]):
        found[of].append(daily)
    return found


def _entered(figure: dict[str, Any] | None, unit: str) -> float | None:
    """A figure of a record, which is kept in the unit it was typed in."""
    return size_in(quantity(figure["value"], figure["unit"]), unit) if figure else None


def _off(trains: QuerySet[Any, Any]) -> dict[int, list[tuple[date, date]]]:
    """Days on which each system was off by the customer's wish, the last one not."""
    rows = LossFact.objects.filter(train__in=trains, how=LossFact.How.WATER_OFF)
    told = list(
        rows.order_by("recorded_at", "pk").values_list(
            "train", "day", "recorded_at", "corrected_by__recorded_at"
        )
    )
    again = _on_again({train for train, *_ in told}) if told else {}
    found: dict[int, list[tuple[date, date]]] = defaultdict(list)
    for train, day, at, newer in told:
        # on again within thirty days corrects the row in the same act; other corrections undo it
        said = [
            on for moment, on in again.get(train, ()) if moment >= at and newer in (None, moment)
        ]
        if said or newer is None:
            found[train].append((day, said[0] if said else date.max))
    return found


def _on_again(trains: Iterable[int]) -> dict[int, list[tuple[datetime, date]]]:
    rows = LogEntry.objects.filter(verb="water_on", subject_id__in=trains).order_by("at", "pk")
    found: dict[int, list[tuple[datetime, date]]] = defaultdict(list)
    for train, at, data in rows.values_list("subject_id", "at", "data"):
        found[train].append((at, date.fromisoformat(data["on"])))
    return found
