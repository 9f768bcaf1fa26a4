"""An answer that passes, for any line a record asks.

The demo and the tests tell only what their story is about; everything else is worked out from the
line itself, so that a new question is answered without anybody naming it.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from equipment.engineering.spans import ends_typed
from equipment.quantities import MEASURED
from jobs.errors import BadEntry
from jobs.fieldwork import facts
from jobs.fieldwork.asked import Item
from jobs.fieldwork.gates import Judge, limit_of
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.sheet import Sheet, read_sheet
from jobs.fieldwork.states import OPEN
from jobs.fieldwork.values import read_answer
from jobs.models import ChecklistRecord, Visit
from jobs.records.loading import load_facts
from jobs.workflows.answers import Entered, Place, save_answers

Told = Mapping[str, Any]
Entries = dict[Place, Entered]
FIGURES = (LineKind.QUANTITY, LineKind.NUMBER)
#: what a technician writes who has nothing special to say
NOTHING_SPECIAL = "as usual"
#: what is done with a tank of media while chlorine is in the pipes
BYPASSED = "bypassed"
#: hours between the washes of two tanks side by side, beyond the parts of a system
TANKS_APART = 8
#: well inside a limit: so many times it
INSIDE_UPPER, INSIDE_LOWER = 0.5, 1.2


@dataclass
class Passing:
    """What is written into one sheet. `told` is by the key of the line, in one of three forms:

    a text; a pair of texts, as found and as left; or one of these for each kind of part, of which
    a list of pairs tells one tank after the other.
    """

    sheet: Sheet
    told: Told = field(default_factory=dict)
    #: figures of this page that others on it are compared with
    values: dict[str, float | None] = field(default_factory=dict)

    def entries(self, items: Iterable[Item]) -> Iterator[tuple[Place, Entered]]:
        """In the order of the page; warnings are looked at and confirmed."""
        for item in items:
            for side, text in self.texts(item).items():
                place = Place(item.line.key, item.stage, side)
                yield place, Entered(*_with_unit(item.line, text), confirmed=True)

    def texts(self, item: Item) -> dict[str, str]:
        """Side to text; nothing for a line that the page keeps or that may stay open untold."""
        if item.line.kind in KEPT_BY_PAGE:
            return {}
        told = self.told.get(item.line.key)
        if isinstance(told, Mapping):
            told = _of_tank(told.get(item.stage.kind), item.stage.tank) if item.stage else None
        if told is None and (item.line.required or item.line.is_gate):
            told = self._worked_out(item)
        if told is None:
            return {}
        texts = [told] * len(item.sides) if isinstance(told, str) else told
        self._note(item.line, texts[-1])
        return dict(zip(item.sides, texts, strict=True))

    def _note(self, line: facts.Line, text: str) -> None:
        if line.kind in FIGURES:
            try:
                self.values[line.key] = read_answer(line, *_with_unit(line, text)).value
            except BadEntry:  # a story may tell what is refused
                self.values[line.key] = None

    def _worked_out(self, item: Item) -> str:
        line = item.line
        if line.kind == LineKind.TICK:
            return "yes"
        if line.kind == LineKind.TEXT:
            return NOTHING_SPECIAL
        if line.kind == LineKind.CYCLES:
            return str(line.passes["ends_with"])
        if line.kind == LineKind.CHOICE:
            if "carbon_out" in line.passes and item.stage and item.stage.medium:
                return BYPASSED
            right: list[str] = line.passes.get("one_of") or [word for word, _ in line.choices]
            return right[0]
        product = item.stage.product if item.stage else None
        if product and line.quantity_key == "strength_percent":
            return plain(product.label_strength_percent)
        return plain(self._inside_limits(item))

    # --- figures ----------------------------------------------------------------------------

    def _inside_limits(self, item: Item) -> float:
        """The first limit that it must meet, met with room to spare; else what is usual."""
        passes = item.line.passes if item.line.is_gate else {}
        if "hours_apart" in passes and item.stage:
            return float(item.stage.position + TANKS_APART * max(0, item.stage.tank - 1))
        if "falls_at_most" in passes:
            rule = passes["falls_at_most"]
            start = self._value(rule["line"])
            return start - INSIDE_UPPER * rule["by"] if start is not None else usual(item.line)
        between = self._between_limits(item, passes)
        if between is not None:
            return between
        for word, share in (("above_line", INSIDE_LOWER), ("below_line", 1 / INSIDE_LOWER)):
            other = self._value(passes[word]) if word in passes else None
            if other is not None:
                return share * other
        return usual(item.line)

    def _between_limits(self, item: Item, passes: Mapping[str, Any]) -> float | None:
        """Well inside the one limit, half way between two."""
        judge = Judge(self.sheet, self.sheet.outcomes, now=self.sheet.now)
        limits = {
            word: limit
            for word in ("at_most", "below", "at_least")
            if word in passes and (limit := limit_of(judge, item, passes[word])[0]) is not None
        }
        most, least = limits.get("at_most", limits.get("below")), limits.get("at_least")
        if most is not None and least is not None:
            return (most + least) / 2
        if most is not None:
            return INSIDE_UPPER * most
        return None if least is None else INSIDE_LOWER * least

    def _value(self, key: str) -> float | None:
        return self.values[key] if key in self.values else self.sheet.value(key)


def usual(line: facts.Line) -> float:
    """The middle, on a scale of ratios, of what gives no warning, else of what is taken at all."""
    measured = MEASURED.get(line.quantity_key)
    warn, hard = (measured.warn, measured.hard) if measured else ((None, None), (None, None))
    pairs = (
        (_first(line.warn_min, warn[0]), _first(line.warn_max, warn[1])),
        (_first(line.hard_min, hard[0]), _first(line.hard_max, hard[1])),
    )
    low, high = next((pair for pair in pairs if any(pair)), (None, None))
    if high is None:
        return INSIDE_LOWER * (low or 1.0)
    low = low if low and low > 0 else min(1.0, high / 4)
    middle = (low * high) ** 0.5
    shorter = (float(f"{middle:.{digits}g}") for digits in (1, 2))
    return next((value for value in shorter if low < value < high), middle)


def _first(*values: float | None) -> float | None:
    return next((value for value in values if value is not None), None)


def plain(value: float) -> str:
    """Three figures, never with an exponent."""
    return f"{float(f'{value:.3g}'):.10g}"


def split(text: str) -> tuple[str, str]:
    """ "58 psi" is a figure and its unit; "< 0.05" and "5 to 10" are figures alone."""
    if ends := ends_typed(text):
        figure, _, unit = ends[1].partition(" ")
        return f"{text.removesuffix(ends[1])}{figure}", unit
    found = re.fullmatch(r"([<>]?\s*\S+)\s*(.*)", text.strip())
    return (found[1], found[2]) if found else (text, "")


def _with_unit(line: facts.Line, text: str) -> tuple[str, str]:
    if line.kind != LineKind.QUANTITY:
        return text, ""
    figure, unit = split(text)
    return figure, unit or MEASURED[line.quantity_key].unit


def _of_tank(told: Any, tank: int) -> Any:
    """What is told of one of the tanks side by side; one answer stands for all of them."""
    is_listed = isinstance(told, list) and told and isinstance(told[0], list)
    return told[max(0, tank - 1)] if is_listed else told


# --- a record whole ---------------------------------------------------------------------------


def open_items(
    sheet: Sheet, *, blocks: Collection[str] | None = None, without: Collection[str] = ()
) -> list[Item]:
    return [
        item
        for item in sheet.items
        if item.state == OPEN
        and item.line.key not in without
        and (blocks is None or item.line.block in blocks)
    ]


def all_entries(
    known: facts.Facts, told: Told, *, now: datetime, without: Collection[str] = ()
) -> Entries:
    """Everything that is asked, and everything that those answers open."""
    found: Entries = {}
    while True:
        sheet = read_sheet(known, now=now)
        items = open_items(sheet, without=without)
        fresh = {
            place: entered
            for place, entered in Passing(sheet, told).entries(items)
            if place not in found
        }
        if not fresh:
            return found
        found |= fresh
        known = with_entries(known, fresh, now=now)


def with_entries(known: facts.Facts, entries: Entries, *, now: datetime) -> facts.Facts:
    """The record as it stands once these lines, open until now, are answered so."""
    fresh = tuple(_answer(place, entered, now) for place, entered in entries.items())
    return replace(known, answers=known.answers + fresh) if fresh else known


def _answer(place: Place, entered: Entered, now: datetime) -> facts.Answer:
    return facts.Answer(
        line_key=place.line_key,
        stage=place.stage_id,
        tank=place.tank,
        side=place.side,
        text=entered.text,
        unit=entered.unit,
        read_at=entered.at or now,
        by="",
        by_id=0,
        is_confirmed=True,
    )


def fill(
    *,
    record: ChecklistRecord,
    told: Told,
    by: User,
    now: datetime,
    without: Collection[str] = (),
) -> None:
    """A record answered all at once, but for its waits."""
    entries = all_entries(load_facts(record, now=now), told, now=now, without=without)
    keep(record=record, entries=entries, by=by, now=now)


def keep(
    *,
    record: ChecklistRecord,
    entries: Entries,
    by: User,
    now: datetime,
    visit: Visit | None = None,
) -> None:
    """Saved together; a story that tells what is refused ends here."""
    refused = save_answers(record=record, entries=entries, by=by, now=now, visit=visit)
    for refusal in refused.values():
        raise refusal
