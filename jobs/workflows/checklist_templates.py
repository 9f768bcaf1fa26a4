"""Checklist templates come from a file; the company may edit them afterwards."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from jobs.errors import BadEntry
from jobs.models import ChecklistLine, ChecklistTemplate

LINE_FIELDS = {
    "key", "label", "hint", "kind", "quantity_key", "subject", "place", "is_pair", "choices",
    "required", "is_gate", "passes", "condition", "hard_min", "hard_max", "warn_min", "warn_max",
    "expectation", "caution", "may_skip",
}  # fmt: skip


@transaction.atomic
def load_templates(*, data: dict[str, Any]) -> list[ChecklistTemplate]:
    """Add templates whose version is not there yet. What stands is never touched."""
    return [
        template
        for entry in data["templates"]
        if (template := _load(entry, data["blocks"])) is not None
    ]


def _load(entry: dict[str, Any], blocks: dict[str, Any]) -> ChecklistTemplate | None:
    purpose, version = entry["purpose"], entry["version"]
    standing = ChecklistTemplate.objects.filter(purpose=purpose)
    if standing.filter(version__gte=version).exists():
        return None
    for older in standing.filter(is_current=True):
        older.is_current = False
        older.save(update_fields=["is_current"])
    template = ChecklistTemplate.objects.create(
        purpose=purpose, version=version, title=entry["title"]
    )
    lines = [
        _line(template, key, blocks[key]["title"], line)
        for key in entry["blocks"]
        for line in blocks[key]["lines"]
    ]
    for position, line in enumerate(lines, 1):
        line.position = position
    ChecklistLine.objects.bulk_create(lines)
    return template


def _line(
    template: ChecklistTemplate, block: str, title: str, given: dict[str, Any]
) -> ChecklistLine:
    unknown = set(given) - LINE_FIELDS
    if unknown:
        raise BadEntry(f"The line {given.get('key')} has unknown fields: {', '.join(unknown)}.")
    return ChecklistLine(template=template, block=block, block_title=title, position=0, **given)
