"""Pages of a record as a phone answers for them, and the line that was left last."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import datetime

from equipment.engineering.spans import signed
from jobs.errors import BadEntry
from jobs.fieldwork.asked import Item
from jobs.fieldwork.going_on import Going, first_open, goes_on, may_stay_open
from jobs.fieldwork.kinds import KEPT_BY_PAGE
from jobs.fieldwork.sheet import Block, Sheet, read_sheet
from jobs.fieldwork.values import read_answer

from .beside import has_steps, progress
from .gates import advice_on
from .live import Handed, Render, boxes_of, renewed_panels
from .part import Context, Look, above, add_of_sheet, alike, counted, handed_over, opened, part
from .rows import row_of

PART, SAVED = "records/_part.html", "records/_item_saved.html"
STANDING, LOG, CLOSING = "records/_standing.html", "parts/_log.html", "records/_closing.html"
NOTICES = "records/_notices.html"
#: rendered for whole pages, beside those of `live`
PARTIALS = (PART, SAVED, STANDING, NOTICES, LOG, CLOSING)


@dataclass(frozen=True, kw_only=True)
class Here:
    """A record that lies open on a phone, read at one moment."""

    handed: Handed
    sheet: Sheet
    typed: Mapping[str, str] = field(default_factory=dict)

    @property
    def common(self) -> Context:
        """What every page of it is rendered with."""
        person = {"get_full_name": self.handed.person.name}
        record = self.sheet.record
        return {"record": record, "writes": not record.is_closed, "request": {"user": person}}

    @property
    def look(self) -> Look:
        return Look(clock=same, system=self.handed.system, panel_boxes=self.typed)


def same(at: datetime) -> datetime:
    """A phone is handed moments in the company's time."""
    return at


def here(handed: Handed, now: datetime, typed: Mapping[str, str] | None = None) -> Here:
    return Here(handed=handed, sheet=read_sheet(handed.facts, now=now), typed=typed or {})


def page(at: Here, key: str, render: Render) -> dict[str, object]:
    """A page of lines: its title and place, and all of it that a fact may change."""
    block = at.sheet.block(key)
    if block is None:
        return {}
    context = {**at.common, **part(at.sheet, block, at.look), **handed_over(at.sheet, block)}
    return {
        "title": block.title,
        "number": block.number,
        "of": len(at.sheet.blocks),
        "parts": {"part": render(PART, context)},
    }


def overview(at: Here, address: str, render: Render) -> dict[str, object]:
    """All pages with what is open; `address` is that of a page, with its key left out."""
    entries = [{**row, "url": address.format(row["key"])} for row in progress(at.sheet)]
    context = {**at.common, "missing": at.sheet.missing()}
    return {
        "parts": {
            "standing": render(STANDING, context),
            "notices": render(NOTICES, {"notices": at.sheet.notices}),
            "log": render(LOG, {"entries": entries}),
        },
        "of": len(entries),
    }


def closing(at: Here, render: Render) -> dict[str, object]:
    """What stands against closing; a record closes when its act has arrived."""
    stands = {"missing": at.sheet.missing(), "may_stay": may_stay_open(at.sheet)}
    context = {**at.common, **stands, "visit": True, "is_apart": True}
    return {"parts": {"closing": render(CLOSING, context)}}


# --- one line -----------------------------------------------------------------------------------


def saved(
    at: Here, key: str, shown: Collection[str], typed: Mapping[str, str], render: Render
) -> dict[str, object]:
    """What the office answers when a line is left, from the facts with what was typed."""
    item = next((each for each in at.sheet.items if each.key == key), None)
    if item is None:
        return {}
    errors = refused(item, typed)
    row = row_of(item, system=at.handed.system, typed=typed, errors=errors)
    add_of_sheet(at.sheet, row, writes=True)
    block = item.line.block
    page = at.sheet.block(block)
    context = {
        **at.common,
        "row": row,
        "counted": counted(at.sheet, item, system=at.handed.system),
        **renewed_panels(at.sheet, block, typed, boxes_of(typed), system=at.handed.system),
        "advice_glass": advice_on(at.sheet, block),
        "alike": alike(at.sheet, item, system=at.handed.system),
        **(_opened(at, page, shown) if page and shown else {}),
    }
    return {"html": render(SAVED, context), "status": 422 if errors else 200}


def refused(item: Item, typed: Mapping[str, str]) -> dict[str, str]:
    """The sentences of boxes that cannot be read, as the office would say them."""
    found = {}
    for side in item.sides if item.line.kind not in KEPT_BY_PAGE else ():
        name = item.box(side)
        text = signed(typed.get(name, "").strip(), typed.get(f"{name}~sign", ""))
        try:
            diluted = float((typed.get(f"{name}~dilution") or "1").replace(",", "."))
            read_answer(item.line, text, typed.get(f"{name}~unit", ""), diluted)
        except BadEntry as refusal:
            found[name] = refusal.message
        except ValueError:
            found[name] = f"{item.line.label}: the dilution factor is 1 to 10000."
    return found


def _opened(at: Here, page: Block, shown: Collection[str]) -> Context:
    found = opened(at.sheet, page, shown, system=at.handed.system)
    shut = sorted(set(shown) - {item.key for item in at.sheet.items})
    if not found and not shut:
        return {}
    standing = {**above(at.sheet, page, clock=same), **handed_over(at.sheet, page)}
    return {"opened": found, "shut": shut, **standing}


def next_page(at: Here, before: Handed, key: str, shown: Collection[str]) -> Going:
    """Where "Next" leads."""
    page = at.sheet.block(key) or read_sheet(before.facts, now=at.sheet.now).block(key)
    assert page is not None
    return goes_on(at.sheet, page, shown)


def first_page(at: Here) -> str:
    """The page where the record goes on, "" where nothing is open."""
    block = first_open(at.sheet)
    return block.key if block else ""


def dials(at: Here) -> str:
    """The page that holds the steps, "" where there is none."""
    return next((block.key for block in at.sheet.blocks if has_steps(block)), "")
