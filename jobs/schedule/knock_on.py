"""What the lateness of one visit does to those after it: when each would be come to now."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from jobs.models import Visit
from jobs.models.company import company_day
from jobs.models.visits import QUARTER

from .driving import Driving, Place
from .working_time import Plan

#: statuses in which nobody has reached the house
ON_THE_WAY = (Visit.Status.CONFIRMED, Visit.Status.EN_ROUTE, *Visit.NOT_FIRM)


@dataclass(frozen=True)
class Coming:
    """When a visit would begin and end as the day stands."""

    visit: Visit
    starts_at: datetime
    ends_at: datetime
    #: the visit that holds its people up
    after: Visit | None = None

    @property
    def is_put_back(self) -> bool:
        """It has not begun and would begin later than it is held for."""
        return self.visit.status in ON_THE_WAY and self.starts_at > self.visit.starts_at

    @property
    def breaks_word(self) -> bool:
        """The customer was told hours, and they would be over."""
        return (
            self.is_put_back
            and not self.visit.is_only_held
            and self.starts_at > self.visit.arrive_until
        )

    @property
    def late(self) -> timedelta:
        """Past the end that it is held for; nothing where it keeps it."""
        return max(timedelta(), self.ends_at - self.visit.ends_at)


@dataclass
class _Ready:
    """When a person can drive on, from where, and after what."""

    at: datetime
    visit: Visit


def coming_of(
    visits: Iterable[Visit], plan: Plan, driving: Driving, now: datetime
) -> dict[int, Coming]:
    """Every visit of one day by its number.

    Who is at a house stays as long as was held for it, counted from the arrival, and at least
    until now. Then comes lunch where it is planned between the two visits, then the drive. Nobody
    comes before the time held. A visit of two people begins when both can be there. Times that
    lie ahead are whole quarters of an hour, which is how time is held.
    """
    ready: dict[int, _Ready] = {}
    found: dict[int, Coming] = {}
    for visit in sorted(visits, key=lambda row: (row.starts_at, row.pk)):
        people = [pk for pk in (visit.lead_id, visit.helper_id) if pk]
        coming = found[visit.pk] = _coming(visit, people, ready, (plan, driving, now))
        for pk in people:
            ready[pk] = _Ready(coming.ends_at, visit)
    return found


def _coming(
    visit: Visit,
    people: list[int],
    ready: dict[int, _Ready],
    known: tuple[Plan, Driving, datetime],
) -> Coming:
    plan, driving, now = known
    length = visit.ends_at - visit.starts_at
    if visit.status == Visit.Status.CLOSED:
        begun = visit.arrived_at or visit.starts_at
        return Coming(visit, begun, visit.left_at or visit.closed_at or visit.ends_at)
    if visit.status == Visit.Status.ON_SITE and visit.arrived_at:
        return Coming(visit, visit.arrived_at, max(visit.arrived_at + length, now))
    starts_at, after = visit.starts_at, None
    if now > starts_at:
        starts_at = next_quarter(now)
    for pk in people:
        before = ready.get(pk)
        if before and (there := _there(pk, before, visit, plan, driving)) > starts_at:
            starts_at, after = next_quarter(there), before.visit
    return Coming(visit, starts_at, starts_at + length, after)


def _there(pk: int, before: _Ready, visit: Visit, plan: Plan, driving: Driving) -> datetime:
    """When one person can be at a house: lunch planned on the way is eaten, then the drive.

    Who is not late is late nowhere: how far the towns lie apart was judged at booking.
    """
    at, last = before.at, before.visit.ends_at
    if at <= last:
        return visit.starts_at
    shift = plan.shift(pk, company_day(visit.starts_at))
    if shift and shift.lunch and last <= shift.lunch[0] and shift.lunch[1] <= visit.starts_at:
        at = max(at, shift.lunch[0]) + (shift.lunch[1] - shift.lunch[0])
    drive = driving.between(Place.of(before.visit.job.site), Place.of(visit.job.site))
    return at + timedelta(minutes=drive.minutes)


def next_quarter(at: datetime) -> datetime:
    """The first whole quarter of an hour from then on; zones differ by whole quarters too."""
    past = timedelta(minutes=at.minute % 15, seconds=at.second, microseconds=at.microsecond)
    return at + (QUARTER - past) if past else at
