"""What the pages of a record show beside the boxes."""

from __future__ import annotations

from django.urls import reverse
from django.utils import timezone

from equipment.quantities import SettingName
from jobs.fieldwork.advice import computed_setting, looks_say_nothing, settable, wait_minutes
from jobs.fieldwork.asked import Item
from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.facts import Step
from jobs.fieldwork.glass import Glass
from jobs.fieldwork.glasses import written
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import LineKind, NoticeLevel, Purpose
from jobs.fieldwork.recheck import compare, consumption
from jobs.fieldwork.sheet import Block, Sheet
from jobs.fieldwork.states import (
    ANSWERED,
    FAILED,
    LOOK_TWICE,
    OVERRIDDEN,
    PASSED,
    TURNOVERS_NEEDED,
    counts,
)
from jobs.forms.dial_steps import ReadStepForm, SetStepForm, pads_of
from jobs.wording.figures import sig

LEVELS = {"halt": "stop", "look-twice": "twice", "note": "note"}
GATE_STATES = {PASSED: "passed", FAILED: "failed", OVERRIDDEN: "overridden", ANSWERED: "passed"}


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
                "is_red": caution.level == "halt",
                "acknowledged": (
                    f"Read by {row.by}, {timezone.localtime(row.at):%-d %b %H:%M}" if row else ""
                ),
            }
        )
    return cards


def gate_lines(block: Block) -> list[dict[str, str]]:
    """What must pass on this page, with its evidence."""
    return [
        {
            "text": item.label,
            "state": GATE_STATES.get(item.state, "open"),
            "evidence": _evidence(item),
        }
        for item in block.items
        if item.line.is_gate
    ]


def _evidence(item: Item) -> str:
    if item.state in (FAILED, OVERRIDDEN, LOOK_TWICE):
        return item.sentence[:1].upper() + item.sentence[1:]
    answer = item.deciding
    if item.state == PASSED and answer and answer.text:
        shown = "" if item.line.kind == LineKind.TICK else f"{item.shown}, "
        return f"{shown}{answer.by}, {timezone.localtime(answer.read_at):%H:%M}"
    return ""


def wait_needed(sheet: Sheet, block: Block) -> float:
    """Minutes of the wait on this page, before it is started."""
    for item in block.items:
        if item.line.kind == LineKind.TIMER and item.line.expectation:
            hours = sheet.outcomes.expected(item.line.expectation) or 0
            return 60 * max(hours, sheet.company["contact_minimum_h"])
    return 60 * sheet.company["contact_minimum_h"]


def may_lift(sheet: Sheet, block: Block) -> bool:
    """The low-range reading stands here and has passed, and the notice is still open."""
    item = sheet.item(LineKey.FLUSH_LOW)
    stands = any(notice.level == NoticeLevel.NO_USE for notice in sheet.notices)
    return bool(stands and item and item.line.block == block.key and item.state == PASSED)


def advice_on(sheet: Sheet, block: str) -> Glass | None:
    """The glass of the next setting, where a page has one."""
    if not any(i.line.block == block and i.line.kind == LineKind.STEPS for i in sheet.items):
        return None
    return _advice_glass(sheet)


def is_recheck(sheet: Sheet) -> bool:
    return sheet.record.purpose == Purpose.RECHECK


def second_visit(sheet: Sheet, block: Block) -> dict[str, object]:
    """A recheck shows the start-up beside today."""
    if not is_recheck(sheet):
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
    last = steps[-1] if steps else None
    next_setting = advice.value("next_setting")
    return {
        "dial": True,
        "advice_glass": _advice_glass(sheet),
        "waiting_step": waiting,
        "wait_minutes": wait_minutes(sheet.outcomes, waiting),
        "turnovers_needed": TURNOVERS_NEEDED,
        "last_step": last,
        "can_keep": bool(last and counts(last) and not last.is_final),
        "step_rows": [_step_row(step) for step in steps],
        "bands": _bands(sheet),
        "pads": pads_of(sheet.oxidant),
        "aim": sheet.aim,
        "looks_say_nothing": looks_say_nothing(sheet),
        "set_form": SetStepForm(
            initial={"setting_percent": _percent_to_offer(sheet, next_setting)}
        ),
        "read_form": ReadStepForm(oxidant=sheet.oxidant),
    }


def _percent_to_offer(sheet: Sheet, advised: float | None) -> str:
    """The advice; at a recheck first the setting as it is."""
    if is_recheck(sheet) and not sheet.steps:
        kept = sheet.on_file.setting(sheet.feeder, SettingName.OUTPUT)
        return f"{kept.value:g}" if kept and kept.value is not None else ""
    return f"{settable(advised):g}" if advised else ""


def _waits(step: Step) -> bool:
    return not counts(step) and not step.skip_reason


def _step_row(step: Step) -> dict[str, object]:
    low, high = step.residual_low_mg_l, step.residual_high_mg_l
    residual = ""
    if low is not None:
        residual = f"above {low:g}" if high is None else f"{low:g} to {high:g}"
    return {
        "step": step,
        "setting": f"{step.setting_percent:g}",
        "waited": f"{step.turnovers:.1f}" if step.turnovers is not None else "",
        "look": step.look_words,
        "residual": residual,
        "is_early": step.read_at is not None and not counts(step),
    }


def _bands(sheet: Sheet) -> list[tuple[str, float, float, str]]:
    top, advice = pads_of(sheet.oxidant)[-1], sheet.advice
    bars = [
        (
            f"{step.setting_percent:g} %",
            step.residual_low_mg_l,
            step.residual_high_mg_l if step.residual_high_mg_l is not None else top,
            "" if counts(step) else "early",
        )
        for step in sheet.steps
        if step.residual_low_mg_l is not None
    ]
    expected, setting = advice.value("expected_residual"), advice.value("next_setting")
    if bars and expected and setting is not None:
        bars.append((f"{setting:.0f} %", expected["low"], min(expected["high"], top), "expected"))
    return bars


def _advice_glass(sheet: Sheet) -> Glass:
    advice = sheet.advice
    title = "Next setting" if sheet.steps else "Setting to start from"
    if is_recheck(sheet) and not sheet.steps:
        waiting = "needs a reading at the setting as found: leave it set, wait, read"
        return Glass(title, "next-setting", waiting=waiting)
    if advice.json is None or advice.computed is None:
        return Glass(title, "next-setting", waiting=advice.waiting)
    stop = advice.value("stop")
    rows = []
    for key, label in (
        ("expected_residual", "Residual to expect after retention"),
        ("demand", "Demand of this water"),
        ("next_dose", "Dose at that setting"),
    ):
        found = advice.json["results"].get(key)
        if found:
            rows.append((label, *written(found)))
    computed = computed_setting(sheet.outcomes)
    if computed:
        rows.append(("Setting worked out from the raw water", sig(computed), "percent"))
    return Glass(
        "This setting stays" if stop and sheet.steps else title,
        "next-setting",
        answer=sig(advice.value("next_setting")),
        unit="percent",
        alt=advice.value("reason"),
        rows=rows,
        warnings=advice.json["warnings"],
        cautions=advice.json["cautions"][:2],
        working=advice.computed.working,
        sources=advice.json["sources"],
        method=advice.json["method_version"],
    )
