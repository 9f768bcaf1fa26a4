"""Checklists come from a file; what the company edits is laid over each version that is shipped."""

from __future__ import annotations

from datetime import datetime
from itertools import count

from django.contrib.auth.models import User
from django.db import transaction
from django.utils.text import slugify

from equipment.engineering.results import Json
from jobs.errors import BadEntry, WrongState
from jobs.models import BlockOrder, ChecklistLine, ChecklistTemplate, LineEdit

from .checklist_edits import (
    OWN,
    Laid,
    check_line,
    earlier_needed,
    lay,
    why_it_stays,
)
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
    """Add versions that are not there yet, each with the company's edits laid over it."""
    return [
        template
        for entry in data["templates"]
        if (template := _load(entry, data["blocks"])) is not None
    ]


def _load(entry: Json, blocks: Json) -> ChecklistTemplate | None:
    purpose, shipped = entry["purpose"], entry["version"]
    standing = ChecklistTemplate.objects.filter(purpose=purpose)
    if standing.filter(is_edited=False, shipped__gte=shipped).exists():
        current = standing.filter(is_current=True).first()
        lost = current is not None and not current.is_edited and is_edited(purpose)
        return _lay_anew(purpose) if lost else None
    _put_by(purpose)
    template = ChecklistTemplate.objects.create(
        purpose=purpose,
        version=max(shipped, _newest(purpose) + 1),
        shipped=shipped,
        title=entry["title"],
    )
    lines = [
        _line(template, key, blocks[key]["title"], line)
        for key in entry["blocks"]
        for line in blocks[key]["lines"]
    ]
    for position, line in enumerate(lines, 1):
        line.position = position
    ChecklistLine.objects.bulk_create(lines)
    return _lay_anew(purpose) if is_edited(purpose) else template


def _line(template: ChecklistTemplate, block: str, title: str, given: Json) -> ChecklistLine:
    unknown = set(given) - LINE_FIELDS
    if unknown:
        raise BadEntry(f"The line {given.get('key')} has unknown fields: {', '.join(unknown)}.")
    return ChecklistLine(template=template, block=block, block_title=title, position=0, **given)


def _put_by(purpose: str) -> None:
    for older in ChecklistTemplate.objects.filter(purpose=purpose, is_current=True):
        older.is_current = False
        older.save(update_fields=["is_current"])


def _newest(purpose: str) -> int:
    rows = ChecklistTemplate.objects.filter(purpose=purpose)
    return max(rows.values_list("version", flat=True), default=0)


# --- what is shipped, and what lies over it -----------------------------------------------------


def is_edited(purpose: str) -> bool:
    edits, orders = LineEdit.objects, BlockOrder.objects
    return edits.filter(purpose=purpose).exists() or orders.filter(purpose=purpose).exists()


def shipped_below(purpose: str) -> ChecklistTemplate:
    """The newest version as it was shipped."""
    rows = ChecklistTemplate.objects.filter(purpose=purpose, is_edited=False)
    return rows.latest("shipped", "version")


def laid(purpose: str) -> Laid:
    """The newest shipped version with the edits of the company, and what does not fit."""
    shipped = list(shipped_below(purpose).lines.order_by("position"))
    edits = LineEdit.objects.filter(purpose=purpose)
    return lay(shipped, edits, BlockOrder.objects.filter(purpose=purpose))


def _lay_anew(purpose: str) -> ChecklistTemplate:
    """The next version: records keep the one they have."""
    below = shipped_below(purpose)
    lines = laid(purpose).lines
    _put_by(purpose)
    newer = ChecklistTemplate.objects.create(
        purpose=purpose,
        version=_newest(purpose) + 1,
        shipped=below.shipped,
        is_edited=True,
        title=below.title,
    )
    for line in lines:
        line.template = newer
    ChecklistLine.objects.bulk_create(lines)
    return newer


# --- acts of the owner --------------------------------------------------------------------------


def _current(template: ChecklistTemplate) -> ChecklistTemplate:
    current = ChecklistTemplate.objects.select_for_update().get(pk=template.pk)
    if not current.is_current:
        raise WrongState("A newer version of this list stands already: edit that one.")
    return current


def _asked(template: ChecklistTemplate, key: str) -> ChecklistLine:
    line = template.lines.filter(key=key).first()
    if line is None:
        raise BadEntry("This list has no such line.")
    return line


def stays(template: ChecklistTemplate, line: ChecklistLine) -> str:
    """Why a line cannot be taken out, "" where it can."""
    return why_it_stays(line, template.lines.all())


@transaction.atomic
def change_line(
    *, template: ChecklistTemplate, key: str, changes: dict[str, object], by: User, now: datetime
) -> ChecklistTemplate:
    """The same list with one line changed, as a new version; records keep the one they have."""
    current = _current(template)
    if unknown := set(changes) - EDITABLE_FIELDS:
        raise BadEntry(f"{sorted(unknown)[0]} is not changed here.")
    line = _asked(current, key)
    for name, value in changes.items():
        setattr(line, name, value)
    check_line(line)
    edit = LineEdit.objects.filter(purpose=current.purpose, key=key).first()
    edit = edit or LineEdit(purpose=current.purpose, key=key)
    if edit.own:
        edit.own |= changes
        edit.save()
    else:
        _keep_changes(edit, changes)
    newer = _lay_anew(current.purpose)
    log(verb="changed_line", subject=newer, by=by, now=now, line=key, fields=sorted(changes))
    return newer


def _keep_changes(edit: LineEdit, changes: dict[str, object]) -> None:
    """Only what differs from what is shipped is an edit."""
    shipped = shipped_below(edit.purpose).lines.get(key=edit.key)
    for name, value in changes.items():
        edit.changes.pop(name, None)
        edit.was.pop(name, None)
        if value != getattr(shipped, name):
            edit.changes[name], edit.was[name] = value, getattr(shipped, name)
    if edit.changes:
        edit.was["label"] = shipped.label
        edit.save()
    elif edit.pk:
        edit.delete()


@transaction.atomic
def add_line(
    *, template: ChecklistTemplate, block: str, asked: dict[str, object], by: User, now: datetime
) -> ChecklistTemplate:
    """A question of the company's own, at the end of a page."""
    current = _current(template)
    page = current.lines.filter(block=block).first()
    if page is None:
        raise BadEntry("Choose a page of this list.", field="block")
    line = ChecklistLine(block=block, block_title=page.block_title, position=0, **asked)
    check_line(line)
    if line.kind == ChecklistLine.Kind.CHOICE and len(line.choices) < 2:
        raise BadEntry("Offer two choices or more, one on each line.", field="choices")
    key = _own_key(current.purpose, line.label)
    own = {**asked, "block": block, "block_title": page.block_title}
    LineEdit.objects.create(purpose=current.purpose, key=key, own=own)
    newer = _lay_anew(current.purpose)
    log(verb="added_line", subject=newer, by=by, now=now, line=key)
    return newer


def _own_key(purpose: str, label: str) -> str:
    word = OWN + (slugify(label)[:40].strip("-") or "line")
    taken = set(LineEdit.objects.filter(purpose=purpose).values_list("key", flat=True))
    numbers = (f"{word}-{number}" for number in count(2))
    return word if word not in taken else next(key for key in numbers if key not in taken)


@transaction.atomic
def take_out(
    *, template: ChecklistTemplate, key: str, by: User, now: datetime
) -> ChecklistTemplate:
    """A line that nothing rests on is asked no more; one of the company's own is dropped."""
    current = _current(template)
    line = _asked(current, key)
    if why := why_it_stays(line, current.lines.all()):
        raise BadEntry(f"“{line.label}” stays: {why}")
    edit = LineEdit.objects.filter(purpose=current.purpose, key=key).first()
    if edit and edit.own:
        edit.delete()
    else:
        edit = edit or LineEdit(purpose=current.purpose, key=key)
        edit.left_out = True
        edit.was = {**edit.was, "label": line.label}
        edit.save()
    newer = _lay_anew(current.purpose)
    log(verb="took_out_line", subject=newer, by=by, now=now, line=key)
    return newer


@transaction.atomic
def as_shipped(
    *, template: ChecklistTemplate, key: str, by: User, now: datetime
) -> ChecklistTemplate:
    """The company's edit of a line is dropped: it is asked as it is shipped, or no more."""
    current = _current(template)
    if not LineEdit.objects.filter(purpose=current.purpose, key=key, own={}).delete()[0]:
        raise BadEntry("This line is asked as it is shipped already.")
    newer = _lay_anew(current.purpose)
    log(verb="line_as_shipped", subject=newer, by=by, now=now, line=key)
    return newer


@transaction.atomic
def move_line(
    *, template: ChecklistTemplate, key: str, below: str, by: User, now: datetime
) -> ChecklistTemplate:
    """A line stands below another one of its page, or first on it ("")."""
    current = _current(template)
    line = _asked(current, key)
    lines = list(current.lines.filter(block=line.block).order_by("position"))
    keys = [each.key for each in lines if each.key != key]
    if below and below not in keys:
        raise BadEntry("Choose a line of the same page.", field="below")
    keys.insert(keys.index(below) + 1 if below else 0, key)
    _below_what_they_look_at(keys, lines)
    BlockOrder.objects.update_or_create(
        purpose=current.purpose, block=line.block, defaults={"keys": keys}
    )
    newer = _lay_anew(current.purpose)
    log(verb="moved_line", subject=newer, by=by, now=now, line=key)
    return newer


def _below_what_they_look_at(keys: list[str], lines: list[ChecklistLine]) -> None:
    """A line that is asked because of another one does not move above it."""
    were = [line.key for line in lines]
    labels = {line.key: line.label for line in lines}
    for key in keys:
        for asked in earlier_needed(key, lines):
            stood = were.index(key) < were.index(asked)
            if stood and keys.index(asked) < keys.index(key):
                raise BadEntry(
                    f"“{labels[asked]}” is asked because of “{labels[key]}”: it stands below it.",
                    field="below",
                )
