"""Waits that survive the phone: from when a person says they began, by the server's clock."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.keys import AFTER_CONTACT, LineKey
from jobs.fieldwork.laid_acts import minutes_of_wait
from jobs.models import ChecklistLine, ChecklistRecord, Timer
from jobs.records.loading import load_sheet
from jobs.records.waits import TAKEN_BACK

from .answers import line_of, open_and_allowed
from .log import log
from .moments import done_at
from .reasons import reason_given


@transaction.atomic
def start_timer(
    *,
    record: ChecklistRecord,
    line_key: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> Timer:
    """Start a wait once; starting it again gives the running one. Chlorine is poured before."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    line = line_of(record, line_key)
    if line.kind != ChecklistLine.Kind.TIMER:
        raise BadEntry(f"{line.label}: is not a wait.", field=line_key)
    found = record.timers.filter(line_key=line_key).first()
    if found:
        return found
    if line_key == LineKey.CONTACT and not record.poured.exists():
        raise WrongState("First “All told: pour”: it says who knows, and opens “do not use”.")
    minutes = _minutes(record, line, now)
    timer = Timer.objects.create(
        record=record, line_key=line_key, started_at=moment, needed_minutes=minutes, by=by
    )
    log(
        verb="timer_started",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        line=line_key,
        minutes=minutes,
    )
    return timer


def _minutes(record: ChecklistRecord, line: ChecklistLine, now: datetime) -> float:
    return minutes_of_wait(load_sheet(record, now=now), line.key)


@transaction.atomic
def stop_timer(
    *,
    record: ChecklistRecord,
    line_key: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> Timer:
    """End a wait; too early and its line does not pass."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    timer = record.timers.select_for_update().filter(line_key=line_key).first()
    if timer is None:
        raise WrongState("This wait has not been started.")
    if timer.stopped_at is None:
        _refuse_before(moment, timer.started_at)
        timer.stopped_at = moment
        timer.save(update_fields=["stopped_at"])
    return timer


@transaction.atomic
def restart_timer(
    *,
    record: ChecklistRecord,
    line_key: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> Timer:
    """Begin a stopped wait anew, for example after chlorine was added."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    timer = record.timers.select_for_update().filter(line_key=line_key).first()
    if timer is None or timer.stopped_at is None:
        raise WrongState("Only a stopped wait begins anew.")
    _refuse_before(moment, timer.stopped_at)
    log(
        verb="timer_restarted",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        line=line_key,
        started=timer.started_at.isoformat(),
    )
    timer.started_at, timer.stopped_at, timer.by = moment, None, by
    timer.needed_minutes = _minutes(record, line_of(record, line_key), now)
    timer.save()
    return timer


@transaction.atomic
def undo_timer(
    *,
    record: ChecklistRecord,
    line_key: str,
    reason: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> None:
    """Take back the last act on a wait, pressed by mistake; who, when and why are kept.

    A stop taken back lets the wait go on from its begin, unless the taps were read after it. "Do
    not use" stands from the pouring on and is not touched.
    """
    record = open_and_allowed(record, by)
    told = done_at(record, at, now)
    timer = record.timers.select_for_update().filter(line_key=line_key).first()
    if timer is None:
        raise WrongState("This wait has not been started.")
    reason_given(reason, "Say why this is taken back.")
    act, moment = ("stop", timer.stopped_at) if timer.stopped_at else ("begin", timer.started_at)
    if timer.stopped_at is None:
        timer.delete()
    elif record.answers.filter(line_key__in=AFTER_CONTACT, read_at__gte=moment).exists():
        raise WrongState("The taps were read after it: flushing has begun. Begin the wait anew.")
    else:
        timer.stopped_at = None
        timer.save(update_fields=["stopped_at"])
    log(
        verb=TAKEN_BACK,
        subject=record,
        by=by,
        now=now,
        site=record.site,
        reason=reason.strip()[:300],
        line=line_key,
        act=act,
        of=moment.isoformat(),
        done=told.isoformat(),
    )


def _refuse_before(moment: datetime, other: datetime) -> None:
    if moment < other:
        raise BadEntry("The time lies before the last one of this wait.", field="at")
