"""Panel, line and page of a record as HTML, from its facts and what stands in the boxes."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from jobs.fieldwork.facts import Facts
from jobs.fieldwork.glasses import Shown, shown_on, warned_of
from jobs.fieldwork.laid_over import Person, Typed, laid_over
from jobs.fieldwork.sheet import Block, Sheet, read_sheet

from .gates import advice_on, gate_lines
from .rows import row_of

#: template and context to HTML
Render = Callable[[str, dict[str, Any]], str]
Parts = dict[str, str]
GLASS, GATES, STATE = (
    "parts/_measure_inside.html",
    "records/_gates.html",
    "records/_item_state.html",
)
PANEL, ITEM, WARNED = "records/_panel.html", "records/_item.html", "records/_warned.html"
#: what is rendered on a phone; all that these include goes there with them
PARTIALS = (GLASS, GATES, STATE, PANEL, ITEM, WARNED)


@dataclass(frozen=True, kw_only=True)
class Handed:
    """What a phone was handed: the facts, every moment in the company's time, and who holds it."""

    facts: Facts
    person: Person
    system: str = "us"


@dataclass(frozen=True, kw_only=True)
class Told:
    """One look at a page: what stands in its boxes, and what is typed into its panels."""

    now: datetime
    typed: Iterable[Typed] = ()
    panel_boxes: Mapping[str, str] = field(default_factory=dict)


def page(handed: Handed, block: str, told: Told, render: Render) -> Parts:
    """Everything on a page that a figure may change, by the id of what it stands in."""
    sheet = sheet_of(handed, told)
    found = sheet.block(block)
    if found is None:
        return {}
    parts = {"gates": gates(found, render)}
    standing = panels(handed, sheet, block, told)
    parts["warned"] = render(WARNED, {"warned": warned_of(standing)})
    for shown in standing:
        parts[shown.dom_id] = glass(shown, render)
        parts[f"{shown.dom_id}-echo"] = shown.glass.echo if shown.echo_at else ""
    advice = advice_on(sheet, block)
    if advice:
        parts[advice.id] = render(GLASS, {"glass": advice})
    return parts | states(handed, found, render)


def sheet_of(handed: Handed, told: Told) -> Sheet:
    facts = laid_over(handed.facts, told.typed, by=handed.person)
    return read_sheet(facts, now=told.now)


def boxes_of(typed: Iterable[str]) -> set[str]:
    """The lines whose boxes a page has sent."""
    return {name.partition(":")[0].partition("~")[0] for name in typed}


def renewed_panels(
    sheet: Sheet, block: str, typed: Mapping[str, str], boxes: Collection[str], *, system: str
) -> dict[str, Any]:
    """Panels to renew; an echo only under a box that the page already has."""
    shown = shown_on(sheet.outcomes, block, typed, system=system)
    for each in shown:
        if each.echo_at not in boxes:
            each.echo_at = ""
    return {"panels": shown, "warned": warned_of(shown)}


def panels(handed: Handed, sheet: Sheet, block: str, told: Told) -> list[Shown]:
    return shown_on(sheet.outcomes, block, told.panel_boxes, system=handed.system)


def glass(shown: Shown, render: Render) -> str:
    """The inside of a measuring glass."""
    return render(GLASS, {"glass": shown.glass})


def gates(block: Block, render: Render) -> str:
    """What must pass; moments are in the company's time already."""
    return render(GATES, {"gates": gate_lines(block, clock=lambda at: at)})


def states(handed: Handed, block: Block, render: Render) -> Parts:
    """Under each line: passed, does not pass and why, left open."""
    return {
        f"s-{item.dom_id}": render(STATE, {"row": row_of(item, system=handed.system)})
        for item in block.items
    }


def panel(handed: Handed, block: str, told: Told, name: str, render: Render) -> str:
    """One panel with its boxes, as a page shows it."""
    sheet = sheet_of(handed, told)
    shown = next(each for each in panels(handed, sheet, block, told) if each.dom_id == name)
    context = {"shown": shown, "record": handed.facts.record, "part": sheet.block(block)}
    return render(PANEL, context)


def item(handed: Handed, key: str, told: Told, render: Render) -> str:
    """One line with its boxes."""
    found = next(each for each in sheet_of(handed, told).items if each.key == key)
    row = row_of(found, system=handed.system)
    writes = not handed.facts.record.is_closed
    context = {"row": row, "record": handed.facts.record, "writes": writes}
    return render(ITEM, context)
