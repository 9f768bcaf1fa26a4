"""Who was told before chlorine went in, house by house: as it was told, or as it was corrected."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime
from typing import Any

from equipment.engineering.names import way_said
from jobs.fieldwork.facts_beside import Poured
from jobs.models import ChecklistRecord, PourTold, RecordCorrection
from jobs.schedule.hours import moment_words, zone_of

#: what a correction of it is called; no line of a checklist asks for it
POUR_TOLD = "pour-told"


def poured_of(record: ChecklistRecord) -> list[Poured]:
    return poured_of_all([record])[record.pk]


def poured_of_all(records: Collection[ChecklistRecord]) -> dict[int, list[Poured]]:
    """By number of the record, two queries at most."""
    found: dict[int, list[Poured]] = {record.pk: [] for record in records}
    for row in PourTold.objects.filter(record__in=records).select_related("site"):
        found[row.record_id].append(_poured(row))
    closed = [record.pk for record in records if record.is_closed and found[record.pk]]
    if not closed:
        return found
    versions = RecordCorrection.objects.filter(record__in=closed, line_key=POUR_TOLD)
    for version in versions.order_by("version"):
        houses = found[version.record_id]
        right = version.figures
        found[version.record_id] = [
            replace(row, **_of(right)) if row.house == right["house"] else row for row in houses
        ]
    return found


def _poured(row: PourTold) -> Poured:
    return Poured(
        site=str(row.site),
        whom=row.whom,
        at=row.at,
        house=row.site_id,
        how=row.how,
        number=row.number,
        read_back=row.read_back,
        told_at=row.told_at,
    )


def _of(figures: dict[str, Any]) -> dict[str, Any]:
    return {
        **{name: figures[name] for name in ("whom", "how", "number", "read_back")},
        "told_at": datetime.fromisoformat(figures["told_at"]),
    }


def figures_of_telling(row: Poured) -> dict[str, Any]:
    """What a correction keeps of it."""
    assert row.told_at
    return {
        "house": row.house,
        "whom": row.whom,
        "how": row.how,
        "number": row.number,
        "read_back": row.read_back,
        "told_at": row.told_at.isoformat(),
    }


def telling_said(record: ChecklistRecord, row: Poured, *, named: bool = True) -> str:
    """Who was told at a house, how and when, as it is printed.

    Another household reads no name and no number of its neighbours.
    """
    said = row.said if named else _nameless(row)
    when = f", {moment_words(row.told_at, zone_of(record.site))}" if row.told_at else ""
    return f"{said}{when}{row.late}"


def _nameless(row: Poured) -> str:
    if not row.is_told:
        return "not told yet"
    return f"told {way_said(row.how, '')}, said it back" if row.how else "told, way not noted"
