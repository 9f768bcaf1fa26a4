"""The lines of one page of a record as boxes, and what was posted in them.

Boxes are named by line, part and side, so that one page holds many of them and each can be
saved alone. What was typed and refused stays in its box with one sentence beside it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime

from django import forms
from django.contrib.auth.models import User
from django.forms import BoundField
from django.http import QueryDict

from equipment.quantities import MEASURED, limits_text
from jobs.errors import BadEntry, JobsError
from jobs.fieldwork.asked import Item
from jobs.fieldwork.facts import Line
from jobs.fieldwork.glass import Glass
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind, Look
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.states import OPEN
from jobs.models import ChecklistRecord, Visit
from jobs.workflows.answers import (
    Entered,
    Place,
    override_gate,
    save_answers,
    skip_line,
    take_back_override,
)
from jobs.workflows.way_out import WayOut

#: readings that are diluted when they are above the range of the kit
DILUTED = ("chlorine", "peroxide")
LOOKS = [Look.CLEAR, Look.FEW, Look.MILKY]
SIDE_WORDS = {"": "", "found": "as found", "left": "as left"}


@dataclass
class Box:
    """One input: an answer of one side of one line."""

    name: str
    side: str
    text: str
    unit: str
    dilution: str
    version: int
    warning: str = ""
    is_confirmed: bool = False
    error: str = ""

    @property
    def dom_id(self) -> str:
        return f"a-{self.name.replace('.', '-').replace(':', '-')}"

    @property
    def side_word(self) -> str:
        return SIDE_WORDS[self.side]


@dataclass
class Row:
    """One line on the page."""

    item: Item
    boxes: list[Box]
    units: tuple[str, ...] = ()
    limits: str = ""
    may_dilute: bool = False
    hold_open: bool = False
    #: the short answer of a panel, said again under the box
    echo: Glass | None = None

    @property
    def line(self) -> Line:
        return self.item.line

    @property
    def mark(self) -> str:
        """How its boxes are marked, as words after the class of a question."""
        if any(box.error for box in self.boxes):
            return " refused"
        warned = any(box.warning for box in self.boxes) or self.item.state == "failed"
        return " warned" if warned else ""

    @property
    def short_choice(self) -> bool:
        """Place of many parts: a list to pick from instead of rows of buttons."""
        return self.line.subject == "each"

    @property
    def look_field(self) -> BoundField | None:
        """Three glasses instead of words."""
        if [value for value, _ in self.line.choices] != LOOKS:
            return None
        box = self.boxes[0]
        form = forms.Form(initial={box.name: box.text}, auto_id="a-%s")
        form.fields[box.name] = forms.ChoiceField(
            label=self.item.label,
            choices=self.line.choices,
            widget=forms.RadioSelect,
            help_text=self.line.hint,
        )
        return form[box.name]

    @property
    def keypad(self) -> str:
        return "decimal" if self.line.kind in (LineKind.QUANTITY, LineKind.NUMBER) else "text"


def box_name(item: Item, side: str) -> str:
    return f"{item.key}:{side}" if side else item.key


def row_of(
    item: Item,
    *,
    system: str,
    typed: Mapping[str, str] | None = None,
    errors: Mapping[str, str] | None = None,
) -> Row:
    """A line with what is kept, or with what was typed where that was refused."""
    line = item.line
    measured = MEASURED.get(line.quantity_key)
    boxes = [_box(item, side, system, typed or {}, errors or {}) for side in item.sides]
    return Row(
        item=item,
        boxes=boxes,
        units=measured.units if measured else (),
        limits=limits_text(measured) if measured else "",
        may_dilute=line.quantity_key in DILUTED,
        hold_open=bool(errors and any(f"{box.name}~skip" in errors for box in boxes)),
    )


def _box(
    item: Item, side: str, system: str, typed: Mapping[str, str], errors: Mapping[str, str]
) -> Box:
    name = box_name(item, side)
    answer = item.answers.get(side)
    measured = MEASURED.get(item.line.quantity_key)
    own_unit = measured.unit_for(system) if measured else ""
    box = Box(
        name=name,
        side=side,
        text=answer.text if answer else "",
        unit=(answer.unit if answer and answer.unit else own_unit),
        dilution=f"{answer.dilution:g}" if answer and answer.dilution != 1 else "",
        version=answer.version if answer else 0,
        warning=answer.warning if answer and answer.text else "",
        is_confirmed=bool(answer and answer.is_confirmed),
        error=errors.get(name, ""),
    )
    if box.error:
        box.text = typed.get(name, box.text)
        box.unit = typed.get(f"{name}~unit", box.unit)
        box.dilution = typed.get(f"{name}~dilution", box.dilution)
        box.warning = ""
    return box


# --- what was posted ------------------------------------------------------------------------


def keys_shown(post: QueryDict) -> frozenset[str]:
    """Keys of the lines that the page asked, and of those on the pages before it."""
    return frozenset(key for told in post.getlist("asked") for key in told.split())


def newly_asked(sheet: Sheet, page: Block, shown: Collection[str]) -> list[Item]:
    """Lines up to this page that the person was not asked yet: an answer opened them."""
    return [
        item
        for block in sheet.blocks
        if block.number <= page.number
        for item in block.items
        if item.state == OPEN and item.key not in shown
    ]


@dataclass(frozen=True)
class Opened:
    """A line that an answer opened on the page in front of the person, and where it goes."""

    row: Row
    where: str


def opened_on(page: Block, shown: Collection[str], *, system: str) -> list[Opened]:
    found, where = [], "afterbegin:#answers"
    for item in page.items:
        if item.line.kind in KEPT_BY_PAGE:
            continue
        if item.key not in shown:
            found.append(Opened(row_of(item, system=system), where))
        where = f"afterend:#w-{item.dom_id}"
    return found


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
    if name not in post and f"{name}~here" not in post:
        return None
    text, unit = post.get(name, "").strip(), post.get(f"{name}~unit", "")
    kept = item.answers.get(side)
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
