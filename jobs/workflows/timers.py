"""Waits that survive the phone: the server's clock starts them."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.keys import LineKey
from jobs.models import ChecklistLine, ChecklistRecord, Timer
from jobs.records.loading import load_sheet

from .answers import line_of, open_and_allowed
from .log import log


@transaction.atomic
def start_timer(*, record: ChecklistRecord, line_key: str, by: User, now: datetime) -> Timer:
    """Start a wait once; starting it again gives the running one. Chlorine is poured before."""
    record = open_and_allowed(record, by)
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
        record=record, line_key=line_key, started_at=now, needed_minutes=minutes, by=by
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
    """The computed time, never below the company's; the company's where nothing can be computed."""
    sheet = load_sheet(record, now=now)
    hours = sheet.outcomes.expected(line.expectation) if line.expectation else None
    return 60 * max(hours or 0, sheet.company["contact_minimum_h"])


@transaction.atomic
def stop_timer(*, record: ChecklistRecord, line_key: str, by: User, now: datetime) -> Timer:
    """End a wait; too early and its line does not pass."""
    record = open_and_allowed(record, by)
    timer = record.timers.select_for_update().filter(line_key=line_key).first()
    if timer is None:
        raise WrongState("This wait has not been started.")
    if timer.stopped_at is None:
        timer.stopped_at = now
        timer.save(update_fields=["stopped_at"])
    return timer


@transaction.atomic
def restart_timer(*, record: ChecklistRecord, line_key: str, by: User, now: datetime) -> Timer:
    """Begin a stopped wait anew, for example after chlorine was added."""
    record = open_and_allowed(record, by)
    timer = record.timers.select_for_update().filter(line_key=line_key).first()
    if timer is None or timer.stopped_at is None:
        raise WrongState("Only a stopped wait begins anew.")
    log(
        verb="timer_restarted",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        line=line_key,
        started=timer.started_at.isoformat(),
    )
    timer.started_at, timer.stopped_at, timer.by = now, None, by
    timer.needed_minutes = _minutes(record, line_of(record, line_key), now)
    timer.save()
    return timer
