"""The week: who is where, how much of each day is held and free, and what presses after it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Customer, FollowUp, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.models.visits import QUARTER, day_start
from jobs.schedule.stretches import free_stretches, length_of, worth_booking
from jobs.schedule.working_days import SATURDAY, holiday_on
from jobs.schedule.working_time import Plan, Span, moment_of
from jobs.wording.days import short_day
from jobs.wording.names import person

from .asked import with_what_is_asked
from .schedule import people_of, visits_of

WEEKS_AHEAD = 4
UNCONFIRMED = (Visit.Status.TENTATIVE, Visit.Status.REQUESTED)


@dataclass(frozen=True)
class Bar:
    """A piece of the strip of a day, in quarters from its first hour."""

    x: float
    width: float
    look: str


@dataclass
class Named:
    """A visit as a cell names it."""

    visit: Visit
    name: str
    look: str = ""


@dataclass
class Cell:
    """One person on one day."""

    day: date
    visits: list[Named] = field(default_factory=list)
    bars: list[Bar] = field(default_factory=list)
    #: away, off, or nothing
    word: str = ""
    free: list[Span] = field(default_factory=list)

    @property
    def longest(self) -> Span | None:
        return max(self.free, key=lambda span: span[1] - span[0], default=None)

    @property
    def towns(self) -> list[str]:
        return sorted({each.visit.job.site.town for each in self.visits})

    @property
    def held(self) -> timedelta:
        return length_of((each.visit.starts_at, each.visit.ends_at) for each in self.visits)


@dataclass
class WeekRow:
    person: User
    cells: list[Cell]

    @property
    def held(self) -> timedelta:
        return sum((cell.held for cell in self.cells), timedelta())


@dataclass
class Column:
    """A day at the head and at the foot of the table."""

    day: date
    holiday: str
    visits: int = 0
    held: timedelta = timedelta()
    free: timedelta = timedelta()


@dataclass
class Ahead:
    """A week to come: promises whose window ends in it, and when fewer people work."""

    monday: date
    ending: int = 0
    unbooked: int = 0
    holidays: list[tuple[date, str]] = field(default_factory=list)
    away: list[str] = field(default_factory=list)


def week_of(on: date, now: datetime) -> dict[str, object]:
    monday = on - timedelta(days=on.weekday())
    visits = visits_of_week(monday)
    people, last = people_of(visits), monday + timedelta(days=6 + 7 * WEEKS_AHEAD)
    plan = Plan.of(people, monday, last)
    sites = {visit.job.site_id for visit in visits}
    names = SiteTenure.objects.contacts(sites, monday)
    days = days_of(monday, visits, people, plan)
    shown = Shown(plan, names, now)
    rows = [WeekRow(who, [shown.cell(who, day, visits) for day in days]) for who in people]
    columns = [column_of(day, plan, visits, rows) for day in days]
    ending = ending_from(monday)
    return {
        "columns": columns,
        "monday": monday,
        "rows": rows,
        "nav": "day",
        "today": company_day(now),
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "count": len(visits),
        "hours": (hours := range(plan.company.work_from_hour, plan.company.work_until_hour)),
        "quarters": len(hours) * 4,
        "held": sum((column.held for column in columns), timedelta()),
        "free": sum((column.free for column in columns), timedelta()),
        "due": count_in(ending, monday),
        "ahead": [ahead_of(monday + timedelta(days=7 * n), ending, people, plan) for n in WEEKS],
    }


WEEKS = range(1, WEEKS_AHEAD + 1)


def visits_of_week(monday: date) -> list[Visit]:
    starts, ends = day_start(monday), day_start(monday + timedelta(days=7))
    rows = Visit.objects.filter(starts_at__gte=starts, starts_at__lt=ends).standing().with_job()
    return with_what_is_asked(rows)


def days_of(monday: date, visits: list[Visit], people: list[User], plan: Plan) -> list[date]:
    """Monday to Friday; the weekend where somebody works or is booked."""
    days = [monday + timedelta(days=n) for n in range(7)]
    booked = {company_day(visit.starts_at) for visit in visits}
    return [
        day
        for day in days
        if day.weekday() < SATURDAY
        or day in booked
        or any(plan.shift(who.pk, day) for who in people)
    ]


@dataclass(frozen=True)
class Shown:
    """What every cell of the week is read from."""

    plan: Plan
    names: dict[int, Customer]
    now: datetime

    def cell(self, who: User, day: date, visits: list[Visit]) -> Cell:
        own = [row for row in visits_of(who, visits) if company_day(row.starts_at) == day]
        cell = Cell(day, [self.named(visit) for visit in own])
        held = [(visit.starts_at, visit.ends_at) for visit in own]
        stretches = free_stretches(self.plan, who.pk, day, held)
        cell.free = worth_booking(stretches, self.now)
        cell.word = self.word(who, day)
        cell.bars = [bar_of((v.starts_at, v.ends_at), self.look(v), day, self.plan) for v in own]
        cell.bars = [*self.away_bars(who, day), *cell.bars]
        return cell

    def word(self, who: User, day: date) -> str:
        span = day_start(day), day_start(day + timedelta(days=1))
        if self.plan.away(who.pk, *span):
            return "away"
        return "" if self.plan.shift(who.pk, day) else "off"

    def away_bars(self, who: User, day: date) -> list[Bar]:
        absences = self.plan.absences.by_person.get(who.pk, ())
        spans = [(absence.starts_at, absence.ends_at) for absence in absences]
        bars = [bar_of(span, "off", day, self.plan) for span in spans]
        return [bar for bar in bars if bar.width > 0]

    def named(self, visit: Visit) -> Named:
        who = self.names.get(visit.job.site_id)
        return Named(visit, name_of(who, visit), self.look(visit))

    @staticmethod
    def look(visit: Visit) -> str:
        if visit.asked:
            return "asks"
        return "open" if visit.status in UNCONFIRMED else "held"


def name_of(who: Customer | None, visit: Visit) -> str:
    """The last name of a person, the whole name of a company, else the street."""
    if who is None:
        return str(visit.job.site.street)
    return who.name.split()[-1] if who.kind == Customer.Kind.PERSON else who.name


def bar_of(span: Span, look: str, day: date, plan: Plan) -> Bar:
    """Where a span lies on the strip of that day; what is earlier or later is cut off."""
    first = moment_of(day, plan.company.work_from_hour)
    last = moment_of(day, plan.company.work_until_hour)
    begins, ends = max(span[0], first), min(span[1], last)
    return Bar((begins - first) / QUARTER, max(0.0, (ends - begins) / QUARTER), look)


def column_of(day: date, plan: Plan, visits: list[Visit], rows: list[WeekRow]) -> Column:
    column = Column(day, holiday_on(day, plan.own))
    column.visits = sum(company_day(visit.starts_at) == day for visit in visits)
    for row in rows:
        for cell in row.cells:
            if cell.day == day:
                column.held += cell.held
                column.free += length_of(cell.free)
    return column


# --- what presses after it ------------------------------------------------------------------------

Ending = Counter[tuple[date, bool]]


def ending_from(monday: date) -> Ending:
    """Promises by the last day of their window, and whether a visit stands for them; one query."""
    last = monday + timedelta(days=7 * (WEEKS_AHEAD + 1))
    rows = FollowUp.objects.alive().filter(window_until__gte=monday, window_until__lt=last)
    found = rows.order_by().values_list("window_until", "status")
    return Counter((day, status == FollowUp.Status.BOOKED) for day, status in found)


def count_in(ending: Ending, monday: date, *, only_unbooked: bool = False) -> int:
    week = [monday + timedelta(days=n) for n in range(7)]
    kinds = (False,) if only_unbooked else (False, True)
    return sum(ending[day, booked] for day in week for booked in kinds)


def ahead_of(monday: date, ending: Ending, people: Iterable[User], plan: Plan) -> Ahead:
    week = [monday + timedelta(days=n) for n in range(7)]
    span = day_start(monday), day_start(monday + timedelta(days=7))
    return Ahead(
        monday,
        ending=count_in(ending, monday),
        unbooked=count_in(ending, monday, only_unbooked=True),
        holidays=[
            (day, name)
            for day in week
            if day.weekday() < SATURDAY and (name := holiday_on(day, plan.own))
        ],
        away=[
            f"{person(who)} {when(absence.starts_at, absence.ends_at, monday)}"
            for who in people
            if (absence := plan.away(who.pk, *span))
        ],
    )


def when(starts_at: datetime, ends_at: datetime, today: date) -> str:
    """The days of a time away, without why."""
    first = timezone.localtime(starts_at).date()
    last = timezone.localtime(ends_at - timedelta(microseconds=1)).date()
    days = [short_day(day, today) for day in (first, last)]
    return days[0] if first == last else " to ".join(days)
