"""A dial-back that is left for the day: where the pump stands, and the recheck that follows."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.dialling import left_at
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.leaving import LEFT, leave_for_today, left_reason
from jobs.fieldwork.pump import head_of
from jobs.models import ChecklistRecord, DialStep, Override, Visit
from jobs.records.loading import load_sheet
from jobs.wording.pump_settings import setting_said

from .answers import open_and_allowed
from .log import log
from .moments import done_at


@transaction.atomic
def leave_so(
    *,
    record: ChecklistRecord,
    by: User,
    now: datetime,
    at: datetime | None = None,
    said: str = "",
) -> DialStep:
    """The pump is set to where it is left, and the line of the steps is passed over for it.

    The promise of the recheck follows as the visit ends. Sent twice, it is one. `said` is the
    setting as whoever left read it: another one now is refused, as the pump does not stand there.
    """
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    left = record.steps.exclude(left_because="").first()
    if left:
        return left
    sheet = load_sheet(record, now=now)
    way = leave_for_today(sheet)
    if way is None:
        raise WrongState("The dial-back goes on, or this setting stays: nothing is left open.")
    setting = left_at(sheet, way)
    if setting is None:
        raise WrongState(f"There is no setting to leave it at: {way.because}.")
    _refuse_another(said, setting_said(setting, head_of(sheet)))
    last = record.steps.select_for_update().order_by("number").last()
    assert last
    if moment < (last.read_at or last.set_at):
        raise BadEntry(f"It cannot be left before step {last.number}.", field="at")
    step = last
    if last.setting != setting:
        step = DialStep(
            record=record,
            number=last.number + 1,
            setting_percent=setting.percent,
            marks=setting.marks,
            set_at=moment,
            tap_flow_gpm=last.tap_flow_gpm,
            skip_reason=LEFT,
            skipped_at=moment,
            by=by,
        )
    record.steps.filter(is_final=True).update(is_final=False)
    step.is_final, step.left_because = True, way.because[:160]
    step.save()
    reason = left_reason(setting_said(setting), way.because)
    Override.objects.update_or_create(
        record=record,
        line_key=LineKey.STEPS,
        defaults={"reason": reason, "by": by, "at": moment},
    )
    log(
        verb="setting_left",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        reason=reason,
        done=moment.isoformat(),
    )
    return step


def _refuse_another(said: str, now_said: str) -> None:
    if said and said.split() != now_said.split():
        raise WrongState(
            f"It was left at {said}; by what was read since it would be {now_said}. Look at the "
            "dial-back again, and where the dosing pump stands."
        )


def take_back(record: ChecklistRecord) -> None:
    """The dial-back goes on after all: its line must pass again."""
    left = record.steps.exclude(left_because="")
    if left.update(left_because="", is_final=False):
        record.overrides.filter(line_key=LineKey.STEPS).delete()


def was_left(visit: Visit) -> bool:
    """Whether a record of this work was left so for a recheck."""
    return DialStep.objects.filter(record__job=visit.job_id).exclude(left_because="").exists()
