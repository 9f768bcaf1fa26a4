"""The best openings for a visit: the one home of who could come when, and why.

An opening is a quarter hour at which somebody could begin: at work and not at lunch or away, time
not held, the licence held by one of those who come, a second person where the work takes two, and
the drive from the visit before and to the one after it fits in between. It costs minutes, the
fewest first: the driving it adds to the day, what is booked that day already, the days to the due
day, less what knowing the house saves. Of each person and day the best beginning is offered.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Q
from django.utils import timezone

from equipment.models import Site, Train
from jobs.models import Company, FollowUp, Job, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.wording.names import person as name_of

from .days_ahead import TWO, Calendar, Day, Stand, Wanted, moment_of_minute
from .driving import Place
from .laboratory import SAMPLING, Laboratory

#: a promise past its window is offered the next working days
LATE_DAYS = 10
#: nobody is sent sooner than this
EARLIEST = timedelta(hours=2)
#: minutes a day farther from the due day costs, and what an hour booked that day costs; what it
#: saves to have set the system up, to have done the work a promise comes from, to know the house;
#: common practice, no source
DAY_COSTS, BOOKED_HOUR_COSTS = 6, 3
SET_UP_SAVES, DID_IT_SAVES, KNOWS_SAVES = 20, 20, 15


@dataclass(frozen=True)
class Ask:
    """What is to be done, where, how long, and in which days; `moving` is the visit that moves."""

    site: Site
    kind: str
    minutes: int
    due_on: date
    window: tuple[date, date]
    train: Train | None = None
    moving: Visit | None = None
    #: who did the work a promise comes from
    did_it: User | None = None
    promise: FollowUp | None = None
    #: somebody calls: what stands at the house already is not waited for
    is_call: bool = False
    #: what the visit waits for is not over before this day
    not_before: date | None = None
    #: somebody may be hurt: the soonest goes before the cheapest
    is_urgent: bool = False


@dataclass(frozen=True)
class Opening:
    """Somebody who could come, from when to when, and the reasons in words."""

    person: User
    starts_at: datetime
    ends_at: datetime
    helper: User | None = None
    cost: int = 0
    reasons: tuple[str, ...] = ()

    @property
    def value(self) -> str:
        helper = f"|{self.helper.pk}" if self.helper else ""
        return f"{self.person.pk}|{self.starts_at.isoformat()}{helper}"

    @property
    def when(self) -> str:
        begins, ends = timezone.localtime(self.starts_at), timezone.localtime(self.ends_at)
        who = name_of(self.person)
        if self.helper:
            who += f" with {name_of(self.helper)}"
        span = f"{begins:%A %-d %B, %H:%M} to {ends:%H:%M}"
        return f"{span}, {who}"

    @property
    def said(self) -> str:
        return f"{self.when}: {', '.join(self.reasons)}"


def best_openings(
    ask: Ask, people: list[User], *, now: datetime, company: Company, count: int = 3
) -> list[Opening]:
    """The best ones; the last of them is somebody else's where the others are all one person's."""
    found = ranked(ask, people, now=now, company=company)
    kept = found[:count]
    if len(kept) == count > 1 and len({row.person.pk for row in kept}) == 1:
        others = (row for row in found if row.person.pk != kept[0].person.pk)
        kept = [*kept[:-1], next(others, kept[-1])]
    return kept


def ranked(ask: Ask, people: list[User], *, now: datetime, company: Company) -> list[Opening]:
    """All openings, one of each person and day, the best first; at most ten queries."""
    days = days_of(ask, now)
    if not days or not people:
        return []
    calendar = Calendar.load(people, days, company, besides=ask.moving)
    knowing = Knowing.of(ask, days[-1])
    named = sorted(people, key=lambda who: (who.last_name, who.first_name, who.pk))
    order = {person.pk: place for place, person in enumerate(named)}
    earliest = max(now + EARLIEST, now if ask.is_call else knowing.not_before or now)
    if ask.not_before:
        earliest = max(earliest, day_start(ask.not_before))
    laboratory = Laboratory.load(company, days[0]) if ask.kind in SAMPLING else None
    found = []
    for day in days:
        table = calendar.day(day, Wanted(Place.of(ask.site), ask.minutes, earliest))
        for person in people:
            stand = _best_of(ask, person, table, named, laboratory)
            if stand:
                found.append(_opening(ask, day, person, stand, table, knowing))
    if ask.is_urgent:
        return sorted(found, key=lambda row: (row.starts_at, row.cost, order[row.person.pk]))
    return sorted(found, key=lambda row: (row.cost, row.starts_at, order[row.person.pk]))


def days_of(ask: Ask, now: datetime) -> list[date]:
    """The window from today on; past it, the next days."""
    today = company_day(now)
    first, last = max(ask.window[0], today), ask.window[1]
    if last < today:
        first, last = today, today + timedelta(days=LATE_DAYS)
    return [first + timedelta(days=n) for n in range((last - first).days + 1)]


def _best_of(
    ask: Ask, person: User, table: Day, named: list[User], laboratory: Laboratory | None
) -> Stand | None:
    """The best beginning of this person that day: the least driving added, then the earliest.

    A sample must reach the laboratory in time.
    """
    needs = table.calendar.needs
    if needs.people(ask.kind) < TWO:
        if needs.lacking(ask.kind, [person.pk], table.on):
            return None
        stands = table.stands(person.pk)
    else:
        others = [
            other.pk
            for other in named
            if other != person and not needs.lacking(ask.kind, [person.pk, other.pk], table.on)
        ]
        stands = table.stands_of_two(person.pk, others)
    if laboratory:
        stands = (
            stand
            for stand in stands
            if laboratory.reached(moment_of_minute(stand.start + ask.minutes))
        )
    if ask.is_urgent:
        return min(stands, key=lambda stand: stand.start, default=None)
    return min(stands, key=lambda stand: (stand.added, stand.start), default=None)


@dataclass
class Knowing:
    """Who knows the house, who set the system up, and what else stands or is due there."""

    last_there: dict[int, date]
    set_up: set[int]
    did_it: int | None
    due_there: tuple[str, ...]
    #: when the last visit to this house that stands already ends
    not_before: datetime | None

    @classmethod
    def of(cls, ask: Ask, last: date) -> Knowing:
        there = Visit.objects.filter(job__site=ask.site.pk)
        done = there.filter(status=Visit.Status.CLOSED).exclude(outcome=Visit.Outcome.NO_ACCESS)
        rows = done.order_by("starts_at", "pk")
        columns = ("starts_at", "job__kind", "job__train", "lead", "helper")
        last_there: dict[int, date] = {}
        fitted = ask.train.installed_by_id if ask.train else None
        set_up = {fitted} if fitted else set()
        for starts_at, kind, train, lead, helper in rows.values_list(*columns):
            last_there |= {who: company_day(starts_at) for who in (lead, helper) if who}
            if kind == Job.Kind.STARTUP and ask.train and train == ask.train.pk:
                set_up.add(lead)
        stands = there.to_come()
        if ask.moving:
            stands = stands.exclude(pk=ask.moving.pk)
        ends = [
            ends_at
            for starts_at, ends_at in stands.values_list("starts_at", "ends_at")
            if company_day(starts_at) <= last
        ]
        return cls(
            last_there,
            set_up,
            ask.did_it.pk if ask.did_it else None,
            _due_there(ask, last),
            max(ends, default=None),
        )

    def saved(self, person: int) -> int:
        return (
            SET_UP_SAVES * (person in self.set_up)
            + DID_IT_SAVES * (person == self.did_it)
            + KNOWS_SAVES * (person in self.last_there)
        )

    def reasons(self, person: int) -> list[str]:
        there = self.last_there.get(person)
        return [
            *(["set up the system"] if person in self.set_up else []),
            *(["did the work this comes from"] if person == self.did_it else []),
            *([f"was there {there:%-d %B %Y}"] if there else []),
        ]


def _due_there(ask: Ask, last: date) -> tuple[str, ...]:
    """Other open promises of the house whose window has begun by then."""
    rows = FollowUp.objects.open().filter(Q(site=ask.site.pk), window_from__lte=last)
    if ask.promise:
        rows = rows.exclude(pk=ask.promise.pk)
    rows = rows.order_by("due_on").select_related("terms")
    return tuple(dict.fromkeys(row.terms.name for row in rows))


def _opening(
    ask: Ask, day: date, person: User, stand: Stand, table: Day, knowing: Knowing
) -> Opening:
    held, far = table.booked(person.pk), abs((day - ask.due_on).days)
    cost = stand.added + DAY_COSTS * far + BOOKED_HOUR_COSTS * held // 60 - knowing.saved(person.pk)
    reasons = [
        *knowing.reasons(person.pk),
        *table.words(person.pk, stand),
        *_words_of_day(ask, day, far),
        *([f"also due there: {', '.join(knowing.due_there)}"] if knowing.due_there else []),
    ]
    starts_at = timezone.localtime(moment_of_minute(stand.start))
    ends_at = moment_of_minute(stand.start + ask.minutes)
    return Opening(
        person,
        starts_at,
        timezone.localtime(ends_at),
        table.calendar.people[stand.helper] if stand.helper else None,
        cost,
        tuple(reasons),
    )


def _words_of_day(ask: Ask, day: date, far: int) -> list[str]:
    if ask.window[1] < day:
        return [f"after its window, which ended {ask.window[1]:%-d %B %Y}"]
    if ask.promise is None:
        return []
    if not far:
        return ["on the day it is due"]
    days = "1 day" if far == 1 else f"{far} days"
    return [f"{days} {'after' if day > ask.due_on else 'before'} it is due"]
