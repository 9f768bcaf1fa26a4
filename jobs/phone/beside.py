"""What a page of a record shows beside its boxes, without forms, addresses and rows.

A clock says a moment as the company's time: on a server it turns it round, a phone is handed
nothing else.
"""

from __future__ import annotations

from jobs.fieldwork.advice import looks_say_nothing, wait_minutes
from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.dialling import (
    advised_setting,
    dial_bands,
    left_at,
    next_setting_glass,
    pads_of,
    residual_words,
    waited_words,
)
from jobs.fieldwork.facts import Step
from jobs.fieldwork.going_on import first_open
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import LineKind
from jobs.fieldwork.laid_acts import minutes_of_wait
from jobs.fieldwork.leaving import (
    MOST_SETTINGS,
    doubted,
    leave_for_today,
    next_step,
    settings_tried,
    spent,
    well_falls_short,
    yield_today,
)
from jobs.fieldwork.new_carbon import SAID as NEW_CARBON_SAID
from jobs.fieldwork.new_carbon import hides_odour
from jobs.fieldwork.pump import figures_of, head_of
from jobs.fieldwork.recheck import compare, consumption
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.states import FAILED, OVERRIDDEN, TURNOVERS_NEEDED, counts, may_put_right
from jobs.wording.pump_settings import setting_said

from .gates import Clock

LEVELS = {"halt": "stop", "look-twice": "twice", "note": "note"}


def progress(sheet: Sheet) -> list[dict[str, object]]:
    """The pages of a record as the field book shows them; the first unfinished is now."""
    first = None if sheet.record.is_closed else first_open(sheet)
    entries = []
    for block in sheet.blocks:
        missing = len(block.missing)
        is_now = block is first
        entries.append(
            {
                "station": block.number,
                "title": block.title,
                "key": block.key,
                "remark": _remark(block, missing),
                "state": "now" if is_now else ("done" if not missing else ""),
            }
        )
    return entries


def _remark(block: Block, missing: int) -> str:
    failed = [item for item in block.items if item.state == FAILED]
    overridden = [item for item in block.items if item.state == OVERRIDDEN]
    if failed:
        return f"{failed[0].label}: {failed[0].sentence}"
    said = f"{missing} open." if missing else "All answered."
    if overridden:
        said += f" {len(overridden)} passed over with a reason."
    return said


def caution_cards(sheet: Sheet, block: Block, *, clock: Clock) -> list[dict[str, object]]:
    """Cautions of a page; one stop at most, with who has read it."""
    read = sheet.acknowledged()
    by_name = sheet.red_cautions()
    cards = []
    for key in sheet.cautions_of(block):
        caution = CAUTIONS[key]
        row = read.get(key)
        cards.append(
            {
                "key": key,
                "level": LEVELS[caution.level],
                "title": caution.title.removeprefix("Look twice: ").removeprefix("Stop: "),
                "text": caution.text,
                "is_red": key in by_name,
                "before": next((i.key for i in block.items if i.line.caution == key), ""),
                "acknowledged": (
                    f"Read by {row.by}, {clock(row.at):%-d %b %Y %H:%M}" if row else ""
                ),
            }
        )
    return cards


def wait_needed(sheet: Sheet, block: Block) -> float:
    """Minutes of the wait on this page, before it is started."""
    waits = [item.line for item in block.items if item.line.kind == LineKind.TIMER]
    computed = next((line.key for line in waits if line.expectation), "")
    return minutes_of_wait(sheet, computed)


def second_visit(sheet: Sheet, block: Block) -> dict[str, object]:
    """A recheck shows the start-up beside today."""
    if not sheet.is_recheck:
        return {}
    asks_level = any(item.line.key == LineKey.LEVEL_FOUND for item in block.items)
    return {
        "compared": compare(sheet, block.key),
        "consumption": consumption(sheet) if asks_level else None,
    }


# --- the dial-back -----------------------------------------------------------------------------


def has_steps(block: Block) -> bool:
    return any(item.line.kind == LineKind.STEPS for item in block.items)


def dial(sheet: Sheet) -> dict[str, object]:
    """Step waiting for its reading, the advice, the steps so far, as drawn and as a table."""
    steps = sheet.steps
    waiting = steps[-1] if steps and _waits(steps[-1]) else None
    last = steps[-1] if steps else None
    found = {
        "dial": True,
        "advice_glass": next_setting_glass(sheet),
        "waiting_step": waiting,
        "again_step": last if last and last.doubt else None,
        "put_right_step": last if last and may_put_right(last, steps) else None,
        "wait_minutes": wait_minutes(sheet.outcomes, waiting),
        "turnovers_needed": TURNOVERS_NEEDED,
        "last_step": last,
        "waiting_said": setting_said(waiting.setting, head_of(sheet)) if waiting else "",
        "last_said": setting_said(last.setting, head_of(sheet)) if last else "",
        "can_keep": bool(last and counts(last) and not last.is_final),
        "step_rows": [_step_row(step, head_of(sheet)) for step in steps],
        "bands": dial_bands(sheet),
        "pads": pads_of(sheet.oxidant),
        "aim": sheet.aim,
        "aim_rests_on": sheet.aim_rests_on,
        "asks_feeder_check": sheet.advice.value("act") == "check",
        "looks_say_nothing": looks_say_nothing(sheet),
        "odour_said": NEW_CARBON_SAID if hides_odour(sheet) else "",
    }
    if sheet.feeder is None:
        return found
    return found | {"tally": _tally(sheet), "way_out": _way_out(sheet)}


def to_offer(sheet: Sheet) -> dict[str, str]:
    """The advice by the figures of the pump; at a recheck first the setting as it is."""
    if sheet.is_recheck and not sheet.steps:
        offered = sheet.on_file.pump(sheet.feeder)
    else:
        offered = advised_setting(sheet)
    if offered is None:
        return {}
    figures = {name: offered.figure(name) for name in figures_of(sheet)}
    return {name: f"{value:g}" for name, value in figures.items() if value is not None}


def _waits(step: Step) -> bool:
    return not counts(step) and not step.skip_reason and not step.doubt


def _step_row(step: Step, head: str) -> dict[str, object]:
    return {
        "step": step,
        "setting": setting_said(step.setting, head),
        "waited": waited_words(step),
        "look": step.look_words,
        "residual": residual_words(step),
        "is_early": step.read_at is not None and not counts(step) and not step.doubt,
        "is_doubted": bool(step.doubt),
    }


def _tally(sheet: Sheet) -> dict[str, object]:
    """Settings, minutes and gallons of this visit, and what a step more takes."""
    return {
        "tried": settings_tried(sheet),
        "most": MOST_SETTINGS,
        "spent": spent(sheet),
        "next": next_step(sheet),
        "yield": yield_today(sheet),
        "short": well_falls_short(sheet),
    }


def _way_out(sheet: Sheet) -> dict[str, str]:
    left = next((step for step in sheet.steps if step.left_because), None)
    if left:
        return {"left": setting_said(left.setting, head_of(sheet)), "why": left.left_because}
    way = leave_for_today(sheet)
    if way is None:
        return {}
    setting = left_at(sheet, way)
    return {
        "because": way.because,
        "setting": setting_said(setting, head_of(sheet)) if setting else "",
        "doubted": doubted(sheet),
    }
