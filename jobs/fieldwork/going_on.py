"""Where a page of a record leads once it is saved."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from .asked import Item
from .sheet import Block, Sheet
from .states import FAILED, LOOK_TWICE, OPEN


@dataclass(frozen=True)
class Going:
    """To a page, to a line that an answer opened on it, or, without a page, to the closing."""

    block: Block | None = None
    opened: Item | None = None


def first_open(sheet: Sheet) -> Block | None:
    """The first page with something open: where a record goes on. None where nothing is."""
    return next((block for block in sheet.blocks if block.missing), None)


def may_stay_open(sheet: Sheet) -> list[tuple[Block, list[Item]]]:
    """Lines without an answer that do not stand against closing, by their page."""
    pages = [
        (block, [i for i in block.items if i.state == OPEN and not (i.stops_closing or i.filed)])
        for block in sheet.blocks
    ]
    return [(block, items) for block, items in pages if items]


def newly_asked(sheet: Sheet, page: Block, shown: Collection[str]) -> list[Item]:
    """Lines up to this page that the person was not asked yet: an answer opened them."""
    return [
        item
        for block in sheet.blocks
        if block.number <= page.number
        for item in block.items
        if item.state == OPEN and item.key not in shown
    ]


def goes_on(sheet: Sheet, page: Block, shown: Collection[str]) -> Going:
    """Stay where a line does not pass or was asked about, or ask what an answer opened, else on."""
    here = sheet.block(page.key)
    if here and any(item.state in (FAILED, LOOK_TWICE) for item in here.items):
        return Going(here)
    if opened := newly_asked(sheet, page, shown):
        return Going(sheet.block(opened[0].line.block), opened[0])
    later = [block for block in sheet.blocks if here and block.number > here.number]
    return Going(later[0] if later else None)
