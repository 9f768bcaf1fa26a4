"""Readings of a house over time: every figure of a kind, the corrected ones too."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime

from django.db.models import QuerySet
from django.utils import timezone
from django.utils.text import capfirst

from equipment import on_file
from equipment.models import Measurement, OxidantProduct, Site, Stage
from equipment.quantities import MEASURED, PlaceName, in_unit, is_found
from jobs.drawings.history import (
    Chart,
    Days,
    Limit,
    Line,
    Living,
    Point,
    readings_chart,
)
from jobs.fieldwork.asked import aim_for
from jobs.forms.measurements import WATER
from jobs.forms.wells import shown
from jobs.models import Company
from jobs.records.loading import company_facts
from jobs.wording.taps import (
    DISINFECTING,
    OTHER_PLACES,
    PLACE_ORDER,
    PLACE_WORDS,
)

NEWEST = 1000
LINES_IN_A_CHART, POINTS_TO_DRAW = 6, 2
FROM_ZERO_NOT = ("ph", "temperature")
RAW, TREATED, DISINFECTED, REST = "Raw water", "Behind the system", "While disinfecting", ""
GROUPS = (RAW, TREATED, DISINFECTED, REST)
#: told figures have no day on which the water was like that
DRAWN_ORIGINS = (Measurement.Origin.MEASURED, Measurement.Origin.LABORATORY)


@dataclass(frozen=True)
class Place:
    """Where a figure was taken, in words and in the order the water gets there."""

    name: str
    group: str
    order: tuple[int, int, str]


@dataclass
class Reading:
    row: Measurement
    place: Place
    shown: str
    value: float | None  # in the unit of the page
    other: float | None = None  # the other end of a range
    state: str = ""
    notes: list[str] = field(default_factory=list)
    corrected: str = ""  # by what, when this row no longer stands

    @property
    def is_drawn(self) -> bool:
        standing = not self.corrected and self.value is not None
        return standing and self.row.origin in DRAWN_ORIGINS


@dataclass
class Kind:
    """One quantity: its readings newest first, and its charts."""

    key: str
    label: str
    unit: str
    readings: list[Reading]
    charts: list[Chart] = field(default_factory=list)
    undrawn: int = 0


def rows_of(site: Site) -> QuerySet[Measurement]:
    """Every figure of house, wells, parts and samples, newest first, corrected ones too."""
    return (
        Measurement.objects.of_house(site)
        .select_related("recorded_by", "sample", "corrected_by__recorded_by", "corrects")
        .order_by("-measured_at", "-pk")
    )


def kinds_of(
    rows: Iterable[Measurement], stages: Sequence[Stage], system: str, today: date
) -> list[Kind]:
    """Water in the order of the tables; other figures only where there is more than one."""
    by_stage = {stage.pk: stage for stage in stages}
    found: dict[str, list[Reading]] = {}
    for row in rows:
        if row.quantity_key in MEASURED:
            found.setdefault(row.quantity_key, []).append(_reading(row, by_stage, system))
    others = [key for key in MEASURED if key not in WATER and len(found.get(key, ())) > 1]
    return [
        Kind(key, MEASURED[key].label, MEASURED[key].unit_for(system), found[key])
        for key in (*WATER, *others)
        if key in found
    ]


@dataclass(frozen=True)
class Ours:
    """What the company holds itself to at this house."""

    company: Company
    oxidants: frozenset[str]
    has_carbon: bool
    has_sulfide: bool


def ours_of(company: Company, stages: Iterable[Stage], kinds: Iterable[Kind]) -> Ours:
    """By the parts that stand now, and by the newest sulfide reading of the raw water."""
    standing = [stage for stage in stages if stage.removed_on is None]
    sulfide = next((kind.readings for kind in kinds if kind.key == "sulfide"), [])
    raw = next((r for r in sulfide if r.place.group == RAW and not r.corrected), None)
    return Ours(
        company,
        frozenset(stage.product.oxidant for stage in standing if stage.product),
        any(stage.medium and stage.medium.is_carbon for stage in standing),
        raw is not None and is_found(raw.row.value, raw.row.comparator),
    )


def draw(kinds: Iterable[Kind], days: Days, living: Sequence[Living], ours: Ours) -> None:
    """Charts of each kind by group of places, where there are at least two figures to draw."""
    for kind in kinds:
        drawn = [reading for reading in kind.readings if reading.is_drawn]
        kind.undrawn = len(kind.readings) - len(drawn)
        for group in GROUPS:
            lines = _lines([each for each in drawn if each.place.group == group])
            limits = limits_of(kind, group, ours)
            for start in range(0, len(lines), LINES_IN_A_CHART):
                part = lines[start : start + LINES_IN_A_CHART]
                if sum(len(line.points) for line in part) < POINTS_TO_DRAW:
                    continue
                name = f"{kind.label}: {group.lower()}" if group else kind.label
                chart = readings_chart(
                    name,
                    part,
                    days,
                    limits=limits,
                    living=living,
                    unit=kind.unit,
                    from_zero=kind.key not in FROM_ZERO_NOT,
                )
                chart.key = f"{kind.key}-chart-{len(kind.charts) + 1}"
                kind.charts.append(chart)


def _lines(readings: Sequence[Reading]) -> list[Line]:
    by_place: dict[Place, list[Point]] = {}
    for each in reversed(readings):
        row = each.row
        point = Point(row.measured_at, each.value or 0.0, row.comparator, each.other)
        by_place.setdefault(each.place, []).append(point)
    return [Line(place.name, by_place[place]) for place in sorted(by_place, key=lambda p: p.order)]


# --- one reading ----------------------------------------------------------------------------


def _reading(row: Measurement, by_stage: dict[int, Stage], system: str) -> Reading:
    text, unit = shown(row, system)
    value, other = (
        None if end is None else in_unit(row.quantity_key, end, unit)
        for end in (row.value, row.other_end)
    )
    reading = Reading(row, place_of(row, by_stage), text, value, other)
    if row.place not in DISINFECTING:
        reading.state, note = _against_limit(row)
        reading.notes += [note] if note else []
    side = {"found": "as found", "left": "as left"}.get(row.side)
    reading.notes += [side] if side else []
    reading.notes += [row.method] if row.method else []
    newer = getattr(row, "corrected_by", None)
    if newer is not None:
        reading.corrected = f"corrected to {_with_unit(newer, system)} on {_day(newer.recorded_at)}"
    older = row.corrects
    if isinstance(older, Measurement):
        reading.notes.append(f"corrects {_with_unit(older, system)}")
    return reading


def _with_unit(row: Measurement, system: str) -> str:
    return " ".join(shown(row, system)).strip()


def _day(at: datetime) -> str:
    return f"{timezone.localtime(at):%-d %b %Y}"


def _against_limit(row: Measurement) -> tuple[str, str]:
    """ "above" beyond the published figure; a coarse test that found nothing does not tell."""
    kind = MEASURED[row.quantity_key]
    limit = kind.limit
    if row.value is None or limit is None:
        return "", ""
    if row.comparator == Measurement.Comparator.BELOW:
        return "", "the test starts above the limit and does not tell" if row.value > limit else ""
    if not kind.is_beyond_limit(row.value):
        return "", ""
    may_be = row.other_end is not None and not kind.is_beyond_limit(row.other_end)
    return "above", "a range: one end of it is beyond the limit" if may_be else ""


def place_of(row: Measurement, by_stage: dict[int, Stage]) -> Place:
    """The tap, the part it was read behind, or the part it was read on."""
    is_water = row.quantity_key in WATER
    key, behind = on_file.tap_of(row, by_stage.values())
    stage = by_stage.get(behind)
    if stage is not None:
        name = f"After {stage}" if is_water else capfirst(str(stage))
        name += f", taken out {stage.removed_on:%b %Y}" if stage.removed_on else ""
        return Place(name, TREATED if is_water else REST, (1, stage.position, name))
    name = {**PLACE_WORDS, **DISINFECTING, **OTHER_PLACES}.get(key, "House")
    if row.well_id:
        name = "Well"
    if not is_water:
        return Place(name, REST, (0, 0, name))
    group = RAW if key == PlaceName.RAW else DISINFECTED if key in DISINFECTING else TREATED
    return Place(name, group, (PLACE_ORDER.get(key, 9), 0, name))


# --- what they are compared with ------------------------------------------------------------


def limits_of(kind: Kind, group: str, ours: Ours) -> list[Limit]:
    """Published figures and the company's own; where both are the same, one line for both."""
    found: dict[float, Limit] = {}
    for limit in (*_published(kind.key, group), *_own(kind.key, group, ours)):
        value = in_unit(kind.key, limit.value, kind.unit)
        same = found.get(value)
        whose = f"{same.whose}; {limit.whose}" if same else limit.whose
        source = limit.source or limit.whose
        found[value] = Limit(value, whose, f"{same.source}; {source}" if same else source)
    return list(found.values())


def _published(key: str, group: str) -> list[Limit]:
    kind = MEASURED[key]
    if kind.limit is None or group == DISINFECTED:
        return []
    source = kind.limit_from.partition(", ")[2]
    whose = source.partition(" (")[0]
    low = [] if kind.limit_low is None else [Limit(kind.limit_low, whose, source)]
    return [Limit(kind.limit, whose, source), *low]


def _own(key: str, group: str, ours: Ours) -> list[Limit]:
    company = ours.company
    if key == "iron" and group == TREATED:
        return [Limit(company.iron_target_mg_l, "ours at the tap")]
    if key == "chlorine" and group == DISINFECTED:
        return [
            Limit(company.flush_high_mg_l, "ours, high-range flush"),
            Limit(company.flush_low_mg_l, "ours, flushed"),
        ]
    if group != TREATED or key not in ours.oxidants:
        return []
    aim = aim_for(company_facts(company), key, sulfide=ours.has_sulfide) or ()
    words = ("ours, least to filter", "ours, most to filter")
    found = [Limit(value, whose) for value, whose in zip(aim, words, strict=False)]
    is_peroxide = key == OxidantProduct.Oxidant.PEROXIDE
    behind = (
        company.peroxide_after_carbon_mg_l if is_peroxide else company.chlorine_after_carbon_mg_l
    )
    return [*found, *([Limit(behind, "ours behind carbon")] if ours.has_carbon else [])]
