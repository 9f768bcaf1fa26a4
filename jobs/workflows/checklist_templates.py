"""Checklist templates come from a file; the company may edit them afterwards."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.results import Json
from jobs.errors import BadEntry, WrongState
from jobs.models import ChecklistLine, ChecklistTemplate

from .log import log

LINE_FIELDS = {
    "key",
    "label",
    "hint",
    "kind",
    "quantity_key",
    "subject",
    "place",
    "is_pair",
    "choices",
    "required",
    "is_gate",
    "passes",
    "condition",
    "hard_min",
    "hard_max",
    "warn_min",
    "warn_max",
    "expectation",
    "caution",
    "may_skip",
    "from_file",
}
#: what the owner may change of a line; what makes it pass stays in the file
EDITABLE_FIELDS = {
    "label",
    "hint",
    "required",
    "may_skip",
    "hard_min",
    "hard_max",
    "warn_min",
    "warn_max",
}


@transaction.atomic
def load_templates(*, data: Json) -> list[ChecklistTemplate]:
    """Add templates whose version is not there yet. What stands is never touched."""
    return [
        template
        for entry in data["templates"]
        if (template := _load(entry, data["blocks"])) is not None
    ]


def _load(entry: Json, blocks: Json) -> ChecklistTemplate | None:
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


def _line(template: ChecklistTemplate, block: str, title: str, given: Json) -> ChecklistLine:
    unknown = set(given) - LINE_FIELDS
    if unknown:
        raise BadEntry(f"The line {given.get('key')} has unknown fields: {', '.join(unknown)}.")
    return ChecklistLine(template=template, block=block, block_title=title, position=0, **given)


@transaction.atomic
def change_line(
    *, template: ChecklistTemplate, key: str, changes: dict[str, object], by: User, now: datetime
) -> ChecklistTemplate:
    """The same list with one line changed, as a new version; records keep the one they have."""
    current = ChecklistTemplate.objects.select_for_update().get(pk=template.pk)
    if not current.is_current:
        raise WrongState("A newer version of this list stands already: edit that one.")
    if unknown := set(changes) - EDITABLE_FIELDS:
        raise BadEntry(f"{sorted(unknown)[0]} is not changed here.")
    lines = list(current.lines.order_by("position"))
    line = next((each for each in lines if each.key == key), None)
    if line is None:
        raise BadEntry("This list has no such line.")
    for name, value in changes.items():
        setattr(line, name, value)
    _check_line(line)
    current.is_current = False
    current.save(update_fields=["is_current"])
    newer = ChecklistTemplate.objects.create(
        purpose=current.purpose, version=current.version + 1, title=current.title
    )
    for each in lines:
        each.pk, each.template = None, newer
    ChecklistLine.objects.bulk_create(lines)
    log(verb="changed_line", subject=newer, by=by, now=now, line=key, fields=sorted(changes))
    return newer


def _check_line(line: ChecklistLine) -> None:
    if line.is_gate and not line.required:
        raise BadEntry("This line must pass, so it must be asked.", field="required")
    if not line.label.strip():
        raise BadEntry("Say what is asked.", field="label")
    for low, high, words in (
        ("hard_min", "hard_max", "refused below"),
        ("warn_min", "warn_max", "a look below"),
    ):
        least, most = getattr(line, low), getattr(line, high)
        if least is not None and most is not None and least >= most:
            raise BadEntry(f"The figure {words} must be the smaller one.", field=low)
    _inside(line, "warn_min")
    _inside(line, "warn_max")


def _inside(line: ChecklistLine, name: str) -> None:
    value = getattr(line, name)
    if value is None:
        return
    below = line.hard_min is not None and value < line.hard_min
    above = line.hard_max is not None and value > line.hard_max
    if below or above:
        raise BadEntry("A figure is refused before it would ask for a look.", field=name)
