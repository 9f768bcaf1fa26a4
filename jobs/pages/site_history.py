"""What happened at a house over time: readings, settings, fills, promises, who lived there."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date

from django.utils.text import capfirst

from equipment.engineering.unit_systems import unit_for
from equipment.engineering.units import magnitude, quantity
from equipment.models import Fill, SettingChange, Site, Stage
from jobs.drawings.course import P_LEFT, P_RIGHT, Course, course
from jobs.drawings.history import (
    Chart,
    Days,
    Living,
    Point,
    days_of,
    fills_chart,
    steps_chart,
)
from jobs.models import Company, FollowUp, FollowUpRule, SiteTenure
from jobs.models.company import company_day
from jobs.wording.names import setting_of
from jobs.wording.pump_settings import change_said

from . import site_readings

#: rows of a page; what is older stays in the database and the page says so
NEWEST_SETTINGS, NEWEST_FILLS, NEWEST_PROMISES = 400, 300, 200
STEPS_TO_DRAW = 2
EVENTS = dict(FollowUpRule.Event.choices)


def context_of(site: Site, *, today: date, system: str) -> dict[str, object]:
    stages = list(
        Stage.objects.filter(train__site=site)
        .select_related("product", "medium", "train")
        .order_by("train", "position", "pk")
    )
    rows = list(site_readings.rows_of(site)[: site_readings.NEWEST + 1])
    kinds = site_readings.kinds_of(rows[: site_readings.NEWEST], stages, system, today)
    tenures = list(SiteTenure.objects.of_site(site))
    parts = parts_of(stages, system)
    promises = promises_rows(site)
    days = days_of(_days_drawn(kinds, parts), today)
    living = [
        Living(str(row.customer), row.from_on, row.until_on)
        for row in tenures
        if row.part in SiteTenure.OF_THE_HOUSE
    ]
    ours = site_readings.ours_of(Company.load(), stages, kinds)
    site_readings.draw(kinds, days, living, ours)
    for part in parts:
        _draw_part(part, days, living, system)
    axis = promise_days(promises, today)
    return {
        "site": site,
        "today": today,
        "kinds": kinds,
        "parts": parts,
        "tenures": tenures,
        "days": days,
        "axis": axis,
        "newest": site_readings.NEWEST,
        "is_cut": len(rows) > site_readings.NEWEST,
        "promises": [promise_of(row, axis, today) for row in promises],
    }


def _days_drawn(kinds: Iterable[site_readings.Kind], parts: Iterable[Part]) -> Iterable[date]:
    for kind in kinds:
        yield from (company_day(r.row.measured_at) for r in kind.readings if r.is_drawn)
    for part in parts:
        yield from (company_day(line.row.at) for line in part.settings)
        yield from (company_day(line.row.at) for line in part.fills)


# --- settings and fills ---------------------------------------------------------------------


def _digits(value: float | None) -> str:
    return "" if value is None else f"{value:.4g}"


@dataclass
class SettingLine:
    row: SettingChange
    old: float | None
    new: float | None
    unit: str
    corrected: SettingChange | None

    @property
    def told(self) -> tuple[str, str]:
        """From and to: as digits, of a dosing pump by all its figures."""
        return self.in_words or (_digits(self.old), self.row.new_text or _digits(self.new))

    @property
    def in_words(self) -> tuple[str, str] | None:
        return change_said(self.row)


@dataclass
class FillLine:
    row: Fill
    amounts: list[tuple[str, str, str]]
    before: float | None
    after: float | None
    unit: str
    corrected: Fill | None

    @property
    def levels(self) -> tuple[str, str]:
        return _digits(self.before), _digits(self.after)


@dataclass
class Part:
    """One part of a system: how it was set and filled, newest first."""

    stage: Stage
    settings: list[SettingLine] = field(default_factory=list)
    fills: list[FillLine] = field(default_factory=list)
    charts: list[Chart] = field(default_factory=list)


def parts_of(stages: Sequence[Stage], system: str) -> list[Part]:
    """Parts that were ever set or filled, those taken out since too."""
    parts = {stage.pk: Part(stage) for stage in stages}
    changes = SettingChange.objects.history(stages).select_related("corrected_by__recorded_by")
    for change in changes[:NEWEST_SETTINGS]:
        parts[change.stage_id].settings.append(_setting(change, system))
    fills = Fill.objects.filter(stage__in=stages).select_related(
        "product", "recorded_by", "corrected_by"
    )
    for fill in fills[:NEWEST_FILLS]:
        parts[fill.stage_id].fills.append(_fill(fill, system))
    return [part for part in parts.values() if part.settings or part.fills]


def _in(value: float | None, unit: str, wanted: str) -> float | None:
    if value is None or unit == wanted:
        return value
    return magnitude("figure", quantity(value, unit), wanted)


def _setting(row: SettingChange, system: str) -> SettingLine:
    unit = unit_for(row.unit, system)
    return SettingLine(
        row,
        _in(row.old_value, row.unit, unit),
        _in(row.new_value, row.unit, unit),
        unit,
        getattr(row, "corrected_by", None),
    )


def _fill(row: Fill, system: str) -> FillLine:
    volume, weight = unit_for("gal", system), unit_for("lb", system)
    told = (
        ("product", _in(row.product_gal, "gal", volume), volume),
        ("water", _in(row.water_gal, "gal", volume), volume),
        ("salt", _in(row.salt_lb, "lb", weight), weight),
        ("mixed to", row.strength_g_l, "g/L"),
    )
    return FillLine(
        row,
        [(name, _digits(value), unit) for name, value, unit in told if value is not None],
        _in(row.level_before_gal, "gal", volume),
        _in(row.level_after_gal, "gal", volume),
        volume,
        getattr(row, "corrected_by", None),
    )


def _draw_part(part: Part, days: Days, living: Sequence[Living], system: str) -> None:
    """One chart for each setting that was changed, and one for the level of the tank."""
    by_name: dict[tuple[str, int], list[SettingLine]] = {}
    for line in reversed(part.settings):
        if line.corrected is None and line.new is not None:
            by_name.setdefault((line.row.name, line.row.tank), []).append(line)
    for (name, _), lines in by_name.items():
        was = lines[0].old
        if len(lines) + (was not in (None, lines[0].new)) < STEPS_TO_DRAW:
            continue
        part.charts.append(
            steps_chart(
                setting_of(lines[0].row.part, name),
                [Point(line.row.at, line.new or 0.0) for line in lines],
                days,
                before=was,
                ended=part.stage.removed_on,
                living=living,
                unit=lines[0].unit,
            )
        )
    levels = [
        (line.row.at, line.before, line.after)
        for line in reversed(part.fills)
        if line.corrected is None and line.after is not None
    ]
    if len(levels) >= STEPS_TO_DRAW:
        title, unit = f"{capfirst(str(part.stage))}: level at each fill", unit_for("gal", system)
        part.charts.append(fills_chart(title, levels, days, living=living, unit=unit))
    for number, chart in enumerate(part.charts, 1):
        chart.key = f"part-{part.stage.pk}-chart-{number}"


# --- promises -------------------------------------------------------------------------------


@dataclass(frozen=True)
class PromiseLine:
    row: FollowUp
    event: str
    ended_by: str  # what ended it, in words
    late: int  # days, when it ended or today
    course: Course


def promises_rows(site: Site) -> list[FollowUp]:
    rows = FollowUp.objects.filter(site=site).with_site()
    people = rows.select_related(
        "train",
        "stage",
        "visit__booked_by",
        "visit__lead",
        "visit__job",
        "from_visit__job",
        "from_visit__lead",
        "ended_by",
    )
    return list(people.order_by("-made_at", "-pk")[:NEWEST_PROMISES])


def promise_days(rows: Sequence[FollowUp], today: date) -> Days:
    """From the first promise to the end of the last window."""
    made = [company_day(row.made_at) for row in rows]
    ends = [row.window_until for row in rows]
    return Days(min([*made, today]), max([*ends, today]), P_LEFT, P_RIGHT)


def promise_of(row: FollowUp, axis: Days, today: date) -> PromiseLine:
    end = company_day(row.ended_at) if row.ended_at else today
    booked = row.visit.booked_at if row.visit else None
    drawn = course(
        axis,
        made=row.made_at,
        window=(row.window_from, row.window_until),
        due=row.due_on,
        until=row.ended_at or today,
        state=row.status,
        booked=booked,
    )
    return PromiseLine(row, _made_by(row), _ended_by(row), row.days_late(end), drawn)


def _made_by(row: FollowUp) -> str:
    """The event, or the promise before it."""
    event = EVENTS.get(row.details.get("event", ""), "")
    return event or ("again, after the one before" if row.cycle > 1 else "")


def _ended_by(row: FollowUp) -> str:
    reason = row.ended_reason.rstrip(". ")
    newer = reason.removeprefix("newer: ")
    return f"a newer one, as {EVENTS[newer]}" if newer in EVENTS else reason
