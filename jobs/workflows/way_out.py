"""What is not passed over while a dosing pump runs, and the only way out.

Stop test, flushing, oxidant at the kitchen tap, bypass: unplugged, bypass stated, "do not use"
open.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User

from equipment.models import Stage
from jobs.errors import BadEntry
from jobs.fieldwork.keys import FLUSHING, NOT_WHILE_IT_RUNS
from jobs.models import ChecklistLine, ChecklistRecord, DoNotUse, Job, Override, Visit

from .notices import Danger, open_notice


@dataclass(frozen=True)
class WayOut:
    """How the system is left where a line that must not be passed over is passed over."""

    unplugged: bool = False
    bypass: str = ""

    @property
    def said(self) -> str:
        bypass = Visit.Bypass(self.bypass).label
        return f"dosing pump unplugged, tanks in {bypass}, “do not use” opened"


def take_way_out(
    *,
    record: ChecklistRecord,
    line: ChecklistLine,
    way_out: WayOut,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> str:
    """Words to be kept with the reason; "" where the line may be passed over as it is."""
    if line.key not in NOT_WHILE_IT_RUNS:
        return ""
    feeders = Stage.objects.fitted().filter(train=record.train_id, kind=Stage.Kind.FEEDER)
    if not feeders.exists():
        if line.key in FLUSHING:
            _open(record, line, by=by, now=now, at=at)
        return ""
    stated = way_out.bypass in (Visit.Bypass.SERVICE, Visit.Bypass.BYPASSED)
    if not way_out.unplugged or not stated:
        raise BadEntry(
            f"{line.label}: is not passed over while the dosing pump runs. Unplug it, say how the "
            "bypass is left; “do not use” opens.",
            field=line.key,
        )
    _open(record, line, by=by, now=now, at=at)
    return way_out.said


def _open(
    record: ChecklistRecord, line: ChecklistLine, *, by: User, now: datetime, at: datetime | None
) -> None:
    open_notice(
        danger=Danger(
            site=record.site,
            level=DoNotUse.Level.NO_USE,
            cause=DoNotUse.Cause.OXIDANT,
            occasion=record.uuid,
            reason=f"passed over: {line.label[:1].lower()}{line.label[1:]}"[:200],
        ),
        by=by,
        now=now,
        at=at,
    )


def must_stay_unplugged(job: Job) -> str:
    """The line for which a dosing pump stays unplugged, "" where there is none."""
    held = Override.objects.filter(record__job=job, line_key__in=NOT_WHILE_IT_RUNS)
    row = held.select_related("record__template").first()
    if row is None:
        return ""
    line = row.record.template.lines.filter(key=row.line_key).first()
    return line.label if line else row.line_key
