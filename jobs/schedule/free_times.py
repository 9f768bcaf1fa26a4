"""Who is free when: quarter hours not held by any visit, within working hours."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Company, TechnicianSlot
from jobs.models.visits import QUARTER, day_start

from .working_days import is_working_day

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
class Hour:
    """One hour of one person: how much of it is free."""

    hour: int
    free: list[bool] = field(default_factory=lambda: [True] * 4)

    @property
    def free_quarters(self) -> int:
        return sum(self.free)


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
    held = held_quarters(people, day, day)
    table = []
    for person in people:
        row = PersonDay(person)
        for hour in range(company.work_from_hour, company.work_until_hour):
            start = at_hour(day, hour)
            free = [(person.pk, start + n * QUARTER) not in held for n in range(4)]
            row.hours.append(Hour(hour, free))
        table.append(row)
    return table


def at_hour(day: date, hour: int, minute: int = 0) -> datetime:
    """A wall-clock time of the company on that day."""
    return timezone.make_aware(datetime(day.year, day.month, day.day, hour, minute))  # noqa: DTZ001


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
    held = held_quarters(people, min(days), max(days))
    length = timedelta(minutes=minutes)
    order = sorted(people, key=lambda person: first_choice is None or person != first_choice)
    own: list[FreeTime] = []
    others: list[FreeTime] = []
    for day in days:
        for person in order:
            found = next(_gaps(person, day, length, held, now, company), None)
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
    return sorted(filter(is_working_day, span), key=lambda day: (abs((day - due_on).days), day))


def _gaps(
    person: User,
    day: date,
    length: timedelta,
    held: set[tuple[int, datetime]],
    now: datetime,
    company: Company,
) -> Iterator[FreeTime]:
    """Free spans of one person on one day, from each full or half hour of the working day."""
    profile = getattr(person, "profile", None)
    opens = profile.works_from_hour if profile and profile.works_from_hour is not None else None
    closes = profile.works_until_hour if profile and profile.works_until_hour is not None else None
    start = at_hour(day, company.work_from_hour if opens is None else opens)
    end = at_hour(day, company.work_until_hour if closes is None else closes)
    while start + length <= end:
        quarters = range(-(-int(length.total_seconds()) // 900))
        if start >= now + EARLIEST and not any(
            (person.pk, start + n * QUARTER) in held for n in quarters
        ):
            yield FreeTime(person, start, start + length)
        start += HALF_HOUR
