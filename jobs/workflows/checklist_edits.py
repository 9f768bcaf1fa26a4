"""The company's edits laid over what is shipped, and what of them no longer fits."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, field
from difflib import SequenceMatcher
from typing import Any

from jobs.errors import BadEntry
from jobs.fieldwork.keys import USE_LINES, LineKey
from jobs.models import (
    BlockOrder,
    ChecklistLine,
    ChecklistTemplate,
    FollowUp,
    LineEdit,
    RuleVersion,
)

#: lines of the company's own begin so; no shipped line does
OWN = "own-"
LINE_KEYS = frozenset(str(key) for key in LineKey)
#: columns of a line that are not what it asks
OF_ROW = ("id", "template", "position")
ASKED: tuple[str, ...] = tuple(
    each.name for each in ChecklistLine._meta.local_fields if each.name not in OF_ROW
)


@dataclass
class Laid:
    """The lines as they are asked, and in sentences what could not be laid over them."""

    lines: list[ChecklistLine] = field(default_factory=list)
    conflicts: list[str] = field(default_factory=list)


def lay(
    shipped: Sequence[ChecklistLine], edits: Iterable[LineEdit], orders: Iterable[BlockOrder]
) -> Laid:
    """The shipped lines with what the company left out, changed, added and put in another order."""
    by_key = {edit.key: edit for edit in edits}
    known = {line.key for line in shipped}
    laid = Laid()
    for line in shipped:
        edit = by_key.get(line.key)
        if edit is None or not _left_out(line, edit, shipped, laid):
            laid.lines.append(_changed(line, edit, laid) if edit else copy_of(line))
    for edit in by_key.values():
        if edit.own:
            _add(edit, laid)
        elif edit.key not in known:
            laid.conflicts.append(
                f"“{edit.was.get('label', edit.key)}” is not shipped any more: "
                f"{_said(edit)} is kept, and asked of nobody."
            )
    for order in orders:
        _put_in_order(laid, order, [line.key for line in shipped if line.block == order.block])
    for position, line in enumerate(laid.lines, 1):
        line.position = position
    return laid


def _said(edit: LineEdit) -> str:
    return "that it is left out" if edit.left_out else "your change"


def copy_of(line: ChecklistLine) -> ChecklistLine:
    return ChecklistLine(position=0, **{name: getattr(line, name) for name in ASKED})


def _left_out(
    line: ChecklistLine, edit: LineEdit, shipped: Sequence[ChecklistLine], laid: Laid
) -> bool:
    if not edit.left_out:
        return False
    if why := why_it_stays(line, shipped):
        laid.conflicts.append(f"“{line.label}” is asked again though it was taken out: {why}")
        return False
    return True


def _changed(line: ChecklistLine, edit: LineEdit, laid: Laid) -> ChecklistLine:
    ours = copy_of(line)
    for name, value in edit.changes.items():
        setattr(ours, name, value)
        was, now = edit.was.get(name), getattr(line, name)
        if name in edit.was and was != now:
            laid.conflicts.append(
                f"“{line.label}”: {label_of(name)} is shipped as {shown(now)} now, it was "
                f"{shown(was)}; yours, {shown(value)}, stands."
            )
    try:
        check_line(ours)
    except BadEntry as refusal:
        laid.conflicts.append(
            f"“{line.label}” is asked as shipped: your change does not fit it any more. {refusal}"
        )
        return copy_of(line)
    return ours


def _add(edit: LineEdit, laid: Laid) -> None:
    """At the end of its page, until an order says otherwise."""
    line = ChecklistLine(key=edit.key, position=0, **edit.own)
    ends = [n for n, each in enumerate(laid.lines, 1) if each.block == line.block]
    if not ends:
        laid.conflicts.append(
            f"“{line.label}” is kept, and asked of nobody: its page is not shipped any more."
        )
        return
    laid.lines.insert(ends[-1], line)


def _put_in_order(laid: Laid, order: BlockOrder, shipped: Sequence[str]) -> None:
    """Known lines as the company put them; a new one stands below the one it is shipped below."""
    places = [n for n, line in enumerate(laid.lines) if line.block == order.block]
    by_key = {laid.lines[n].key: laid.lines[n] for n in places}
    wanted = [key for key in order.keys if key in by_key]
    for key in [*shipped, *by_key]:
        if key in by_key and key not in wanted:
            above = shipped[: shipped.index(key)] if key in shipped else wanted
            place = next((wanted.index(each) + 1 for each in above[::-1] if each in wanted), 0)
            wanted.insert(place, key)
    for place, key in zip(places, wanted, strict=True):
        laid.lines[place] = by_key[key]


# --- what a line must keep to -------------------------------------------------------------------


def check_line(line: ChecklistLine) -> None:
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


def why_it_stays(line: ChecklistLine, lines: Iterable[ChecklistLine]) -> str:
    """Why a line cannot be taken out, "" where it can."""
    if line.is_gate:
        return "it must pass before a record closes."
    if line.caution:
        return "a caution is read there before work goes on."
    if line.key in LINE_KEYS or line.key.startswith(USE_LINES):
        return "the program reads its answer: what is set, judged or written rests on it."
    for other in lines:
        if other.key != line.key and line.key in _named({**other.condition, "": other.passes}):
            return f"“{other.label}” looks at its answer."
    return _kept_by(line.key)


def _kept_by(key: str) -> str:
    """Rules in force, and promises that stand, that are kept by this line."""
    versions = RuleVersion.objects.in_force()
    standing = FollowUp.objects.alive().order_by().values("terms")
    for terms in versions | RuleVersion.objects.filter(pk__in=standing).select_related("rule"):
        if key in _named(terms.closing_parameters.get("line_keys", [])):
            return f"promises of “{terms.name}” are kept by its answer."
    return ""


def _named(value: Any) -> set[str]:
    """Every word inside a condition."""
    if isinstance(value, dict):
        return set().union(*(_named(each) for each in value.values()))
    if isinstance(value, list):
        return set().union(*(_named(each) for each in value))
    return {value} if isinstance(value, str) else set()


def earlier_needed(key: str, lines: Sequence[ChecklistLine]) -> Collection[str]:
    """Lines that are asked because of this one: they stand below it."""
    return {each.key for each in lines if key in _named(each.condition)}


# --- two versions side by side ------------------------------------------------------------------

LABELS = {
    "block_title": "the question over the page",
    "label": "what is asked",
    "hint": "hint",
    "required": "must be answered",
    "may_skip": "may be skipped",
    "is_gate": "must pass",
    "passes": "what passes",
    "condition": "when it is asked",
    "choices": "choices",
    "kind": "kind",
    "hard_min": "refused below",
    "hard_max": "refused above",
    "warn_min": "second look below",
    "warn_max": "second look above",
}


def label_of(name: str) -> str:
    return LABELS.get(name, name.replace("_", " "))


def shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if value is None or value == "":
        return "empty"
    if isinstance(value, list):
        return ", ".join(str(each[1] if isinstance(each, list) else each) for each in value)
    return f"“{value}”" if isinstance(value, str) else str(value)


@dataclass(frozen=True)
class Difference:
    label: str
    what: str


def differences(old: ChecklistTemplate, new: ChecklistTemplate) -> list[Difference]:
    """What one version asks otherwise than another, in the order of the newer one."""
    before = {line.key: line for line in old.lines.all()}
    after = {line.key: line for line in new.lines.all()}
    both = [key for key in after if key in before]
    moved = _moved([key for key in before if key in after], both)
    found = []
    for key, line in after.items():
        if key not in before:
            found.append(Difference(line.label, f"added on “{line.block_title}”"))
            continue
        for name in ASKED:
            was, now = getattr(before[key], name), getattr(line, name)
            if was != now and name not in ("block", "block_title"):
                found.append(Difference(line.label, _otherwise(name, was, now)))
        if key in moved:
            found.append(Difference(line.label, "stands elsewhere"))
    gone = [line for key, line in before.items() if key not in after]
    return found + [Difference(line.label, "not asked any more") for line in gone]


def _otherwise(name: str, was: object, now: object) -> str:
    if isinstance(was, dict) or isinstance(now, dict):
        return f"{label_of(name)}: changed"
    return f"{label_of(name)}: {shown(was)} → {shown(now)}"


def _moved(before: Sequence[str], after: Sequence[str]) -> set[str]:
    """Lines, of those in both, that the fewest moves put elsewhere."""
    blocks = SequenceMatcher(None, before, after, autojunk=False).get_matching_blocks()
    stayed = {key for block in blocks for key in after[block.b : block.b + block.size]}
    return set(after) - stayed
