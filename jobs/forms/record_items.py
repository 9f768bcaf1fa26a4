"""What was posted in the boxes of one page of a record, which jobs/phone/rows.py names."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.http import QueryDict

from equipment.engineering.spans import signed
from jobs.errors import BadEntry, JobsError
from jobs.fieldwork.asked import Item
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.sheet import Block
from jobs.models import ChecklistRecord, Visit
from jobs.phone.rows import box_name
from jobs.workflows.answers import (
    Entered,
    Place,
    override_gate,
    save_answers,
    skip_line,
    take_back_override,
)
from jobs.workflows.way_out import WayOut

#: takes back the cycle counted last
BACK = "back"

# --- what was posted ------------------------------------------------------------------------


def keys_shown(post: QueryDict) -> frozenset[str]:
    """Keys of the lines that the page asked, and of those on the pages before it."""
    return frozenset(key for told in post.getlist("asked") for key in told.split())


def save_posted(
    record: ChecklistRecord,
    items: tuple[Item, ...],
    post: QueryDict,
    *,
    by: User,
    now: datetime,
    visit: Visit | None,
) -> dict[str, str]:
    """Save every box that was changed; the sentences of the refused ones by box name."""
    errors: dict[str, str] = {}
    names: dict[Place, str] = {}
    entries: dict[Place, Entered] = {}
    for item in items:
        for side in item.sides if item.line.kind not in KEPT_BY_PAGE else ():
            place, name = Place(item.line.key, item.stage, side), box_name(item, side)
            names[place] = name
            try:
                if entered := _entered(item, side, post):
                    entries[place] = entered
            except BadEntry as refusal:
                errors[name] = refusal.message
    if not entries:
        return errors
    try:
        refused = save_answers(record=record, entries=entries, by=by, now=now, visit=visit)
    except JobsError as refusal:
        refused = dict.fromkeys(entries, refusal)
    return errors | {names[place]: refusal.message for place, refusal in refused.items()}


def _entered(item: Item, side: str, post: QueryDict) -> Entered | None:
    """What stands in a box, None where nothing was changed."""
    name = box_name(item, side)
    if item.line.kind == LineKind.CYCLES:
        return _pressed(item, post.get(f"{name}~cycle", ""))
    if name not in post and f"{name}~here" not in post:
        return None
    text = signed(post.get(name, "").strip(), post.get(f"{name}~sign", ""))
    unit = post.get(f"{name}~unit", "")
    kept = item.answers.get(side)
    if kept and item.line.quantity_key and kept.text.replace(" ", "") == text.replace(" ", ""):
        text = kept.text  # "<0.05" and "< 0.05" are one answer
    confirmed = f"{name}~sure" in post
    dilution = _dilution(item, post.get(f"{name}~dilution", ""))
    same = kept is not None and (kept.text, kept.unit, kept.dilution) == (text, unit, dilution)
    if kept is None and not text:
        return None
    if kept and same and not (confirmed and kept.warning and not kept.is_confirmed):
        return None
    version = post.get(f"{name}~version", "")
    seen = int(version) if version.isdigit() and kept else None
    return Entered(text, unit, dilution, confirmed, version=seen)


def _pressed(item: Item, said: str) -> Entered | None:
    """How one more cycle ended, or "back" for the last one; pressed twice it counts once."""
    number, _, word = said.partition(":")
    kept = item.text.split()
    if number != str(len(kept)) or not word:
        return None
    return Entered(" ".join(kept[:-1] if word == BACK else [*kept, word]))


def _dilution(item: Item, text: str) -> float:
    if not text.strip():
        return 1.0
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        value = 0.0
    if not 1 <= value <= 10000:
        raise BadEntry(f"{item.line.label}: the dilution factor is 1 to 10000.")
    return value


def decide_posted(
    record: ChecklistRecord, block: Block, post: QueryDict, *, by: User, now: datetime
) -> dict[str, str]:
    """The buttons beside one line: leave it open, pass over it, let it count again."""
    for word, work in (("skip", _skip), ("over", _pass_over), ("unover", _take_back)):
        if wanted := post.get(word):
            return work(record, block, wanted, post, by, now)
    return {}


def _skip(
    record: ChecklistRecord, block: Block, wanted: str, post: QueryDict, by: User, now: datetime
) -> dict[str, str]:
    for item in block.items:
        for side in item.sides:
            if box_name(item, side) != wanted:
                continue
            try:
                skip_line(
                    record=record,
                    place=Place(item.line.key, item.stage, side),
                    reason=post.get(f"{wanted}~skip", ""),
                    by=by,
                    now=now,
                )
            except JobsError as refusal:
                return {wanted: refusal.message, f"{wanted}~skip": refusal.message}
    return {}


def _pass_over(
    record: ChecklistRecord, block: Block, wanted: str, post: QueryDict, by: User, now: datetime
) -> dict[str, str]:
    try:
        override_gate(
            record=record,
            line_key=wanted,
            reason=post.get(f"{wanted}~over", ""),
            way_out=WayOut(f"{wanted}~unplugged" in post, post.get(f"{wanted}~bypass", "")),
            by=by,
            now=now,
        )
    except JobsError as refusal:
        names = [box_name(i, i.sides[-1]) for i in block.items if i.line.key == wanted]
        return {name: refusal.message for first in names for name in (first, f"{first}~skip")}
    return {}


def _take_back(
    record: ChecklistRecord, block: Block, wanted: str, post: QueryDict, by: User, now: datetime
) -> dict[str, str]:
    try:
        take_back_override(record=record, line_key=wanted, by=by, now=now)
    except JobsError as refusal:
        return {wanted: refusal.message}
    return {}
