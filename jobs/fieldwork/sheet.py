"""A record read whole: its pages, what has passed, what is missing, what the panels say.

Pages, the closing and the printed record all read the same sheet, so that none of them judges
by itself, and each panel is computed once.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import cached_property

from .advice import Advice
from .asked import Asked, Item
from .cautions import CAUTIONS, GRAVEST_FIRST, PIT, PIT_REPLACES, READ_BY_NAME, is_red
from .facts import Acknowledgement, Facts
from .gates import Judge
from .keys import BlockKey
from .panels.run import Outcomes
from .panels.table import PANELS
from .states import OPEN

#: what is left of these pages where no dosing pump is fitted
TITLES_WITHOUT_PUMP: dict[str, str] = {
    BlockKey.RINSE: "What do the gauges show while water runs?",
    BlockKey.DIAL_BACK: "What does the well pump give?",
}


@dataclass(frozen=True)
class Block:
    """One screen."""

    key: str
    title: str
    items: tuple[Item, ...]
    number: int

    @property
    def missing(self) -> list[Item]:
        return [item for item in self.items if item.stops_closing]

    @property
    def is_begun(self) -> bool:
        return any(item.state != OPEN for item in self.items)

    @property
    def is_done(self) -> bool:
        return not self.missing

    @property
    def passed(self) -> int:
        return sum(1 for item in self.items if not item.stops_closing)


@dataclass(frozen=True)
class Missing:
    """One thing that stands against closing, and the page where it is put right."""

    key: str
    sentence: str
    block: Block


class Sheet(Asked):
    """A record with everything that decides about it, at one moment."""

    def __init__(self, facts: Facts, *, now: datetime) -> None:
        super().__init__(facts)
        self.now = now
        self.outcomes = Outcomes(self, PANELS)
        self._judge = judge = Judge(self, self.outcomes, now=now)
        states = [judge.state(item) for item in self.items]
        for item, judged in zip(self.items, states, strict=True):
            item.state, item.sentence = judged

    @property
    def advice(self) -> Advice:
        """The next setting of the dial-back."""
        return self._judge.advice

    def against(self, item: Item) -> str:
        """Why a line that must pass does not, also where it was passed over; "" where it does."""
        verdict = self._judge.verdict(item) if item.line.is_gate else None
        return verdict if isinstance(verdict, str) else ""

    @cached_property
    def blocks(self) -> list[Block]:
        keys = list(dict.fromkeys(item.line.block for item in self.items))
        return [self._block(key, number) for number, key in enumerate(keys, 1)]

    def _block(self, key: str, number: int) -> Block:
        items = tuple(item for item in self.items if item.line.block == key)
        title = items[0].line.block_title
        if self.feeder is None:
            title = TITLES_WITHOUT_PUMP.get(key, title)
        return Block(key, title, items, number)

    def block(self, key: str) -> Block | None:
        return next((block for block in self.blocks if block.key == key), None)

    # --- cautions -----------------------------------------------------------------------

    def cautions_of(self, block: Block) -> list[str]:
        """Keys of the cautions to show on a page, the stop first and only one stop."""
        named = dict.fromkeys(i.line.caution for i in block.items)
        keys = [key for key in named if key in CAUTIONS and self._concerns(key)]
        if PIT_REPLACES in keys and self.record.well_in_pit:
            keys = [PIT, *keys]
        return sorted(keys, key=lambda key: not is_red(key))

    def _concerns(self, key: str) -> bool:
        needs = CAUTIONS[key].needs
        return not needs or self.has(needs)

    def red_cautions(self) -> dict[str, Block]:
        """The stops that are read by name on a visit, each with its page: the three gravest.

        More of them are tapped without being read; the others are shown all the same.
        """
        found: dict[str, Block] = {}
        for block in self.blocks:
            for key in filter(is_red, self.cautions_of(block)):
                found.setdefault(key, block)
        gravest = sorted(found, key=GRAVEST_FIRST.index)[:READ_BY_NAME]
        return {key: block for key, block in found.items() if key in gravest}

    def acknowledged(self) -> dict[str, Acknowledgement]:
        """What was read by name on the visit that is on."""
        began = self.record.visit_began_at
        rows = self.facts.acknowledgements
        return {row.caution: row for row in rows if began is None or row.at >= began}

    # --- closing ------------------------------------------------------------------------

    def missing(self) -> list[Missing]:
        """What stands against closing."""
        rows = [
            Missing(item.key, f"{item.label}: {item.sentence}", block)
            for block in self.blocks
            for item in block.missing
        ]
        read = self.acknowledged()
        return rows + [
            Missing(f"caution-{caution}", f"Not read by name: {CAUTIONS[caution].title}.", block)
            for caution, block in self.red_cautions().items()
            if caution not in read
        ]


def read_sheet(facts: Facts, *, now: datetime) -> Sheet:
    """What the facts of a record say at that moment."""
    return Sheet(facts, now=now)
