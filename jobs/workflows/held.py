"""Whose time a visit holds, and the hours its customer is told: they lie inside that time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.access import has_role
from jobs.errors import BadEntry
from jobs.models import Visit
from jobs.models.company import company_day
from jobs.models.visits import QUARTER

LONGEST = timedelta(hours=14)
FARTHEST = timedelta(days=731)
#: what the customer is told by default: from the start, so long
WINDOW = timedelta(hours=1)


@dataclass(frozen=True)
class Held:
    """Whose time is held from when to when, and when the customer is told to expect them."""

    lead: User
    starts_at: datetime
    ends_at: datetime
    helper: User | None = None
    arrive_from: datetime | None = None
    arrive_until: datetime | None = None

    @property
    def window(self) -> tuple[datetime, datetime]:
        """As told, else the first hour of the time held."""
        begins = self.arrive_from or self.starts_at
        return begins, self.arrive_until or max(begins, min(begins + WINDOW, self.ends_at))


def moved_with(visit: Visit, held: Held) -> Held:
    """The told hours go with the visit, as far into it as before, unless others are named."""
    if held.arrive_from or held.arrive_until:
        return held
    begins = held.starts_at + (visit.arrive_from - visit.starts_at)
    ends = begins + (visit.arrive_until - visit.arrive_from)
    begins, ends = min(begins, held.ends_at), min(ends, held.ends_at)
    return replace(held, arrive_from=begins, arrive_until=ends)


def check(held: Held, *, now: datetime, moving: Visit | None = None) -> None:
    """Refuse what cannot be: order, length, people, hours told outside the time held.

    Time is held from the quarter hour that runs, at most two years ahead, within one day. What is
    moved may keep a beginning that has passed.
    """
    if held.ends_at <= held.starts_at:
        raise BadEntry("The end must come after the start.", field="ends_at")
    if held.ends_at - held.starts_at > LONGEST:
        raise BadEntry("A visit is at most 14 hours long: book a second one.", field="ends_at")
    if moving is None or moving.starts_at != held.starts_at:
        _check_moment(held, now)
    if company_day(held.ends_at - QUARTER) != company_day(held.starts_at):
        raise BadEntry("A visit ends on the day it begins: book a second one.", field="minutes")
    for person, field in ((held.lead, "lead"), (held.helper, "helper")):
        if person and not has_role(person, "technician"):
            raise BadEntry(f"{person.get_full_name()} is not a technician.", field=field)
    if held.helper and held.helper.pk == held.lead.pk:
        raise BadEntry("The second person must be another one.", field="helper")
    _check_told(held)


def _check_moment(held: Held, now: datetime) -> None:
    if held.starts_at <= now - QUARTER:
        raise BadEntry(
            f"{_clock(held.starts_at)} has passed, it is {_clock(now)}: choose a later time.",
            field="start",
        )
    if held.starts_at > now + FARTHEST:
        raise BadEntry("A visit is booked at most two years ahead.", field="day")


def _check_told(held: Held) -> None:
    begins, ends = held.window
    if begins > ends:
        raise BadEntry("The hours told end before they begin.", field="arrive_until")
    inside = f"time is held from {_clock(held.starts_at)} to {_clock(held.ends_at)}"
    for at, field in ((begins, "arrive_from"), (ends, "arrive_until")):
        if not held.starts_at <= at <= held.ends_at:
            raise BadEntry(
                f"{_clock(at)} lies outside the visit: {inside}. Hold more time, or tell other "
                "hours.",
                field=field,
            )


def _clock(moment: datetime) -> str:
    return f"{timezone.localtime(moment):%H:%M}"
