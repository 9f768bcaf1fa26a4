"""The day as a graphic timetable: held time, told hours, driving, who is away, what comes late."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models import Absence, Company, Customer, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.models.visits import QUARTER
from jobs.schedule.company_tables import CompanyTables
from jobs.schedule.driving import Driving, Place
from jobs.schedule.free_times import at_hour
from jobs.schedule.knock_on import Coming, coming_of
from jobs.schedule.needs import Needs
from jobs.schedule.stretches import free_stretches, length_of, worth_booking
from jobs.schedule.waiting import show_waiting
from jobs.schedule.working_days import holiday_on
from jobs.schedule.working_time import Plan, Span
from jobs.wording.names import person

from .asked import with_what_is_asked
from .day_names import Placed, set_levels
from .day_words import Said, by_reason, said_of, wants_decision
from .schedule import people_of, visits_of
from .week import name_of

#: less is within what a day takes up by itself; common practice, no source
WORTH_A_MARK = 2 * QUARTER


@dataclass
class Drawn(Placed):
    """One visit in the row of one of its people."""

    visit: Visit
    said: Said
    coming: Coming
    contact: Customer | None = None
    told: tuple[int, int] | None = None
    #: where the mark stands that says when it would be come to now
    expected: int | None = None
    other: str = ""

    @property
    def look(self) -> str:
        return f"{self.said.look}{' pair' if self.visit.helper_id else ''}"


#: quarters of an hour that "free 1 h" needs
WORDS = 3


@dataclass
class Between:
    """What lies between the visits of a person: drive, lunch, away, free."""

    kind: str
    at: int
    span: int
    minutes: int = 0
    begins: datetime | None = None
    ends: datetime | None = None
    absence: Absence | None = None
    #: the words of a free stretch stand over its figure
    is_quiet: bool = False

    @property
    def length(self) -> timedelta:
        return self.ends - self.begins if self.begins and self.ends else timedelta()


@dataclass
class DayRow:
    person: User
    drawn: list[Drawn] = field(default_factory=list)
    between: list[Between] = field(default_factory=list)
    held: timedelta = timedelta()
    absence: Absence | None = None
    is_off: bool = False

    @property
    def items(self) -> list[Drawn | Between]:
        """In the order of the day, which is the order of the keyboard."""
        return sorted([*self.drawn, *self.between], key=lambda item: item.at)

    @property
    def is_late(self) -> bool:
        """One of the visits ahead would be come to after the hours told."""
        return any(drawn.coming.breaks_word for drawn in self.drawn)


@dataclass(frozen=True)
class Day:
    """What is known of one day, read once for all its rows."""

    on: date
    now: datetime
    hours: range
    plan: Plan
    driving: Driving
    needs: Needs
    names: dict[int, Customer]
    coming: dict[int, Coming]

    @property
    def begin(self) -> datetime:
        return at_hour(self.on, self.hours.start)

    @property
    def quarters(self) -> int:
        return len(self.hours) * 4

    def place(self, begins: datetime, ends: datetime) -> tuple[int, int]:
        """First quarter and number of quarters of a span on the scale of the day."""
        first = min(max(0, int((begins - self.begin) // QUARTER)), self.quarters - 1)
        last = min(self.quarters, -int((self.begin - ends) // QUARTER))
        return first, max(1, last - first)

    def row(self, who: User, visits: list[Visit]) -> DayRow:
        own = visits_of(who, visits)
        row = DayRow(who, [self.drawn(visit, who) for visit in own])
        row.absence = self.plan.away(who.pk, self.begin, self.begin + self.quarters * QUARTER)
        row.is_off = self.plan.shift(who.pk, self.on) is None
        row.held = length_of((visit.starts_at, visit.ends_at) for visit in own)
        row.between = [*self.away(who), *self.lunch(who, own)]
        row.between += self.drives(own, row.between)
        row.between += self.free(who, own, row.between)
        set_levels(row.drawn, self.quarters)
        return row

    def drawn(self, visit: Visit, who: User) -> Drawn:
        at, span = self.place(visit.starts_at, visit.ends_at)
        coming, contact = self.coming[visit.pk], self.names.get(visit.job.site_id)
        said = said_of(coming, self.plan, self.needs, self.now)
        drawn = Drawn(
            name_of(contact, visit), visit.job.short_kind, said.word, at, span, visit=visit,
            said=said, coming=coming, contact=contact,
        )  # fmt: skip
        if not visit.is_only_held:
            drawn.told = self.place(visit.arrive_from, visit.arrive_until)
        if coming.starts_at - visit.starts_at >= WORTH_A_MARK and coming.is_put_back:
            drawn.expected = self.place(coming.starts_at, coming.starts_at)[0]
        if visit.helper:
            helps = visit.helper_id == who.pk
            drawn.other = f"{'helps' if helps else 'with'} {last_name(visit, who)}"
        return drawn

    def away(self, who: User) -> list[Between]:
        end = self.begin + self.quarters * QUARTER
        rows = self.plan.absences.by_person.get(who.pk, ())
        return [
            Between("away", *self.place(row.starts_at, row.ends_at), absence=row)
            for row in rows
            if row.starts_at < end and row.ends_at > self.begin
        ]

    def lunch(self, who: User, own: list[Visit]) -> list[Between]:
        shift = self.plan.shift(who.pk, self.on)
        if shift is None or shift.lunch is None:
            return []
        begins, ends = shift.lunch
        busy = [(visit.starts_at, visit.ends_at) for visit in own]
        away = self.plan.away(who.pk, begins, ends)
        if away or any(first < ends and last > begins for first, last in busy):
            return []
        return [Between("lunch", *self.place(begins, ends))]

    def drives(self, own: list[Visit], others: list[Between]) -> list[Between]:
        """From one house to the next, behind the lunch that is planned between them."""
        found = []
        for before, after in zip(own, own[1:], strict=False):
            towns = Place.of(before.job.site), Place.of(after.job.site)
            minutes = self.driving.between(*towns).minutes
            at, last = self.place(before.ends_at, after.starts_at)[0], self.place_of(after)
            for lunch in others:
                if lunch.kind == "lunch" and at <= lunch.at < last:
                    at = max(at, lunch.at + lunch.span)
            span = min(-(-minutes // 15), last - at)
            if minutes and span > 0 and before.ends_at <= after.starts_at:
                found.append(Between("drive", at, span, minutes))
        return found

    def place_of(self, visit: Visit) -> int:
        return self.place(visit.starts_at, visit.ends_at)[0]

    def free(self, who: User, own: list[Visit], others: list[Between]) -> list[Between]:
        """Stretches somebody could be sent in; the words stand behind the drive."""
        held: list[Span] = [(visit.starts_at, visit.ends_at) for visit in own]
        found = []
        for begins, ends in worth_booking(
            free_stretches(self.plan, who.pk, self.on, held), self.now
        ):
            at, span = self.place(begins, ends)
            for drive in others:
                if drive.kind == "drive" and drive.at < at + span and drive.at + drive.span > at:
                    at, span = _beside(drive, at, span)
            found.append(Between("free", at, span, begins=begins, ends=ends))
        return found


def _beside(drive: Between, at: int, span: int) -> tuple[int, int]:
    """Where the words of a free stretch stand; over the drive where its sides are too short."""
    behind = drive.at + drive.span
    before, after = (at, drive.at - at), (behind, at + span - behind)
    longest = max(after, before, key=lambda side: side[1])
    if longest[1] >= WORDS:
        return longest
    drive.is_quiet = True
    return at, span


def last_name(visit: Visit, who: User) -> str:
    """The other of two people."""
    other = visit.lead if visit.helper_id == who.pk else visit.helper
    return (other.last_name if other else "") or person(other)


def day_of(on: date, now: datetime) -> dict[str, object]:
    visits = with_what_is_asked(Visit.objects.on_day(on).standing().with_job())
    tables = CompanyTables.load()
    show_waiting(visits, now, tables.own_days)
    people = people_of(visits)
    plan = Plan.of(people, on, on, own=tables.own_days)
    hours, driving = hours_of(visits, plan.company), Driving.load(plan.company, tables)
    names = SiteTenure.objects.contacts({visit.job.site_id for visit in visits}, on)
    coming = coming_of(visits, plan, driving, now)
    day = Day(on, now, hours, plan, driving, Needs.load(tables), names, coming)
    rows = [day.row(who, visits) for who in people]
    wanted = wants_decision(coming, plan, day.needs, names)
    free = [(item.begins, item.ends) for row in rows for item in row.between if item.begins]
    return {
        "on": on,
        "today": company_day(now),
        "rows": rows,
        "hours": [(hour, n * 4) for n, hour in enumerate(hours)],
        "now": now,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "visits": visits,
        "wanted": wanted,
        "reasons": by_reason(wanted),
        "free": length_of((begins, ends) for begins, ends in free if ends),
        "holiday": holiday_on(on, plan.own),
        "now_at": now_at(on, hours, now),
        "nav": "day",
    }


def now_at(on: date, hours: range, now: datetime) -> int | None:
    """The quarter that runs, where it lies on the scale."""
    at = int((now - at_hour(on, hours.start)) // QUARTER)
    return at if 0 <= at < len(hours) * 4 else None


def hours_of(visits: list[Visit], company: Company) -> range:
    """Working hours, made longer where a visit begins earlier or ends later."""
    first, last = company.work_from_hour, company.work_until_hour
    for visit in visits:
        begins, ends = timezone.localtime(visit.starts_at), timezone.localtime(visit.ends_at)
        first = min(first, begins.hour)
        last = 24 if ends.date() > begins.date() else max(last, ends.hour + bool(ends.minute))
    return range(first, last)
