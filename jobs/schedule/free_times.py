"""Who is free when: quarter hours at work that no visit holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.contrib.auth.models import User

from jobs.models import Company, TechnicianSlot
from jobs.models.visits import QUARTER, day_start, quarters

from .working_time import Plan, moment_of

HALF_HOUR = timedelta(minutes=30)


@dataclass(frozen=True)
class FreeTime:
    person: User
    starts_at: datetime
    ends_at: datetime

    @property
    def value(self) -> str:
        return f"{self.person.pk}|{self.starts_at.isoformat()}"


@dataclass
class Taken:
    """What keeps people from coming: their plan, and (person, quarter) pairs that are held."""

    plan: Plan
    held: set[tuple[int, datetime]]

    def is_free(self, person: int, starts_at: datetime, ends_at: datetime) -> bool:
        if not self.plan.is_there(person, starts_at, ends_at):
            return False
        return not any((person, at) in self.held for at in quarters(starts_at, ends_at))


@dataclass
class Hour:
    """One hour of one person, quarter by quarter: "" where it is free, else why it is not."""

    hour: int
    quarters: list[str] = field(default_factory=lambda: [""] * 4)

    @property
    def free_quarters(self) -> int:
        return self.quarters.count("")

    @property
    def word(self) -> str:
        """Why none of it is free."""
        return self.quarters[0]


@dataclass
class PersonDay:
    person: User
    hours: list[Hour] = field(default_factory=list)


def technicians() -> list[User]:
    """Everybody who can be sent, by last name."""
    rows = User.objects.filter(is_active=True, groups__name="technician")
    return list(rows.select_related("profile").order_by("last_name", "first_name", "pk"))


def held_quarters(people: Iterable[User], first: date, last: date) -> set[tuple[int, datetime]]:
    """(person, quarter) pairs held between two days, both included."""
    rows = TechnicianSlot.objects.filter(
        technician__in=[person.pk for person in people],
        quarter_at__gte=day_start(first),
        quarter_at__lt=day_start(last + timedelta(days=1)),
    )
    return set(rows.values_list("technician_id", "quarter_at"))


def day_table(day: date, people: list[User], company: Company) -> list[PersonDay]:
    """Persons by hours of one day, for choosing a time."""
    held, plan = held_quarters(people, day, day), Plan.of(people, day, day, company)
    table = []
    for person in people:
        row = PersonDay(person)
        for hour in range(company.work_from_hour, company.work_until_hour):
            starts = [at_hour(day, hour) + n * QUARTER for n in range(4)]
            words = [
                "held" if (person.pk, at) in held else plan.word(person.pk, at, at + QUARTER)
                for at in starts
            ]
            row.hours.append(Hour(hour, words))
        table.append(row)
    return table


def at_hour(day: date, hour: int, minute: int = 0) -> datetime:
    """A wall-clock time of the company on that day."""
    return moment_of(day, time(hour, minute) if minute else hour)


def gaps(
    person: User,
    day: date,
    length: timedelta,
    taken: Taken,
    earliest: datetime,
    step: timedelta = HALF_HOUR,
) -> Iterator[FreeTime]:
    """Free spans of one person on one day, one at each step of their working day."""
    shift = taken.plan.shift(person.pk, day)
    if shift is None:
        return
    start = shift.starts_at
    while start + length <= shift.ends_at:
        if start >= earliest and taken.is_free(person.pk, start, start + length):
            yield FreeTime(person, start, start + length)
        start += step
