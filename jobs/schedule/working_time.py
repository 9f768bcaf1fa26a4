"""When a person works, has lunch or is away: the one home for booking, proposals and schedules."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Self

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Absence, Company
from jobs.models.visits import day_start

from .working_days import SATURDAY, OwnDays, holiday_on, own_days

Span = tuple[datetime, datetime]
#: whoever works so long at one house has lunch there; common practice, no source
LUNCH_IS_INSIDE = timedelta(hours=4)
LUNCH = ("profile__lunch_from", "profile__lunch_until")
HOURS = ("hours__weekday", "hours__works_from", "hours__works_until")


def moment_of(day: date, at: time | int) -> datetime:
    """A wall-clock time of the company; an hour may be 24."""
    if at == 24:
        return day_start(day + timedelta(days=1))
    hour, minute = (at, 0) if isinstance(at, int) else (at.hour, at.minute)
    return timezone.make_aware(datetime(day.year, day.month, day.day, hour, minute))  # noqa: DTZ001


@dataclass(frozen=True)
class Shift:
    """The hours of one person on one day, whoever may be away in them."""

    starts_at: datetime
    ends_at: datetime
    lunch: Span | None = None
    #: hours of this person, not the company's
    is_own: bool = False

    def holds(self, starts_at: datetime, ends_at: datetime) -> bool:
        return self.starts_at <= starts_at and ends_at <= self.ends_at

    def lunch_in(self, starts_at: datetime, ends_at: datetime) -> bool:
        """Lunch would fall into this span; a long piece of work has it inside."""
        if self.lunch is None or ends_at - starts_at >= LUNCH_IS_INSIDE:
            return False
        return starts_at < self.lunch[1] and ends_at > self.lunch[0]


@dataclass
class TimesAway:
    """When some people are away; one query."""

    by_person: dict[int, list[Absence]] = field(default_factory=dict)

    @classmethod
    def of(cls, people: Collection[User], first: date, last: date) -> Self:
        span = day_start(first), day_start(last + timedelta(days=1))
        rows = Absence.objects.standing().of(person.pk for person in people)
        found = cls()
        for absence in rows.within(*span):
            found.by_person.setdefault(absence.person_id, []).append(absence)
        return found

    def first(self, person: int, starts_at: datetime, ends_at: datetime) -> Absence | None:
        """The first time away that touches this span."""
        return next(
            (
                absence
                for absence in self.by_person.get(person, ())
                if absence.starts_at < ends_at and absence.ends_at > starts_at
            ),
            None,
        )


@dataclass
class Plan:
    """Hours, lunch and time away of some people between two days, read in four queries at most."""

    company: Company
    own: OwnDays
    #: by person and weekday; without times where they are not at work
    hours: dict[tuple[int, int], tuple[time | None, time | None]] = field(default_factory=dict)
    lunches: dict[int, tuple[time, time]] = field(default_factory=dict)
    absences: TimesAway = field(default_factory=lambda: TimesAway())

    @classmethod
    def of(
        cls,
        people: Collection[User],
        first: date,
        last: date,
        company: Company | None = None,
        own: OwnDays | None = None,
    ) -> Self:
        pks = [person.pk for person in people]
        own = own_days(first, last) if own is None else own
        plan = cls(company or Company.load(), own)
        for row in User.objects.filter(pk__in=pks).values_list("pk", *LUNCH, *HOURS):
            person, begins, ends, weekday, *hours = row
            if begins and ends:
                plan.lunches[person] = (begins, ends)
            if weekday is not None:
                plan.hours[person, weekday] = (hours[0], hours[1])
        plan.absences = TimesAway.of(people, first, last)
        return plan

    def usual(self, day: date) -> Shift:
        """The company's hours, as if that day were one of work."""
        begins, ends = self.company.work_from_hour, self.company.work_until_hour
        return Shift(moment_of(day, begins), moment_of(day, ends))

    def shift(self, person: int, day: date) -> Shift | None:
        """None on a holiday, a weekend and a weekday on which this person is not at work."""
        if holiday_on(day, self.own):
            return None
        row = self.hours.get((person, day.weekday()))
        if row is None:
            if day.weekday() >= SATURDAY:
                return None
            return replace(self.usual(day), lunch=self._lunch(person, day))
        if row[0] is None or row[1] is None:
            return None
        starts_at, ends_at = moment_of(day, row[0]), moment_of(day, row[1])
        return Shift(starts_at, ends_at, self._lunch(person, day), is_own=True)

    def _lunch(self, person: int, day: date) -> Span | None:
        begins, ends = self.lunches.get(person, (self.company.lunch_from, self.company.lunch_until))
        return (moment_of(day, begins), moment_of(day, ends)) if begins and ends else None

    def away(self, person: int, starts_at: datetime, ends_at: datetime) -> Absence | None:
        return self.absences.first(person, starts_at, ends_at)

    def is_there(self, person: int, starts_at: datetime, ends_at: datetime) -> bool:
        """At work in all of this span, and not at lunch."""
        shift = self.shift(person, timezone.localdate(starts_at))
        return bool(
            shift
            and shift.holds(starts_at, ends_at)
            and not shift.lunch_in(starts_at, ends_at)
            and not self.away(person, starts_at, ends_at)
        )

    def word(self, person: int, starts_at: datetime, ends_at: datetime) -> str:
        """Why nobody would be sent in this span: away, off, lunch; "" where they are there.

        Schedules and prints say no more than this.
        """
        if self.away(person, starts_at, ends_at):
            return "away"
        shift = self.shift(person, timezone.localdate(starts_at))
        if shift is None or not shift.holds(starts_at, ends_at):
            return "off"
        return "lunch" if shift.lunch_in(starts_at, ends_at) else ""


def span_words(absence: Absence) -> str:
    """Thursday 3 December, or from one moment to another where it is not whole days."""
    begins, ends = timezone.localtime(absence.starts_at), timezone.localtime(absence.ends_at)
    last = ends - timedelta(microseconds=1)
    if begins.time() == time() and ends.time() == time():
        first_day, last_day = f"{begins:%A %-d %B %Y}", f"{last:%A %-d %B %Y}"
        return first_day if first_day == last_day else f"{first_day} to {last_day}"
    if begins.date() == last.date():
        until = "24:00" if ends.time() == time() else f"{ends:%H:%M}"
        return f"{begins:%A %-d %B %Y}, {begins:%H:%M} to {until}"
    return f"{begins:%A %-d %B %Y, %H:%M} to {ends:%A %-d %B %Y, %H:%M}"
