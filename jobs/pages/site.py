"""What the page of a house shows, gathered in a fixed number of queries."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import Exists, F, OuterRef, Q, QuerySet

from equipment.models import (
    Measurement,
    SettingChange,
    Site,
    SpecialUse,
    Stage,
    Train,
    Well,
)
from equipment.on_file import OnFile, figures_at, tap_of
from equipment.quantities import MEASURED
from jobs.drawings.figures import WellFigures
from jobs.forms.measurements import WATER
from jobs.forms.wells import HOUSE_FIGURES, WELL_FIGURES, shown
from jobs.models import ChecklistRecord, FollowUp, LossFact, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.schedule.waiting import show_waiting
from jobs.wording.days import short_day
from jobs.wording.figures import unit as printed
from jobs.wording.taps import PLACE_ORDER, PLACE_WORDS

from . import photos
from .notices import notices_and_lifted, samples_of
from .phone_calls import calls_of_house
from .rule_words import closes
from .site_drawing import stages_of

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


def context_of(site: Site, *, now: datetime, system: str) -> dict[str, object]:
    today, (notices, lifted) = company_day(now), notices_and_lifted(site, now=now)
    tenures = list(SiteTenure.objects.of_site(site))
    wells, feeding = wells_of(site)
    known = Train.objects.filter(site=site).with_stages()
    trains = [train for train in known if train.removed_on is None]
    stages = [stage for train in trains for stage in train.stages.all()]
    on_file = OnFile(site, filed=figures_at(site))
    visits = list(Visit.objects.filter(job__site=site).with_job().order_by("-starts_at")[:40])
    show_waiting(visits, now)
    readings = readings_of(on_file, stages, system, today)
    return {
        "site": site,
        "today": today,
        **contacts_of(tenures),
        "holder": holder(tenures),
        "notices": notices,
        "lifted": lifted,
        "wells": [well_of(well, on_file, system, today) for well in wells],
        "systems": [
            system_of(t, on_file.counting(feeding[t.pk]), readings, system) for t in trains
        ],
        "losses": _losses(site),
        "gone": [train for train in known if train.removed_on],
        "readings": readings,
        "house_facts": facts(on_file, HOUSE_FIGURES, system, today),
        "settings": SettingChange.objects.filter(stage__train__site=site).select_related(
            "stage__feed_pump", "recorded_by", "corrected_by"
        )[:30],
        "promises": promises_of(site, today),
        "calls": calls_of_house(site),
        "coming": [visit for visit in reversed(visits) if visit.is_to_come],
        "past": [visit for visit in visits if not visit.is_to_come][:12],
        "last_seen": next((v for v in visits if v.status == Visit.Status.CLOSED), None),
        "records": ChecklistRecord.objects.filter(site=site).select_related(
            "template", "opened_by", "job"
        )[:12],
        "photos": photos.of_house(site),
        "samples": samples_of(site, notices),
        **uses_of(site, neighbours(site, wells)),
    }


def wells_of(site: Site) -> tuple[list[Well], dict[int, list[Well]]]:
    """Those a house draws from, and of each system those that feed it; one query."""
    serves_others = Exists(Well.also_serves.through.objects.filter(well=OuterRef("pk")))
    rows = Well.objects.at_site(site).annotate(served=serves_others, feeds=F("trains"))
    wells: dict[int, Well] = {}
    feeding: dict[int, list[Well]] = defaultdict(list)
    for row in rows:
        feeding[getattr(row, "feeds", None) or 0].append(wells.setdefault(row.pk, row))
    return list(wells.values()), feeding


def neighbours(site: Site, wells: list[Well]) -> list[Site]:
    """Other houses on the same water."""
    if not any(well.site_id != site.pk or getattr(well, "served", False) for well in wells):
        return []
    return list(Site.objects.on_wells(wells).exclude(pk=site.pk))


def uses_of(site: Site, others: list[Site]) -> dict[str, object]:
    """What the water must suit here and at each other house on it; one query."""
    rows = SpecialUse.objects.filter(site__in=[site, *others], ended_on=None)
    found = list(rows.select_related("told_by"))
    return {
        "uses": [use for use in found if use.site_id == site.pk],
        "neighbours": [
            (house, [use for use in found if use.site_id == house.pk]) for house in others
        ],
    }


def contacts_of(tenures: list[SiteTenure]) -> dict[str, object]:
    """Contacts of today, who is called first at the head; who was one before; whether one pays."""
    standing = [row for row in tenures if row.until_on is None]
    standing.sort(key=lambda row: (not row.is_contact, row.from_on, row.pk))
    return {
        "contacts": standing,
        "former": [row for row in tenures if row.until_on],
        "has_payer": any(row.pays for row in standing),
    }


def holder(tenures: list[SiteTenure]) -> SiteTenure | None:
    """Whom we call: the contact, else the newest who still holds the house."""
    standing = [row for row in tenures if row.until_on is None]
    return next((row for row in standing if row.is_contact), standing[0] if standing else None)


def facts(
    on_file: OnFile, keys: Iterable[str], system: str, today: date
) -> list[dict[str, object]]:
    """Label, figure, unit and who says so, in the order of the form."""
    found = []
    for key in keys:
        row = on_file.row(key)
        if row is None:
            continue
        value, unit = shown(row, system)
        source = f"{row.get_origin_display()}, {short_day(company_day(row.measured_at), today)}"
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


def well_of(well: Well, house: OnFile, system: str, today: date) -> dict[str, object]:
    on_file = house.counting([well])
    rows = {key: row for key in WELL_FIGURES if (row := on_file.row(key))}

    def depth(key: str) -> float | None:
        return _plain_number(shown(rows[key], system)[0]) if key in rows else None

    size = " ".join(shown(rows["casing_diameter"], system)) if "casing_diameter" in rows else ""
    measured = {k for k, row in rows.items() if row.origin == Measurement.Origin.MEASURED}
    return {
        "well": well,
        "facts": [*identity_of(well), *facts(on_file, WELL_FIGURES, system, today)],
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
        found.append({"label": "Well pump", "value": well.pump_note})
    return found


def _plain_number(text: str) -> float | None:
    try:
        return float(text)
    except ValueError:
        return None  # "> 200": drawn as not known, said in words beside


def readings_of(on_file: OnFile, stages: list[Stage], system: str, today: date) -> Readings:
    """The newest figure of each kind at each tap; parts that were taken out are left out."""
    by_stage = {stage.pk: stage for stage in stages}
    columns: dict[tuple[str, int], Column] = {}
    cells = on_file.newest(lambda row: _cell_of(row, by_stage))
    for (_, place), row in sorted(cells.items(), key=lambda cell: cell[1].measured_at):
        columns[place] = _column(place, by_stage, row)
    ordered = sorted(columns.values(), key=lambda column: column.order)
    table = Readings(columns=ordered)
    for key in WATER:
        line = [cells.get((key, column.key)) for column in ordered]
        if any(line):
            table.rows.append(_line(key, line, ordered, system, today))
    return table


def _cell_of(row: Measurement, by_stage: dict[int, Stage]) -> tuple[str, tuple[str, int]] | None:
    """Line and column of a figure in the table; None for what is no water at a tap."""
    place, stage = tap_of(row, by_stage.values())
    if row.quantity_key not in WATER:
        return None
    is_shown = stage in by_stage if stage else place in PLACE_WORDS
    return (row.quantity_key, (place, stage)) if is_shown else None


def _column(place: tuple[str, int], by_stage: dict[int, Stage], row: Measurement) -> Column:
    name, stage = place
    position = by_stage[stage].position if stage else 0
    title = f"After {str(by_stage[stage]).lower()}" if stage else PLACE_WORDS[name]
    return Column(place, title, (PLACE_ORDER[name], position), company_day(row.measured_at))


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
        above = row.comparator != "<" and kind.is_beyond_limit(row.value or 0)
        read_on = company_day(row.measured_at)
        older = short_day(read_on, today) if read_on != column.newest else ""
        cells.append(Cell(column, row, value, "above" if above else "", older))
    return Line(kind.label, kind.unit_for(system), cells, kind.limit_from)


def system_of(train: Train, on_file: OnFile, readings: Readings, system: str) -> dict[str, object]:
    """The system in the order the water meets it, with what was read at each tap."""
    taps: dict[tuple[str, int], list[str]] = {}
    for line in readings.rows:
        for cell in line.cells:
            if cell.row:
                said = f"{line.label.split(',')[0]} {cell.value} {printed(line.unit)}".strip()
                taps.setdefault(cell.column.key, []).append(said)
    pressures = {
        key: " ".join(shown(row, system)) for key in PRESSURES if (row := on_file.row(key))
    }
    return {"train": train, "stages": stages_of(train, taps, pressures)}


def promises_of(site: Site, today: date) -> list[dict[str, object]]:
    rows = FollowUp.objects.alive().filter(site=site).with_site().select_related("visit__lead")
    return [
        {"row": row, "closes": closes(row.terms), "late": row.days_late(today)}
        for row in rows.order_by("due_on", "pk")
    ]


def losses_of(site: Site | OuterRef) -> QuerySet[LossFact]:
    """What is not followed any more; a system that is out says so itself."""
    rows = LossFact.objects.standing().filter(Q(site=site) | Q(train__site=site))
    return rows.filter(how__in=(*LossFact.HOUSE_GONE, LossFact.How.WATER_OFF))


def _losses(site: Site) -> list[LossFact]:
    """Asked for only where the query of the house found that there are any."""
    if not getattr(site, "is_lost", True):
        return []
    return list(losses_of(site).select_related("train", "recorded_by").order_by("pk"))
