"""What the pages of a record show beside the boxes."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from jobs.fieldwork.advice import looks_say_nothing, wait_minutes
from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.dialling import advised_setting, dial_bands, next_setting_glass, pads_of
from jobs.fieldwork.facts import Step
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import LineKind, NoticeLevel
from jobs.fieldwork.pump import figures_of, head_of
from jobs.fieldwork.recheck import compare, consumption
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.states import FAILED, OVERRIDDEN, TURNOVERS_NEEDED, counts
from jobs.forms.dial_steps import ReadStepForm, SetStepForm
from jobs.wording.pump_settings import setting_said
from jobs.workflows.notices import out_of_pipes

LEVELS = {"halt": "stop", "look-twice": "twice", "note": "note"}


def progress(sheet: Sheet) -> list[dict[str, object]]:
    """The pages of a record as the field book shows them; the first unfinished is now."""
    entries, seen_now = [], False
    for block in sheet.blocks:
        missing = len(block.missing)
        is_now = bool(missing) and not seen_now and not sheet.record.is_closed
        seen_now = seen_now or is_now
        entries.append(
            {
                "station": block.number,
                "title": block.title,
                "url": reverse("record-block", args=[sheet.record.pk, block.key]),
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


def caution_cards(sheet: Sheet, block: Block) -> list[dict[str, object]]:
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
                    f"Read by {row.by}, {timezone.localtime(row.at):%-d %b %H:%M}" if row else ""
                ),
            }
        )
    return cards


def wait_needed(sheet: Sheet, block: Block) -> float:
    """Minutes of the wait on this page, before it is started."""
    for item in block.items:
        if item.line.kind == LineKind.TIMER and item.line.expectation:
            hours = sheet.outcomes.expected(item.line.expectation) or 0
            return 60 * max(hours, sheet.company["contact_minimum_h"])
    return 60 * sheet.company["contact_minimum_h"]


def may_lift(sheet: Sheet, block: Block) -> bool:
    """The readings after flushing stand here, all passed, and the notice is still open."""
    item = sheet.item(LineKey.FLUSH_LOW)
    stands = any(notice.level == NoticeLevel.NO_USE for notice in sheet.notices)
    here = item is not None and item.line.block == block.key
    return stands and here and out_of_pipes(sheet) is not None


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


def dial_context(sheet: Sheet, block: Block) -> dict[str, object]:
    """Step waiting for its reading, the advice, the steps so far, as drawn and as a table."""
    if not any(item.line.kind == LineKind.STEPS for item in block.items):
        return {}
    advice = sheet.advice
    steps = sheet.steps
    waiting = steps[-1] if steps and _waits(steps[-1]) else None
    again = steps[-1] if steps and steps[-1].doubt else None
    last = steps[-1] if steps else None
    return {
        "dial": True,
        "advice_glass": next_setting_glass(sheet),
        "waiting_step": waiting,
        "again_step": again,
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
        "asks_feeder_check": advice.value("act") == "check",
        "looks_say_nothing": looks_say_nothing(sheet),
        "set_form": SetStepForm(figures=figures_of(sheet), initial=_to_offer(sheet)),
        "read_form": ReadStepForm(oxidant=sheet.oxidant),
    }


def _to_offer(sheet: Sheet) -> dict[str, str]:
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
    low, high = step.residual_low_mg_l, step.residual_high_mg_l
    residual = ""
    if low is not None:
        residual = f"above {low:g}" if high is None else f"{low:g} to {high:g}"
    return {
        "step": step,
        "setting": setting_said(step.setting, head),
        "waited": f"{step.turnovers:.1f}" if step.turnovers is not None else "",
        "look": step.look_words,
        "residual": residual,
        "is_early": step.read_at is not None and not counts(step) and not step.doubt,
        "is_doubted": bool(step.doubt),
    }
