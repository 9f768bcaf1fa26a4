"""The second visit beside the first: today against the start-up, use against expectation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from equipment.models import Fill, Measurement, StoredAssessment
from equipment.on_file import day_text
from equipment.quantities import MEASURED, PlaceName
from jobs.fieldwork.keys import LineKey, PanelName
from jobs.fieldwork.sheet import Item, Sheet
from jobs.models import ChecklistRecord

#: use off by more than this share of what was expected is said
USE_DIFFERS = 0.25
#: lines of the recheck that stand for a place of the start-up
PLACES: dict[str, str] = {PlaceName.AFTER_RETENTION: PlaceName.AFTER_STAGE}


@dataclass(frozen=True)
class Compared:
    """One reading, then and now."""

    label: str
    unit: str
    before: str
    before_on: str
    today: str


def startup_of(sheet: Sheet) -> ChecklistRecord | None:
    """The newest closed start-up of this system before this record."""
    train = sheet.record.train
    if train is None:
        return None
    return (
        ChecklistRecord.objects.closed_startups()
        .for_train(train)
        .exclude(pk=sheet.record.pk)
        .filter(closed_at__lte=sheet.record.closed_at or sheet.now)
        .order_by("-closed_at")
        .first()
    )


def compare(sheet: Sheet, block: str) -> list[Compared]:
    """The figures of one page beside those of the start-up."""
    before = startup_of(sheet)
    if before is None:
        return []
    rows = {
        (row.quantity_key, row.place, row.stage_id): row
        for row in Measurement.objects.standing().of_occasion(before.uuid).order_by("pk")
    }
    found = []
    for item in sheet.items:
        line = item.line
        if line.block != block or not line.quantity_key:
            continue
        place = PLACES.get(line.place, line.place)
        stage = item.stage.pk if item.stage else None
        row = rows.get((line.quantity_key, place, stage))
        if row is not None:
            found.append(_compared(item, row))
    return found


def _compared(item: Item, row: Measurement) -> Compared:
    read = item.read()
    return Compared(
        label=item.label,
        unit=MEASURED[item.line.quantity_key].unit,
        before=_figure(row.comparator, row.value) or row.text,
        before_on=day_text(row.measured_at),
        today=_figure(read.comparator, read.value) if read else "",
    )


def _figure(comparator: str, value: float | None) -> str:
    """In the canonical unit, so that both columns can be compared."""
    if value is None:
        return ""
    return f"{value:g}" if comparator == "=" else f"{comparator} {value:g}"


def consumption(sheet: Sheet) -> dict[str, Any] | None:
    """The glass of solution used since the last fill, against what was worked out."""
    feeder = sheet.feeder
    level = sheet.item(LineKey.LEVEL_FOUND)
    if feeder is None or level is None:
        return None
    glass: dict[str, Any] = {"id": "consumption", "title": "Solution used since the last fill"}
    fill = Fill.objects.standing().filter(stage=feeder).order_by("at", "pk").last()
    if fill is None or fill.level_after_gal is None:
        return {**glass, "waiting": "needs a fill with its level on file"}
    if level.value is None or level.deciding is None:
        return {**glass, "waiting": "needs: solution in the tank, found"}
    days = (level.deciding.read_at - fill.at).total_seconds() / 86400
    used = fill.level_after_gal - level.value
    expected = _expected_per_day(sheet)
    rows: list[tuple[str, str, str]] = [("Days since then", f"{days:.1f}", "day")]
    warnings = []
    if used < 0:
        warnings.append("There is more than after the last fill: somebody filled it.")
    if expected is not None and days > 0:
        rows.append(("Worked out for that time", f"{expected * days:.2f}", "gal"))
        if expected > 0 and abs(used / (expected * days) - 1) > USE_DIFFERS:
            warnings.append(
                "Off by more than a quarter: look at the prime, the tube, the strength, the "
                "counted days and the water used."
            )
    return {
        **glass,
        "answer": f"{used:.2f}",
        "unit": "gal",
        "alt": f"{fill.level_after_gal:g} gal on {day_text(fill.at)}, {level.value:g} gal today",
        "rows": rows,
        "warnings": warnings,
    }


def _expected_per_day(sheet: Sheet) -> float | None:
    stored = (
        StoredAssessment.objects.standing()
        .filter(train=sheet.record.train, name=PanelName.FEED_SETTING)
        .order_by("-recorded_at", "-pk")
        .first()
    )
    found = (stored.results.get("solution_per_day") or {}).get("value") if stored else None
    return float(found) if found is not None else None
