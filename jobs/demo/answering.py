"""Fills a record as a technician does: block by block, each answer a minute later."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.contrib.auth.models import User

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.engineering.units import magnitude, quantity
from equipment.models import ResultTold, Stage
from jobs.fieldwork.advice import wait_minutes
from jobs.fieldwork.asked import Item
from jobs.fieldwork.keys import BlockKey, LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.sheet import Sheet, read_sheet
from jobs.models import ChecklistRecord, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.records.loading import load_facts
from jobs.records.steps import step_facts
from jobs.workflows.answers import acknowledge_caution
from jobs.workflows.dial_back import Seen, keep_as_final, read_step, set_step
from jobs.workflows.leaving import leave_so
from jobs.workflows.pouring import all_told, houses_of
from jobs.workflows.strips import Strips, take_strips
from jobs.workflows.telling import Adult
from jobs.workflows.timers import start_timer, stop_timer

from .cast import Told, called
from .passing import Entries, Passing, keep, open_items, with_entries

PACE = timedelta(minutes=1)
WATER_BLOCKS = (
    BlockKey.ISOLATE,
    BlockKey.HOLD,
    BlockKey.DISINFECT,
    BlockKey.FLUSH,
    BlockKey.ARRIVAL,
)
#: beside the lines: the strips of a dial-back, and whether it is left for a recheck
STRIPS, LEFT = "strips", "left"
#: the reading of the step that stays, asked for once more
READ_THERE = (LineKey.PEROXIDE_RETENTION, LineKey.CHLORINE_RETENTION)


class Pen:
    """Holds the record, the visit and the hour; `told` are answers by the key of the line."""

    def __init__(
        self, record: ChecklistRecord, visit: Visit, told: Told, *, at: datetime, until: datetime
    ) -> None:
        self.record, self.visit, self.by = record, visit, visit.lead
        self.told = told
        self.clock, self.until = at, until
        #: read once, and kept in step with what is typed
        self.facts = load_facts(record, now=at)
        #: typed and not kept yet; lines that were come to, answered or not
        self.typed, self.seen = Entries(), set[str]()
        self.read: set[tuple[str, User]] = set()

    @property
    def is_late(self) -> bool:
        """The next answer would lie ahead of now."""
        return self.clock + PACE > self.until

    def move_to(self, visit: Visit, at: datetime) -> None:
        self.visit, self.by, self.clock = visit, visit.lead, at

    def sheet(self) -> Sheet:
        return read_sheet(self.facts, now=self.clock)

    def all_blocks(self) -> None:
        """The blocks ahead of the solution first: no oxidant before the chlorine is out."""
        keys = {line.block for line in self.facts.lines}
        self.blocks(keys & set(WATER_BLOCKS))
        self.blocks(keys - set(WATER_BLOCKS))

    def blocks(self, keys: Collection[str], *, without: Collection[str] = ()) -> None:
        """Again until no answer has opened a further line."""
        while self._pass(keys, without):
            pass
        self._keep()

    def _pass(self, keys: Collection[str], without: Collection[str]) -> bool:
        """A minute for each line; what was typed is kept before a wait begins."""
        sheet = self.sheet()
        self._read_cautions(sheet, keys)
        passing, before = Passing(sheet, self.told), self.facts
        for item in open_items(sheet, blocks=keys, without=without):
            if self.is_late:
                break
            if item.key in self.seen:
                continue
            self.seen.add(item.key)
            self.clock += PACE
            if item.line.kind in KEPT_BY_PAGE:
                self._keep()
                self._wait(item)
            fresh = {p: replace(e, at=self.clock) for p, e in passing.entries([item])}
            self.facts = with_entries(self.facts, fresh, now=self.clock)
            self.typed |= fresh
        return self.facts is not before

    def _keep(self) -> None:
        entries, self.typed = self.typed, Entries()
        if entries:
            keep(record=self.record, entries=entries, by=self.by, now=self.clock, visit=self.visit)

    def _read_cautions(self, sheet: Sheet, keys: Collection[str]) -> None:
        for caution, block in sheet.red_cautions().items():
            if block.key in keys and (caution, self.by) not in self.read:
                acknowledge_caution(record=self.record, caution=caution, by=self.by, now=self.clock)
                self.read.add((caution, self.by))

    # --- waits ------------------------------------------------------------------------------

    def _wait(self, item: Item) -> None:
        if item.line.kind == LineKind.STEPS:
            self._dial(self.told.get(LineKey.STEPS, []))
        elif item.timer is None:
            if item.line.key == LineKey.CONTACT and not self.record.poured.exists():
                all_told(record=self.record, told=self._told(), by=self.by, now=self.clock)
            start_timer(record=self.record, line_key=item.line.key, by=self.by, now=self.clock)

    def _told(self) -> dict[int, Adult]:
        """Face to face at this house, by telephone next door."""
        houses, day = houses_of(self.record), company_day(self.clock)
        people = SiteTenure.objects.contacts([site.pk for site in houses], day)
        told = {site.pk: called(people[site.pk]) for site in houses[1:]}
        here = Adult(self.told[LineKey.HANDOVER_NAME], ResultTold.How.DOOR, read_back=True)
        return {houses[0].pk: here, **told}

    def _dial(self, steps: Sequence[Sequence[Any]]) -> None:
        """Each step [percent, low, high, look]: set, wait three turnovers, look, read.

        Of a timer pump its cycle in seconds stands behind.
        """
        sheet = self.sheet()
        self._take_strips()
        for percent, low, high, look, *cycle in steps[len(sheet.steps) :]:
            if self.is_late:
                return
            setting = PumpSetting(percent=percent, cycle_s=cycle[0] if cycle else None)
            step = set_step(record=self.record, setting=setting, by=self.by, now=self.clock)
            wait = timedelta(minutes=(wait_minutes(sheet.outcomes, step_facts(step)) or 15) + 2)
            if self.clock + wait > self.until:
                self.until = self.clock  # the wait is on: nothing more is written
                return
            self.clock += wait
            seen = Seen(look, low, high, iron_clear=True, odour_clear=True)
            step = read_step(
                record=self.record, number=step.number, seen=seen, by=self.by, now=self.clock
            )
        if steps and self.told.get(LEFT):
            leave_so(record=self.record, by=self.by, now=self.clock)
        elif steps:
            keep_as_final(record=self.record, number=step.number, by=self.by, now=self.clock)
            self.told |= dict.fromkeys(READ_THERE, f"{low:g}-{high:g} mg/L")

    def _take_strips(self) -> None:
        """[lot, days they are good for], read in a blank and in the known mix as they should."""
        told = self.told.get(STRIPS)
        if not told or self.record.strip_checks.exists():
            return
        lot, days = told
        until = company_day(self.clock) + timedelta(days=days)
        strips = Strips(new_lot=lot, expires_on=until, blank=(0, 0.5), mix=(10, 25))
        take_strips(record=self.record, strips=strips, by=self.by, now=self.clock)

    def stop_contact(self) -> None:
        stop_timer(record=self.record, line_key=LineKey.CONTACT, by=self.by, now=self.clock)


def fed_at(stage: Stage, percent: float) -> dict[str, str]:
    """What a cylinder shows in a minute at that setting, with the tube a little worn."""
    assert stage.feed_pump
    at_full = magnitude("output", quantity(stage.feed_pump.nameplate_output_gpd, "gpd"), "mL/min")
    drawn = at_full * percent / 100 * 0.97
    return {LineKey.FEED_DRAWN: f"{drawn:.1f} mL", LineKey.FEED_TIME: "60 s"}
