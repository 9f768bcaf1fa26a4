"""Fills a record as a technician does: block by block, each answer a minute later."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from datetime import datetime, timedelta
from typing import Any

from equipment.engineering.units import magnitude, quantity
from equipment.models import Stage
from equipment.quantities import MEASURED
from jobs.fieldwork.advice import wait_minutes
from jobs.fieldwork.asked import Item
from jobs.fieldwork.keys import BlockKey, LineKey
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import OPEN
from jobs.models import ChecklistLine, ChecklistRecord, Visit
from jobs.records.loading import load_sheet, step_facts
from jobs.workflows.answers import Entered, Place, acknowledge_caution, save_answer
from jobs.workflows.dial_back import Seen, keep_as_final, read_step, set_step
from jobs.workflows.timers import start_timer, stop_timer

from .cast import Told, split

PACE = timedelta(minutes=1)
WATER_BLOCKS = (
    BlockKey.ISOLATE,
    BlockKey.HOLD,
    BlockKey.DISINFECT,
    BlockKey.FLUSH,
    BlockKey.ARRIVAL,
)


class Pen:
    """Holds the record, the visit and the hour; `told` are answers by the key of the line."""

    def __init__(
        self, record: ChecklistRecord, visit: Visit, told: Told, *, at: datetime, until: datetime
    ) -> None:
        self.record, self.visit, self.by = record, visit, visit.lead
        self.told = told
        self.clock, self.until = at, until

    @property
    def is_late(self) -> bool:
        """The next answer would lie ahead of now."""
        return self.clock + PACE > self.until

    def move_to(self, visit: Visit, at: datetime) -> None:
        self.visit, self.by, self.clock = visit, visit.lead, at

    def sheet(self) -> Sheet:
        return load_sheet(self.record, now=self.clock)

    def all_blocks(self) -> None:
        """The blocks ahead of the solution first: no oxidant before the chlorine is out."""
        keys = set(self.record.template.lines.values_list("block", flat=True))
        self.blocks(keys & set(WATER_BLOCKS))
        self.blocks(keys - set(WATER_BLOCKS))

    def blocks(self, keys: Collection[str], *, without: Collection[str] = ()) -> None:
        """Again while an answer may have opened further lines."""
        while self._pass(keys, without):
            pass

    def _pass(self, keys: Collection[str], without: Collection[str]) -> bool:
        sheet = self.sheet()
        self._read_cautions(sheet, keys)
        wanted = [
            item
            for item in sheet.items
            if item.line.block in keys and item.state == OPEN and item.line.key not in without
        ]
        answered = {item.line.key for item in wanted if self._answer(sheet, item)}
        return bool(answered & opening_lines(sheet))

    def _read_cautions(self, sheet: Sheet, keys: Collection[str]) -> None:
        read = set(
            self.record.acknowledgements.filter(by=self.by).values_list("caution", flat=True)
        )
        for caution, block in sheet.red_cautions().items():
            if block.key in keys and caution not in read:
                acknowledge_caution(record=self.record, caution=caution, by=self.by, now=self.clock)

    def _answer(self, sheet: Sheet, item: Item) -> bool:
        if self.is_late:
            return False
        self.clock += PACE
        if item.line.kind == ChecklistLine.Kind.TIMER:
            if item.timer is None:
                start_timer(record=self.record, line_key=item.line.key, by=self.by, now=self.clock)
            return False
        if item.line.kind == ChecklistLine.Kind.STEPS:
            return self.dial(self.told.get(LineKey.STEPS, []))
        texts = self._texts(item)
        for side, text in texts.items():
            self._save(item, side, text)
        return bool(texts)

    def _save(self, item: Item, side: str, text: str) -> None:
        figure, unit = text, ""
        if item.line.kind == ChecklistLine.Kind.QUANTITY:
            figure, unit = split(text)
            unit = unit or MEASURED[item.line.quantity_key].unit
        save_answer(
            record=self.record,
            place=Place(item.line.key, item.stage, side),
            entered=Entered(figure, unit, confirmed=True),
            by=self.by,
            now=self.clock,
            visit=self.visit,
        )

    def _texts(self, item: Item) -> dict[str, str]:
        """Side to text; a tick is ticked unless told otherwise."""
        told = self.told.get(item.line.key)
        if isinstance(told, dict) and item.stage:
            told = told.get(item.stage.name) or told.get(item.stage.kind)
        if told is None and item.line.kind == ChecklistLine.Kind.TICK and item.line.required:
            told = "yes"
        if told is None:
            return {}
        if item.line.is_pair:
            found, left = told if isinstance(told, list) else (told, told)
            return {"found": found, "left": left}
        return {"": told}

    # --- waits ------------------------------------------------------------------------------

    def dial(self, steps: Sequence[Sequence[Any]]) -> bool:
        """Each step [percent, low, high, look]: set, wait three turnovers, look, read."""
        number = self.record.steps.count()
        for percent, low, high, look in steps[number:]:
            if self.is_late:
                return True
            step = set_step(record=self.record, setting_percent=percent, by=self.by, now=self.clock)
            wait = timedelta(
                minutes=(wait_minutes(self.sheet().outcomes, step_facts(step)) or 15) + 2
            )
            if self.clock + wait > self.until:
                self.until = self.clock  # the wait is on: nothing more is written
                return True
            self.clock += wait
            seen = Seen(look, low, high, iron_clear=True, odour_clear=True)
            step = read_step(
                record=self.record, number=step.number, seen=seen, by=self.by, now=self.clock
            )
        if steps:
            keep_as_final(record=self.record, number=step.number, by=self.by, now=self.clock)
        return False

    def stop_contact(self) -> None:
        stop_timer(record=self.record, line_key=LineKey.CONTACT, by=self.by, now=self.clock)


def fed_at(stage: Stage, percent: float) -> dict[str, str]:
    """What a cylinder shows in a minute at that setting, with the tube a little worn."""
    assert stage.feed_pump
    at_full = magnitude("output", quantity(stage.feed_pump.nameplate_output_gpd, "gpd"), "mL/min")
    drawn = at_full * percent / 100 * 0.97
    return {LineKey.FEED_DRAWN: f"{drawn:.1f} mL", LineKey.FEED_TIME: "60 s"}


def opening_lines(sheet: Sheet) -> set[str]:
    """Keys of lines whose answer decides whether others are asked."""
    found: set[str] = set()
    for line in sheet.facts.lines:
        for part in (line.condition, *line.condition.get("all", [])):
            found |= {part[word] for word in ("line", "answer") if word in part}
    return found
