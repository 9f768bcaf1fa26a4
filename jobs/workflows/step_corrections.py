"""Steps of the dial-back and waits of a closed record, put right by a newer version."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.errors import BadEntry
from jobs.fieldwork.dialling import beyond, checked
from jobs.fieldwork.facts import Step, Timer
from jobs.fieldwork.keys import AFTER_CONTACT, LineKey
from jobs.fieldwork.laid_steps import turnovers_since
from jobs.fieldwork.pump import head_of
from jobs.fieldwork.sheet import Sheet
from jobs.models import ChecklistRecord, RecordCorrection
from jobs.records.loading import load_sheet
from jobs.records.paper import waited
from jobs.records.steps import figures_of_step, step_said

from .corrections import carry_out, to_correct
from .moments import done_at

UNCHANGED = "This is what the record says already."


@dataclass(frozen=True)
class RightStep:
    """A step as it should have been written down, and why."""

    setting: PumpSetting
    set_at: datetime
    reason: str
    read_at: datetime | None = None
    residual_low: float | None = None
    #: None beyond the last pad of a strip
    residual_high: float | None = None


@dataclass(frozen=True)
class RightWait:
    started_at: datetime
    reason: str
    stopped_at: datetime | None = None


@transaction.atomic
def correct_step(
    *, record: ChecklistRecord, number: int, right: RightStep, by: User, now: datetime
) -> RecordCorrection:
    """Setting, reading and times of one step; what rests on them is worked out and judged anew."""
    record = to_correct(record, reason=right.reason, by=by)
    sheet = load_sheet(record, now=now)
    step = next((each for each in sheet.steps if each.number == number), None)
    if step is None:
        raise BadEntry(f"There is no step {number} on this record.", field="number")
    put = _right_step(record, sheet, step, right, now=now)
    if put == step:
        raise BadEntry(UNCHANGED, field="reason")
    row = RecordCorrection(
        line_key=LineKey.STEPS,
        step=number,
        figures=figures_of_step(put),
        label=f"Step {number} of the dial-back",
        before=step_said(record, step, head_of(sheet)),
        after=step_said(record, put, head_of(sheet)),
        reason=right.reason,
    )
    return carry_out(record, row, by=by, now=now)


def _right_step(
    record: ChecklistRecord, sheet: Sheet, step: Step, right: RightStep, *, now: datetime
) -> Step:
    """The step as it will be read; refused where it cannot have been so."""
    set_at = moment_then(record, right.set_at, now, "set_at")
    read_at = moment_then(record, right.read_at, now, "read_at") if right.read_at else None
    low, high = right.residual_low, right.residual_high
    _refuse_residual(step, read_at, low, high)
    if read_at and read_at < set_at:
        raise BadEntry("It cannot be read before it was set.", field="read_at")
    _refuse_out_of_order(sheet, step, set_at, read_at or set_at)
    put = replace(
        step,
        setting=checked(sheet, right.setting),
        set_at=set_at,
        read_at=read_at,
        residual_low_mg_l=low,
        residual_high_mg_l=high,
    )
    turnovers = turnovers_since(sheet, put, read_at) if read_at else None
    same = (put.set_at, put.read_at) == (step.set_at, step.read_at)
    return replace(put, turnovers=step.turnovers if same else turnovers)


def _refuse_residual(
    step: Step, read_at: datetime | None, low: float | None, high: float | None
) -> None:
    if step.read_at and read_at is None:
        raise BadEntry("Say when it was read.", field="read_at")
    if (step.residual_low_mg_l is not None or read_at) and low is None:
        raise BadEntry("Say what was read.", field="residual")
    if low is not None and read_at is None:
        raise BadEntry("Say when it was read.", field="read_at")
    for value in (low, high):
        if said := beyond("residual", value):
            raise BadEntry(said, field="residual")
    if low is not None and high is not None and high < low:
        raise BadEntry("Residual: the upper end must not be below the lower.", field="residual")


def _refuse_out_of_order(sheet: Sheet, step: Step, set_at: datetime, ended_at: datetime) -> None:
    """Between its neighbours; a reading taken again has the setting of the step before."""
    for other in sheet.steps:
        of_one_setting = other.set_at == step.set_at
        if other.number < step.number:
            ended = other.set_at if of_one_setting else other.read_at or other.set_at
            if set_at < ended:
                said = f"Step {other.number} was not over before it."
                raise BadEntry(said, field="set_at")
        elif other.number > step.number:
            begun = set_at if of_one_setting else ended_at
            if begun > other.set_at:
                said = f"Step {other.number} was set before it was over."
                raise BadEntry(said, field="read_at")


@transaction.atomic
def correct_wait(
    *, record: ChecklistRecord, line_key: str, right: RightWait, by: User, now: datetime
) -> RecordCorrection:
    """From when and to when a wait has lasted; whether it passes is judged anew."""
    record = to_correct(record, reason=right.reason, by=by)
    sheet = load_sheet(record, now=now)
    item = sheet.item(line_key)
    if item is None or item.timer is None:
        raise BadEntry("This record has no such wait.", field="line")
    put = _right_wait(record, sheet, item.timer, right, now=now)
    if put == item.timer:
        raise BadEntry(UNCHANGED, field="reason")
    moments: dict[str, Any] = {
        "started_at": put.started_at.isoformat(),
        "stopped_at": put.stopped_at.isoformat() if put.stopped_at else None,
    }
    row = RecordCorrection(
        line_key=line_key,
        figures=moments,
        label=item.label[:300],
        before=waited(item.timer, record),
        after=waited(put, record),
        reason=right.reason,
    )
    return carry_out(record, row, by=by, now=now)


def _right_wait(
    record: ChecklistRecord, sheet: Sheet, wait: Timer, right: RightWait, *, now: datetime
) -> Timer:
    started_at = moment_then(record, right.started_at, now, "started_at")
    stopped_at = (
        moment_then(record, right.stopped_at, now, "stopped_at") if right.stopped_at else None
    )
    if wait.stopped_at and stopped_at is None:
        raise BadEntry("Say when it ended.", field="stopped_at")
    if stopped_at and stopped_at < started_at:
        raise BadEntry("It cannot end before it began.", field="stopped_at")
    if wait.line_key == LineKey.CONTACT:
        _refuse_beside_chlorine(record, sheet, started_at, stopped_at)
    return replace(wait, started_at=started_at, stopped_at=stopped_at)


def _refuse_beside_chlorine(
    record: ChecklistRecord, sheet: Sheet, started_at: datetime, stopped_at: datetime | None
) -> None:
    """Chlorine works from its pouring on, and until the taps are read after flushing."""
    poured = record.poured.order_by("at").values_list("at", flat=True).first()
    if poured and started_at < poured:
        raise BadEntry("The chlorine was poured after that.", field="started_at")
    items = [sheet.item(key) for key in AFTER_CONTACT]
    read = [i.deciding.read_at for i in items if i and i.deciding and i.deciding.text]
    if read and (stopped_at or started_at) > min(read):
        field = "stopped_at" if stopped_at else "started_at"
        raise BadEntry("The taps were read before that: flushing had begun.", field=field)


def moment_then(record: ChecklistRecord, at: datetime, now: datetime, field: str) -> datetime:
    """Within the visits of the record and before its closing."""
    try:
        moment = done_at(record, at, now)
    except BadEntry as refusal:
        raise BadEntry(refusal.message, field=field) from refusal
    if record.closed_at and moment > record.closed_at:
        raise BadEntry("The record was closed before that.", field=field)
    return moment
