"""Who is free when: quarter hours at work that no visit holds."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Company, TechnicianSlot
from jobs.models.visits import QUARTER, day_start, quarters

from .working_days import is_working_day, own_days
from .working_time import Plan, moment_of

HALF_HOUR = timedelta(minutes=30)
#: a promise past its window is offered the next working days
LATE_DAYS = 10
#: nobody is sent sooner than this
EARLIEST = timedelta(hours=2)


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


def nearest(
    *,
    first_choice: User | None,
    people: list[User],
    minutes: int,
    due_on: date,
    window: tuple[date, date],
    now: datetime,
    company: Company,
    count: int = 3,
) -> list[FreeTime]:
    """The free times nearest to the due day: the first choice's own, one from somebody else.

    Past its window, a promise is offered the next working days.
    """
    days = _days(due_on, window, timezone.localdate(now))
    if not days or not people:
        return []
    plan = Plan.of(people, min(days), max(days), company)
    taken = Taken(plan, held_quarters(people, min(days), max(days)))
    length = timedelta(minutes=minutes)
    order = sorted(people, key=lambda person: first_choice is None or person != first_choice)
    own: list[FreeTime] = []
    others: list[FreeTime] = []
    for day in days:
        for person in order:
            found = next(gaps(person, day, length, taken, now + EARLIEST), None)
            if found:
                (own if person == first_choice else others).append(found)
    kept = own[: count - 1] if others else own[:count]
    return [*kept, *others][:count]


def _days(due_on: date, window: tuple[date, date], today: date) -> list[date]:
    """Working days of the window from today on, nearest to the due day first."""
    first, last = max(window[0], today), window[1]
    if last < today:
        first, last, due_on = today, today + timedelta(days=LATE_DAYS), today
    span = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    own = own_days(first, last)
    working = [day for day in span if is_working_day(day, own)]
    return sorted(working, key=lambda day: (abs((day - due_on).days), day))


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
