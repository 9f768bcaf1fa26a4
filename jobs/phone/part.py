"""One page of a record: its lines as boxes, the figures beside them, and what stands above.

A server adds forms, photos and rows to it; a phone fills the rest from what it was handed.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from jobs.fieldwork.brine import row_for
from jobs.fieldwork.cycles import next_cycle
from jobs.fieldwork.dialling import BY_STRIP
from jobs.fieldwork.glasses import cautions_of, shown_on
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.offers import offers_for
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Block, Sheet

from . import beside
from .asks import ReadAsks, SetAsks, StripsAsks
from .gates import Clock, gate_lines
from .rows import Row, row_of

Words = Mapping[str, str]
Context = dict[str, object]


@dataclass(frozen=True, kw_only=True)
class Look:
    """How a page is looked at: in which units, with what typed into its panels and refused."""

    clock: Clock
    system: str = "us"
    panel_boxes: Words = field(default_factory=dict)
    typed: Words = field(default_factory=dict)
    errors: Words = field(default_factory=dict)
    #: whoever only reads is offered nothing to take
    writes: bool = True


def part(sheet: Sheet, page: Block, look: Look) -> Context:
    """What stands on the page, without what only rows and forms can say."""
    return {
        "blocks": sheet.blocks,
        "errors": look.errors,
        "asked": asked_besides(sheet, page),
        "gates": gate_lines(page, clock=look.clock),
        **above(sheet, page, clock=look.clock),
        **boxes(sheet, page, look),
        **beside.second_visit(sheet, page),
    }


def above(sheet: Sheet, page: Block, *, clock: Clock) -> Context:
    """Stops, waits and cautions of a page."""
    return {
        "part": page,
        "cautions": beside.caution_cards(sheet, page, clock=clock),
        "timers": [item for item in page.items if item.line.kind == LineKind.TIMER],
        "wait_needed": beside.wait_needed(sheet, page),
        "now": sheet.now,
    }


def asked_besides(sheet: Sheet, page: Block) -> str:
    """Keys of what was asked without a box here: pages before, waits and steps of this one."""
    before = [i for block in sheet.blocks if block.number < page.number for i in block.items]
    kept = [item for item in page.items if item.line.kind in KEPT_BY_PAGE]
    return " ".join(item.key for item in (*before, *kept))


def boxes(sheet: Sheet, page: Block, look: Look) -> Context:
    """The lines of a page and the panels beside them, each echo under its box."""
    rows = [
        row_of(item, system=look.system, typed=look.typed, errors=look.errors)
        for item in page.items
        if item.line.kind not in KEPT_BY_PAGE
    ]
    for row in rows:
        row.next_cycle = next_cycle(sheet.outcomes, row.item, look.system)
        add_of_sheet(sheet, row, writes=look.writes)
    panels = shown_on(
        sheet.outcomes, page.key, look.panel_boxes, system=look.system, writes=look.writes
    )
    for shown in panels:
        under = next((r for r in rows if shown.echo_at == r.item.key), None)
        if under:
            under.echo = shown.glass
    return {
        "rows": rows,
        "panels": [shown for shown in panels if not shown.is_folded(page.key)],
        "folded": [shown for shown in panels if shown.is_folded(page.key)],
        "panel_cautions": cautions_of(panels),
    }


def add_of_sheet(sheet: Sheet, row: Row, *, writes: bool) -> Row:
    """What a line says beside its own boxes: figures to take, the rule of the state."""
    row.offers = offers_for(sheet, row.item, writes=writes)
    if row.line.key == LineKey.BRINE_DRAIN:
        row.state_rule = row_for(sheet.record.region)
    return row


# --- on a phone ---------------------------------------------------------------------------------


def handed_over(sheet: Sheet, page: Block) -> Context:
    """What a server reads from rows, as the facts say it; a notice is lifted with signal only."""
    said = sheet.facts.beside
    return {
        "poured": said.poured,
        "taken_back": said.taken_back if page.items else (),
        "may_lift": False,
        **(_dial(sheet) if beside.has_steps(page) else {}),
    }


def _dial(sheet: Sheet) -> Context:
    by_strip = sheet.feeder is not None and sheet.oxidant in BY_STRIP
    return {
        **beside.dial(sheet),
        "by_strip": by_strip,
        "strips": sheet.facts.beside.strips,
        "strips_doubt": sheet.facts.beside.strips_doubt,
        "strips_form": StripsAsks(sheet.oxidant, sheet.facts.beside),
        "set_form": SetAsks(figures_of(sheet), beside.to_offer(sheet)),
        "read_form": ReadAsks(sheet.oxidant),
    }
