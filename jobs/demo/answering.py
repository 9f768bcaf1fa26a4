"""Fills a record as a technician does: block by block, each answer a minute later."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from equipment.engineering.units import magnitude, quantity
from equipment.models import Stage
from jobs.fieldwork.advice import wait_minutes
from jobs.fieldwork.asked import Item
from jobs.fieldwork.keys import BlockKey, LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.sheet import Sheet
from jobs.models import ChecklistRecord, Visit
from jobs.records.loading import load_sheet, step_facts
from jobs.workflows.answers import acknowledge_caution
from jobs.workflows.dial_back import Seen, keep_as_final, read_step, set_step
from jobs.workflows.timers import start_timer, stop_timer

from .cast import Told
from .passing import Entries, Passing, keep, open_items

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
        """A minute for each line; what was typed is kept before the page is left for a wait."""
        sheet = self.sheet()
        self._read_cautions(sheet, keys)
        passing, entries, answered = Passing(sheet, self.told), Entries(), set[str]()
        for item in open_items(sheet, blocks=keys, without=without):
            if self.is_late:
                break
            self.clock += PACE
            if item.line.kind in KEPT_BY_PAGE:
                self._keep(entries)
                self._wait(item)
            for place, entered in passing.entries([item]):
                entries[place] = replace(entered, at=self.clock)
                answered.add(place.line_key)
        self._keep(entries)
        return bool(answered & opening_lines(sheet))

    def _keep(self, entries: Entries) -> None:
        if entries:
            keep(record=self.record, entries=entries, by=self.by, now=self.clock, visit=self.visit)
            entries.clear()

    def _wait(self, item: Item) -> None:
        if item.line.kind == LineKind.STEPS:
            self.dial(self.told.get(LineKey.STEPS, []))
        elif item.timer is None:
            start_timer(record=self.record, line_key=item.line.key, by=self.by, now=self.clock)

    def _read_cautions(self, sheet: Sheet, keys: Collection[str]) -> None:
        read = set(
            self.record.acknowledgements.filter(by=self.by).values_list("caution", flat=True)
        )
        for caution, block in sheet.red_cautions().items():
            if block.key in keys and caution not in read:
                acknowledge_caution(record=self.record, caution=caution, by=self.by, now=self.clock)

    # --- waits ------------------------------------------------------------------------------

    def dial(self, steps: Sequence[Sequence[Any]]) -> None:
        """Each step [percent, low, high, look]: set, wait three turnovers, look, read."""
        sheet = self.sheet()
        for percent, low, high, look in steps[len(sheet.steps) :]:
            if self.is_late:
                return
            step = set_step(record=self.record, setting_percent=percent, by=self.by, now=self.clock)
            wait = timedelta(minutes=(wait_minutes(sheet.outcomes, step_facts(step)) or 15) + 2)
            if self.clock + wait > self.until:
                self.until = self.clock  # the wait is on: nothing more is written
                return
            self.clock += wait
            seen = Seen(look, low, high, iron_clear=True, odour_clear=True)
            step = read_step(
                record=self.record, number=step.number, seen=seen, by=self.by, now=self.clock
            )
        if steps:
            keep_as_final(record=self.record, number=step.number, by=self.by, now=self.clock)

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
