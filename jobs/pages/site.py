"""What the page of a house shows, gathered in a fixed number of queries."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Q, QuerySet

from equipment.models import (
    Measurement,
    Sample,
    SettingChange,
    Site,
    SpecialUse,
    Stage,
    Train,
    Well,
)
from equipment.quantities import MEASURED, PlaceName
from jobs.drawings.figures import WellFigures
from jobs.forms.measurements import WATER
from jobs.forms.wells import HOUSE_FIGURES, WELL_FIGURES, shown
from jobs.models import ChecklistRecord, DoNotUse, FollowUp, FollowUpRule, SiteTenure, Visit
from jobs.wording.days import short_day
from jobs.wording.figures import unit as printed
from jobs.wording.taps import PLACE_ORDER, PLACE_WORDS, tap_of

from .site_drawing import stages_of

NEWEST = 400
PH_LOW = 6.5  # secondary, 40 CFR 143.3
PRESSURES = ("pressure_tank_volume", "cut_in", "cut_out")


@dataclass
class Column:
    """One tap of the readings table."""

    key: tuple[str, int]
    title: str
    order: tuple[int, int]
    newest: date


@dataclass
class Cell:
    """A figure of a line at one tap, or its place where none was taken."""

    column: Column
    row: Measurement | None = None
    value: str = ""
    state: str = ""
    older: str = ""


@dataclass
class Line:
    """One kind of figure at every tap."""

    label: str
    unit: str
    cells: list[Cell]
    limit: str


@dataclass
class Readings:
    columns: list[Column] = field(default_factory=list)
    rows: list[Line] = field(default_factory=list)


def context_of(site: Site, *, today: date, system: str) -> dict[str, object]:
    tenures = list(SiteTenure.objects.of_site(site))
    wells = list(Well.objects.at_site(site))
    trains = list(Train.objects.filter(site=site).standing().with_stages())
    stages = [stage for train in trains for stage in train.stages.all()]
    figures = list(measurements_of(site, wells)[:NEWEST])
    visits = list(Visit.objects.filter(job__site=site).with_job().order_by("-starts_at")[:40])
    readings = readings_of(figures, stages, system, today)
    house = current(figures, lambda row: row.site_id == site.pk and not row.place)
    pressure = current(figures, lambda row: row.well_id is not None) | house
    return {
        "site": site,
        "today": today,
        "tenures": tenures,
        "holder": holder(tenures),
        "notices": notices_of(site),
        "wells": [well_of(well, figures, system, today) for well in wells],
        "systems": [system_of(t, pressure, readings, system) for t in trains],
        "readings": readings,
        "house_facts": facts(house, HOUSE_FIGURES, system, today),
        "settings": SettingChange.objects.filter(stage__train__site=site).select_related(
            "stage", "recorded_by", "corrected_by"
        )[:30],
        "promises": promises_of(site, today),
        "coming": [visit for visit in reversed(visits) if visit.is_to_come],
        "past": [visit for visit in visits if not visit.is_to_come][:12],
        "last_seen": next((v for v in visits if v.status == Visit.Status.CLOSED), None),
        "records": ChecklistRecord.objects.filter(site=site).select_related(
            "template", "opened_by", "job"
        )[:12],
        "samples": Sample.objects.filter(site=site).select_related("taken_by", "read_by")[:8],
        "uses": SpecialUse.objects.filter(site=site, ended_on=None).select_related("told_by"),
    }


def measurements_of(site: Site, wells: list[Well]) -> QuerySet[Measurement]:
    """Every standing figure of house, wells, parts and samples, newest first."""
    subject = Q(site=site) | Q(well__in=[well.pk for well in wells])
    subject |= Q(stage__train__site=site) | Q(sample__site=site)
    return Measurement.objects.standing().filter(subject).order_by("-measured_at", "-pk")


def holder(tenures: list[SiteTenure]) -> SiteTenure | None:
    """Whom we call: the contact, else the newest who still holds the house."""
    standing = [row for row in tenures if row.until_on is None]
    return next((row for row in standing if row.is_contact), standing[0] if standing else None)


def notices_of(site: Site) -> list[DoNotUse]:
    order = [level for level, _ in DoNotUse.Level.choices]
    rows = DoNotUse.objects.standing().filter(site=site).select_related("opened_by")
    return sorted(rows, key=lambda row: order.index(row.level))


def current(
    figures: Iterable[Measurement], wanted: Callable[[Measurement], bool]
) -> dict[str, Measurement]:
    """Newest row of each kind of figure; `figures` come newest first."""
    rows: dict[str, Measurement] = {}
    for row in figures:
        if wanted(row):
            rows.setdefault(row.quantity_key, row)
    return rows


def facts(
    rows: dict[str, Measurement], keys: Iterable[str], system: str, today: date
) -> list[dict[str, object]]:
    """Label, figure, unit and who says so, in the order of the form."""
    found = []
    for key in keys:
        row = rows.get(key)
        if row is None:
            continue
        value, unit = shown(row, system)
        source = f"{row.get_origin_display()}, {short_day(row.measured_at, today)}"
        if row.origin == Measurement.Origin.STATE_RECORD:
            source = row.get_origin_display()
        found.append(
            {
                "label": MEASURED[key].label,
                "value": value,
                "unit": unit,
                "source": source,
                "measured": row.origin == Measurement.Origin.MEASURED,
            }
        )
    return found


def well_of(well: Well, figures: list[Measurement], system: str, today: date) -> dict[str, object]:
    rows = current(figures, lambda row: row.well_id == well.pk)

    def depth(key: str) -> float | None:
        return _plain_number(shown(rows[key], system)[0]) if key in rows else None

    size = " ".join(shown(rows["casing_diameter"], system)) if "casing_diameter" in rows else ""
    measured = {k for k, row in rows.items() if row.origin == Measurement.Origin.MEASURED}
    return {
        "well": well,
        "facts": [*identity_of(well), *facts(rows, WELL_FIGURES, system, today)],
        "drawing": WellFigures(
            total_depth=depth("total_depth"),
            casing_depth=depth("casing_depth"),
            static_level=depth("static_level"),
            pumping_level=depth("pumping_level"),
            pump_depth=depth("pump_depth"),
            casing_size=size,
            measured=frozenset(measured),
            unit=MEASURED["total_depth"].unit_for(system),
        ),
    }


def identity_of(well: Well) -> list[dict[str, object]]:
    """What is no figure: when it was drilled, how its pump is controlled."""
    drilled = f"{well.drilled_on:%Y}" if well.drilled_on else ""
    by = f"by licence {well.driller}" if well.driller else ""
    found: list[dict[str, object]] = [
        {"label": "Drilled", "value": drilled, "source": by},
        {"label": "Control", "value": well.get_control_display()},
    ]
    if well.pump_note:
        found.append({"label": "Pump", "value": well.pump_note})
    return found


def _plain_number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None  # "> 200": drawn as not known, said in words beside


def readings_of(
    figures: list[Measurement], stages: list[Stage], system: str, today: date
) -> Readings:
    """The newest figure of each kind at each tap; parts that were taken out are left out."""
    by_stage = {stage.pk: stage for stage in stages}
    columns: dict[tuple[str, int], Column] = {}
    cells: dict[tuple[str, tuple[str, int]], Measurement] = {}
    for row in figures:
        place = _place_of(row, by_stage)
        if row.quantity_key not in WATER or place is None:
            continue
        cells.setdefault((row.quantity_key, place), row)
        if place not in columns:
            columns[place] = _column(place, by_stage, row)
    ordered = sorted(columns.values(), key=lambda column: column.order)
    table = Readings(columns=ordered)
    for key in WATER:
        line = [cells.get((key, column.key)) for column in ordered]
        if any(line):
            table.rows.append(_line(key, line, ordered, system, today))
    return table


def _place_of(row: Measurement, by_stage: dict[int, Stage]) -> tuple[str, int] | None:
    stage = row.place_stage_id or row.stage_id
    if stage:
        return (PlaceName.AFTER_STAGE, stage) if stage in by_stage else None
    if row.sample_id:
        return (tap_of(row.place), 0)
    return (row.place, 0) if row.place in PLACE_WORDS else None


def _column(place: tuple[str, int], by_stage: dict[int, Stage], row: Measurement) -> Column:
    name, stage = place
    position = by_stage[stage].position if stage else 0
    title = f"After {str(by_stage[stage]).lower()}" if stage else PLACE_WORDS[name]
    return Column(place, title, (PLACE_ORDER[name], position), row.measured_at.date())


def _line(
    key: str, line: list[Measurement | None], columns: list[Column], system: str, today: date
) -> Line:
    kind = MEASURED[key]
    cells = []
    for row, column in zip(line, columns, strict=True):
        if row is None:
            cells.append(Cell(column))
            continue
        value, _ = shown(row, system)
        above = row.comparator != "<" and _is_outside(key, row.value or 0)
        is_older = row.measured_at.date() != column.newest
        older = short_day(row.measured_at, today) if is_older else ""
        cells.append(Cell(column, row, value, "above" if above else "", older))
    return Line(kind.label, kind.unit_for(system), cells, kind.limit_from)


def _is_outside(key: str, value: float) -> bool:
    """Above the figure it is compared with; for pH also below its range."""
    limit = MEASURED[key].limit
    return (limit is not None and value > limit) or (key == "ph" and value < PH_LOW)


def system_of(
    train: Train, house: dict[str, Measurement], readings: Readings, system: str
) -> dict[str, object]:
    """The system in the order the water meets it, with what was read at each tap."""
    taps: dict[tuple[str, int], list[str]] = {}
    for line in readings.rows:
        for cell in line.cells:
            if cell.row:
                said = f"{line.label.split(',')[0]} {cell.value} {printed(line.unit)}".strip()
                taps.setdefault(cell.column.key, []).append(said)
    pressures = {key: " ".join(shown(house[key], system)) for key in PRESSURES if key in house}
    return {"train": train, "stages": stages_of(train, taps, pressures)}


def promises_of(site: Site, today: date) -> list[dict[str, object]]:
    rows = FollowUp.objects.alive().filter(site=site).with_site().select_related("visit__lead")
    return [
        {"row": row, "closes": closes(row.rule), "late": row.days_late(today)}
        for row in rows.order_by("due_on", "pk")
    ]


def closes(rule: FollowUpRule) -> str:
    """What ends a promise, in words."""
    wanted = rule.closing_parameters
    if rule.closing == FollowUpRule.Closing.VISIT:
        outcomes = [str(Visit.Outcome(name).label) for name in wanted.get("outcomes", [])]
        return (
            f"Closes with a visit: {' or '.join(outcomes)}."
            if outcomes
            else ("Closes with the visit.")
        )
    if rule.closing == FollowUpRule.Closing.RESULT:
        outcomes = [str(Sample.Outcome(name).label) for name in wanted.get("outcomes", [])]
        return (
            f"Closes with a result: {' or '.join(outcomes)}."
            if outcomes
            else ("Closes with the laboratory's result.")
        )
    if rule.closing == FollowUpRule.Closing.FILL:
        return "Closes with the next fill."
    return "Closes when a named person says so."
