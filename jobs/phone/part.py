"""One page of a record: its lines as boxes, the figures beside them, and what stands above.

A server adds forms, photos and rows to it; a phone fills the rest from what it was handed.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field

from jobs.fieldwork.asked import Item
from jobs.fieldwork.brine import row_for
from jobs.fieldwork.cycles import next_cycle
from jobs.fieldwork.dialling import BY_STRIP
from jobs.fieldwork.glasses import Shown, cautions_of, shown_on, warned_of
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import KEPT_BY_PAGE, LineKind
from jobs.fieldwork.offers import offers_for, with_clear
from jobs.fieldwork.pump import figures_of
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.standing import standing_on
from jobs.fieldwork.states import OPEN
from jobs.fieldwork.strips import doubt_on

from . import beside
from .asks import ReadAsks, SetAsks, StripsAsks
from .gates import Clock, gate_lines
from .rows import Opened, Row, opened_on, row_of

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
        **onward(sheet, page),
        **above(sheet, page, clock=look.clock),
        **boxes(sheet, page, look),
        **beside.second_visit(sheet, page),
    }


def onward(sheet: Sheet, page: Block) -> Context:
    """The part after this one, and whether something is still done here besides its boxes."""
    later = [block for block in sheet.blocks if block.number > page.number]
    title = later[0].title if later else "Close the record"
    kept = [item for item in page.items if item.line.kind in KEPT_BY_PAGE]
    return {
        "following": later[0] if later else None,
        "following_said": title[:1].lower() + title[1:],
        "is_under_way": any(item.state == OPEN for item in kept),
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
    _add_echoes(rows, panels)
    return {
        "rows": rows,
        "stands": standing_on(page, [(row.item, row.offers) for row in rows]),
        "panels": [shown for shown in panels if not shown.is_folded(page.key)],
        "folded": [shown for shown in panels if shown.is_folded(page.key)],
        "panel_cautions": cautions_of(panels),
        "warned": warned_of(panels),
    }


def _add_echoes(rows: Sequence[Row], panels: Sequence[Shown]) -> None:
    """The short answer of a panel, under the box that it is about."""
    for shown in panels:
        under = next((row for row in rows if shown.echo_at == row.item.key), None)
        if under:
            under.echo = shown.glass


def opened(sheet: Sheet, page: Block, shown: Collection[str], *, system: str) -> list[Opened]:
    """Lines that an answer opened on a page, each as whole as when the page is drawn anew."""
    found = opened_on(page, shown, system=system)
    rows = [add_of_sheet(sheet, each.row, writes=True) for each in found]
    if rows:
        _add_echoes(rows, shown_on(sheet.outcomes, page.key, system=system, writes=True))
    return found


def add_of_sheet(sheet: Sheet, row: Row, *, writes: bool) -> Row:
    """What a line says beside its own boxes: figures to take, the rule of the state."""
    row.offers = offers_for(sheet, row.item, writes=writes)
    row.with_clear = with_clear(sheet, row.item) if writes else None
    row.passes_found = sheet.is_startup
    if row.line.key == LineKey.BRINE_DRAIN:
        row.state_rule = row_for(sheet.record.region)
    return row


def alike(sheet: Sheet, item: Item, *, system: str) -> list[Row]:
    """The same line of other parts, still empty: what was typed here is offered there."""
    found = [
        add_of_sheet(sheet, row_of(other, system=system), writes=True)
        for other in sheet.items
        if other.line.key == item.line.key and other.key != item.key and not other.text
    ]
    return [row for row in found if row.offers]


def counted(sheet: Sheet, item: Item, *, system: str) -> list[Row]:
    """Cycles of the part that was answered about: what the next one takes rests on the answer."""
    found = []
    for other in sheet.items:
        is_here = other.stage == item.stage and other.line.block == item.line.block
        if is_here and other.line.kind == LineKind.CYCLES and other.key != item.key:
            row = add_of_sheet(sheet, row_of(other, system=system), writes=True)
            row.next_cycle = next_cycle(sheet.outcomes, other, system)
            found.append(row)
    return found


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
        "strips_doubt": doubt_on(sheet.facts.beside, sheet.now.date()),
        "strips_form": StripsAsks(sheet.oxidant, sheet.facts.beside),
        "set_form": SetAsks(figures_of(sheet), beside.to_offer(sheet)),
        "read_form": ReadAsks(sheet.oxidant),
    }
