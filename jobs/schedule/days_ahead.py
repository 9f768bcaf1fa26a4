"""Days to come, person by person: where everybody is, and the gaps in which somebody else fits.

All of it in whole minutes of UTC, so that clocks that change count no hour twice.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, timedelta
from typing import Self

from django.contrib.auth.models import User
from django.db.models import Q

from jobs.models import Company, Visit
from jobs.models.company import company_day
from jobs.models.visits import day_start

from .company_tables import CompanyTables
from .driving import Drive, Driving, Place
from .needs import Needs
from .working_time import LUNCH_IS_INSIDE, Plan

QUARTER_MIN = 15
TWO = 2
COLUMNS = (
    "lead",
    "helper",
    "starts_at",
    "ends_at",
    "left_at",
    "status",
    "job__site__street",
    "job__site__town",
    "job__site",
    "job__site__latitude",
    "job__site__longitude",
)


def minute_of(moment: datetime) -> int:
    return int(moment.timestamp()) // 60


def minute_after(moment: datetime) -> int:
    """The first whole minute that is not before this moment."""
    return -(-int(moment.timestamp() + (moment.microsecond > 0)) // 60)


def quarter_from(minute: int) -> int:
    return -(-minute // QUARTER_MIN) * QUARTER_MIN


def moment_of_minute(minute: int) -> datetime:
    return datetime.fromtimestamp(minute * 60, UTC)


@dataclass(frozen=True)
class Stay:
    """A visit that stands: from when to when somebody is there, and the quarters it holds."""

    start: int
    end: int
    held_from: int
    held_until: int
    place: Place
    street: str

    @classmethod
    def of(cls, starts_at: datetime, ends_at: datetime, place: Place, street: str) -> Self:
        start, end = minute_of(starts_at), minute_after(ends_at)
        held_from = start // QUARTER_MIN * QUARTER_MIN
        return cls(start, end, held_from, quarter_from(end), place, street)

    @property
    def name(self) -> str:
        return f"{self.street}, {self.place.town}"


@dataclass(frozen=True)
class Stand:
    """A beginning that fits, the driving it adds, and the visits on both sides of it."""

    start: int
    added: int
    before: Stay | None = None
    after: Stay | None = None
    helper: int | None = None


@dataclass(frozen=True)
class Gap:
    """Between two visits of one person: a beginning and an end must lie in it."""

    first: int
    last: int
    added: int
    blocks: tuple[tuple[int, int], ...]
    before: Stay | None
    after: Stay | None

    def start(self, length: int, other: Gap | None = None) -> int | None:
        """The earliest quarter hour from which so much fits; with somebody else, into both."""
        first, last, blocks = self.first, self.last, self.blocks
        if other:
            first, last = max(first, other.first), min(last, other.last)
            blocks = (*blocks, *other.blocks)
        at = quarter_from(first)
        while at + length <= last:
            in_the_way = [end for start, end in blocks if start < at + length and end > at]
            if not in_the_way:
                return at
            at = quarter_from(max(in_the_way))
        return None


@dataclass(frozen=True)
class Wanted:
    """Where, how long, and from when on."""

    place: Place
    minutes: int
    earliest: datetime


@dataclass
class Calendar:
    """Who is where in some days; read in five queries."""

    plan: Plan
    driving: Driving
    needs: Needs
    people: dict[int, User]
    stays: dict[tuple[int, date], list[Stay]] = field(default_factory=dict)

    @classmethod
    def load(
        cls, people: list[User], days: list[date], company: Company, besides: Visit | None = None
    ) -> Self:
        tables = CompanyTables.load()
        found = cls(
            Plan.of(people, days[0], days[-1], company, tables.own_days),
            Driving.load(company, tables),
            Needs.load(tables),
            {person.pk: person for person in people},
        )
        found._read(days, besides)
        return found

    def _read(self, days: list[date], besides: Visit | None) -> None:
        begins, ends = day_start(days[0]), day_start(days[-1] + timedelta(days=1))
        rows = Visit.objects.standing().filter(starts_at__gte=begins, starts_at__lt=ends)
        rows = rows.filter(Q(lead__in=self.people) | Q(helper__in=self.people))
        if besides:
            rows = rows.exclude(pk=besides.pk)
        rows = rows.order_by("starts_at", "pk")
        for (
            lead,
            helper,
            starts_at,
            ends_at,
            left_at,
            status,
            street,
            town,
            *where,
        ) in rows.values_list(*COLUMNS):
            if status == Visit.Status.CLOSED and left_at:
                ends_at = max(starts_at, left_at)
            stay = Stay.of(starts_at, ends_at, Place(town, *where), street)
            for person in filter(None, (lead, helper)):
                self.stays.setdefault((person, company_day(starts_at)), []).append(stay)

    def day(self, on: date, wanted: Wanted) -> Day:
        return Day(self, on, wanted)


@dataclass
class Day:
    """One day for one thing that is wanted."""

    calendar: Calendar
    on: date
    wanted: Wanted
    _gaps: dict[int, list[Gap]] = field(default_factory=dict)

    def stays(self, person: int) -> list[Stay]:
        return self.calendar.stays.get((person, self.on), [])

    def booked(self, person: int) -> int:
        """Minutes held that day."""
        return sum(stay.held_until - stay.held_from for stay in self.stays(person))

    def stands(self, person: int) -> Iterator[Stand]:
        """The earliest beginning of each gap: the driving is the same in all of it."""
        for gap in self.gaps(person):
            start = gap.start(self.wanted.minutes)
            if start is not None:
                yield Stand(start, gap.added, gap.before, gap.after)

    def stands_of_two(self, person: int, others: Collection[int]) -> Iterator[Stand]:
        for other in others:
            for gap in self.gaps(person):
                for beside in self.gaps(other):
                    start = gap.start(self.wanted.minutes, beside)
                    if start is not None:
                        added = gap.added + beside.added
                        yield Stand(start, added, gap.before, gap.after, other)

    def gaps(self, person: int) -> list[Gap]:
        known = self._gaps.get(person)
        if known is None:
            known = self._gaps[person] = list(self._gaps_of(person))
        return known

    def _gaps_of(self, person: int) -> Iterator[Gap]:
        shift = self.calendar.plan.shift(person, self.on)
        if shift is None:
            return
        blocks = [
            (minute_of(away.starts_at), minute_after(away.ends_at))
            for away in self.calendar.plan.absences.by_person.get(person, ())
        ]
        if shift.lunch and timedelta(minutes=self.wanted.minutes) < LUNCH_IS_INSIDE:
            blocks.append((minute_of(shift.lunch[0]), minute_after(shift.lunch[1])))
        first = max(minute_after(shift.starts_at), minute_after(self.wanted.earliest))
        last = minute_of(shift.ends_at)
        stays, here = self.stays(person), self.wanted.place
        for before, after in zip([None, *stays], [*stays, None], strict=True):
            begins, ends = first, last
            if before:
                drive = self.drive(before.place, here)
                begins = max(begins, before.held_until, before.end + drive.minutes)
            if after:
                drive = self.drive(here, after.place)
                ends = min(ends, after.held_from, after.start - drive.minutes)
            if begins + self.wanted.minutes <= ends:
                added = self._added(before, after)
                yield Gap(begins, ends, added, tuple(blocks), before, after)

    def drive(self, one: Place, other: Place) -> Drive:
        return self.calendar.driving.between(one, other)

    def _added(self, before: Stay | None, after: Stay | None) -> int:
        """More driving than without it. The day begins and ends where the company stands."""
        base, here = self.calendar.driving.base, self.wanted.place
        comes = before.place if before else base
        goes = after.place if after else base
        there = self.drive(comes, here).minutes if comes else 0
        back = self.drive(here, goes).minutes if goes else 0
        without = 0
        if comes and goes and (before or after):
            without = self.drive(comes, goes).minutes
        return there + back - without

    def words(self, person: int, stand: Stand) -> list[str]:
        """Where they come from and go to, and what else that day holds."""
        here = self.wanted.place
        words = []
        if stand.before:
            words.append(self._said(self.drive(stand.before.place, here), "from", stand.before))
        if stand.after:
            words.append(self._said(self.drive(here, stand.after.place), "to", stand.after))
        held = self.booked(person)
        if not held:
            return ["nothing else that day"]
        return [*words, f"{held // 60} h {held % 60:02} booked that day"]

    def _said(self, drive: Drive, word: str, stay: Stay) -> str:
        if not drive.minutes:
            return f"{'after' if word == 'from' else 'before'} a visit at the same house"
        return f"{drive.minutes} min {word} {stay.name} ({drive.by})"
