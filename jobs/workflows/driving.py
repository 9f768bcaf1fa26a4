"""The table of towns."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.models import Company, TownDrive
from jobs.models.driving import LONGEST_MIN
from jobs.schedule.driving import pair_of

from .log import log


@transaction.atomic
def keep_drive(*, one: str, other: str, minutes: int, by: User, now: datetime) -> TownDrive:
    """Minutes between two towns, or within one; said again, in whichever order, it is changed."""
    one, other = " ".join(one.split()), " ".join(other.split())
    for town, name in ((one, "one"), (other, "other")):
        if not pair_of(town, town)[0]:
            raise BadEntry("Write the name of a town.", field=name)
    if not 1 <= minutes <= LONGEST_MIN:
        raise BadEntry(f"From 1 to {LONGEST_MIN} minutes.", field="minutes")
    _one_behind_the_other()
    first, second = pair_of(one, other)
    row = TownDrive.objects.filter(one_key=first, other_key=second).first()
    if row and row.minutes == minutes:
        return row
    if row is None:
        names = (one, other) if pair_of(one, one)[0] == first else (other, one)
        row = TownDrive(one=names[0], other=names[1], one_key=first, other_key=second)
    row.minutes = minutes
    _by(row, by, now)
    row.save()
    log(verb="town_drive_kept", subject=row, by=by, now=now, minutes=minutes)
    return row


@transaction.atomic
def drop_drive(*, row: TownDrive, by: User, now: datetime) -> None:
    """What is usual holds again; the history stays."""
    _one_behind_the_other()
    log(verb="town_drive_dropped", subject=row, by=by, now=now, minutes=row.minutes)
    _by(row, by, now)
    row.delete()


def _one_behind_the_other() -> None:
    """Two who type the same pair at once: the second changes the row of the first."""
    Company.load()
    Company.objects.select_for_update().get(pk=1)


def _by(row: TownDrive, by: User, now: datetime) -> None:
    row._history_user, row._history_date = by, now  # type: ignore[attr-defined]
