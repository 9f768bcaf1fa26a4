"""When something told now was done: by the clock of whoever did it, within what it is about.

Nothing lies ahead of the server's clock by more than a phone's may be wrong; nothing lies before
the visit it belongs to. Told at another time, it is asked about.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from jobs.errors import OtherTime
from jobs.models import ChecklistRecord, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start

#: a phone's clock may run ahead by so much
CLOCK_AHEAD = timedelta(minutes=5)


def refuse_ahead(at: datetime, now: datetime, *, what: str = "time", field: str = "at") -> None:
    if at > now + CLOCK_AHEAD:
        raise OtherTime(f"The {what} lies ahead.", field=field)


def done_at(record: ChecklistRecord, at: datetime | None, now: datetime) -> datetime:
    """When it was done at the house, within the visits of the record; now unless told."""
    if at is None:
        return now
    refuse_ahead(at, now)
    visits = record.job.visits.filter(arrived_at__isnull=False)
    arrivals = [visit.arrived_at for visit in visits if visit.arrived_at]
    if at < min([record.opened_at, *arrivals]):
        raise OtherTime("The time lies before the visit that this record is of.", field="at")
    return min(at, now)


def done_on(visits: Iterable[Visit], at: datetime | None, now: datetime) -> datetime:
    """When it was done, from the day of the first of these visits on; now unless told."""
    if at is None:
        return now
    refuse_ahead(at, now)
    begun = [day_start(company_day(visit.starts_at)) for visit in visits]
    if not begun or at < min(begun):
        raise OtherTime("The time lies before the day of the visit.", field="at")
    return min(at, now)
