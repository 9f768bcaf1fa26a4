"""What was posted in the boxes of one page of a record, which jobs/phone/rows.py names."""

from __future__ import annotations

import json

from django.http import QueryDict

from equipment.engineering.spans import signed
from jobs.errors import BadEntry
from jobs.fieldwork.asked import Item
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.sheet import Block
from jobs.workflows.answers import Entered, Place

#: takes back the cycle counted last
BACK = "back"

# --- what was posted ------------------------------------------------------------------------


def keys_shown(post: QueryDict) -> frozenset[str]:
    """Keys of the lines that the page asked, and of those on the pages before it."""
    return frozenset(key for told in post.getlist("asked") for key in told.split())


def with_taken(post: QueryDict) -> QueryDict:
    """What was posted, and in its boxes the figures that were taken by one press.

    The press by which a jar is clear takes how long that took.
    """
    cycles = [name for name in post if name.endswith("~cycle")]
    clear = [name for name in cycles if post.get(name, "").endswith(":clear")]
    taken = _taken(post.get("take", ""))
    for name in clear:
        puts = _taken(post.get(f"{name.removesuffix('~cycle')}~clear", ""))
        taken += [put for put in puts if not post.get(put[0], "").strip()]
    filled = post.copy() if taken else post
    for name, text, unit in taken:
        filled[name], filled[f"{name}~unit"], filled[f"{name}~sign"] = text, unit, ""
    return filled


def _taken(sent: str) -> list[tuple[str, str, str]]:
    """Boxes as jobs/fieldwork/glass.py names them, none where something else was sent."""
    try:
        puts = json.loads(sent or "[]")
    except ValueError:
        return []
    if not isinstance(puts, list):
        return []
    words = [put for put in puts if isinstance(put, list) and len(put) == 3]
    return [(a, b, c) for a, b, c in words if all(isinstance(each, str) for each in (a, b, c))]


def changed(
    items: tuple[Item, ...], post: QueryDict
) -> tuple[dict[str, tuple[Place, Entered]], dict[str, str]]:
    """Every box that was changed, by its name, and the sentences of those that cannot be read."""
    errors: dict[str, str] = {}
    found: dict[str, tuple[Place, Entered]] = {}
    for item in items:
        for side in item.sides if item.line.kind not in KEPT_BY_PAGE else ():
            name = item.box(side)
            try:
                if entered := _entered(item, side, post):
                    found[name] = (Place(item.line.key, item.stage, side), entered)
            except BadEntry as refusal:
                errors[name] = refusal.message
    return found, errors


def _entered(item: Item, side: str, post: QueryDict) -> Entered | None:
    """What stands in a box, None where nothing was changed."""
    name = item.box(side)
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


def box_of(block: Block, name: str) -> tuple[Item, str] | None:
    """The line and the side that a box stands for."""
    for item in block.items:
        for side in item.sides:
            if item.box(side) == name:
                return item, side
    return None
