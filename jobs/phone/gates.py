"""What is judged and advised on a page of a record: lines that must pass, the next setting."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime

from jobs.fieldwork.asked import Item
from jobs.fieldwork.dialling import next_setting_glass
from jobs.fieldwork.glass import Glass
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.states import ANSWERED, FAILED, LOOK_TWICE, OVERRIDDEN, PASSED

#: a moment as the company's clock shows it
Clock = Callable[[datetime], datetime]
GATE_STATES = {PASSED: "passed", FAILED: "failed", OVERRIDDEN: "overridden", ANSWERED: "passed"}


def gate_lines(block: Block, *, clock: Clock) -> list[dict[str, str]]:
    """What must pass on this page, with its evidence."""
    return [
        {
            "text": item.label,
            "state": GATE_STATES.get(item.state, "open"),
            "evidence": _evidence(item, clock),
        }
        for item in block.items
        if item.line.is_gate
    ]


def _evidence(item: Item, clock: Clock) -> str:
    if item.state in (FAILED, OVERRIDDEN, LOOK_TWICE):
        return item.sentence[:1].upper() + item.sentence[1:]
    answer = item.deciding
    if item.state == PASSED and answer and answer.text:
        shown = "" if item.line.kind == LineKind.TICK else f"{item.shown}, "
        return f"{shown}{answer.by}, {clock(answer.read_at):%H:%M}"
    return ""


def advice_on(sheet: Sheet, block: str) -> Glass | None:
    """The glass of the next setting, where a page has one."""
    if not any(i.line.block == block and i.line.kind == LineKind.STEPS for i in sheet.items):
        return None
    return next_setting_glass(sheet)
