"""Who takes the visits of somebody who is away: for each, who could come and why, best first."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Count
from django.db.models.functions import TruncDate
from django.utils import timezone

from jobs.models import Absence, Company, Customer, FollowUp, Giving, SiteTenure, Visit, VisitTold
from jobs.models.company import company_day
from jobs.models.visits import QUARTER, quarters
from jobs.schedule.free_times import FreeTime, Taken, gaps, held_quarters
from jobs.schedule.needs import Needs
from jobs.schedule.working_time import Plan, span_words
from jobs.wording.names import person as name_of
from jobs.workflows.giving import keeps_hours, may_go_back

#: people offered for the day itself, and days after it that are looked at
OFFERED, DAYS_AFTER = 3, 7
ALONE = "alone"


@dataclass(frozen=True)
class Option:
    """Somebody who could come, with the reasons in words."""

    value: str
    who: str
    starts_at: datetime
    is_same_hours: bool
    reasons: tuple[str, ...] = ()
    other_day: date | None = None

    @property
    def said(self) -> str:
        begins = timezone.localtime(self.starts_at)
        day = f"{begins:%A %-d %B %Y}, " if self.other_day else ""
        hours = "same hours" if self.is_same_hours else "other hours: call"
        return ", ".join([f"{self.who}, {day}{begins:%H:%M}", hours, *self.reasons])


@dataclass
class Row:
    """One visit: what its customer was told, and who could take it."""

    visit: Visit
    contact: Customer | None = None
    told: VisitTold | None = None
    options: list[Option] = field(default_factory=list)
    promise: FollowUp | None = None
    #: nothing is marked: it may stay as it is
    is_left: bool = False
    #: of those who are told of visits, who cannot be written to
    unmailed: list[Customer] = field(default_factory=list)

    @property
    def is_mailed(self) -> bool:
        """Each who is told of visits gets a letter."""
        return self.contact is not None and not self.unmailed

    @property
    def first(self) -> Option | None:
        return self.options[0] if self.options else None

    @property
    def needs_call(self) -> bool:
        """Other hours than were told, or nobody to write to."""
        return not self.first or not self.first.is_same_hours or not self.is_mailed


@dataclass
class Day:
    """What is known of the day: read once for all visits."""

    away: User
    on: date
    now: datetime
    people: list[User]
    taken: Taken
    needs: Needs
    #: (house, person) of work that was done there, (town, person) of that day
    knows: set[tuple[int, int]]
    near: set[tuple[str, int]]


def page_of(
    absence: Absence, people: list[User], asked: date | None, now: datetime
) -> tuple[dict[str, object], list[Row]]:
    """The visits of one day of the absence; the other days are links with their numbers."""
    rows = absence.visits().filter(status__in=Giving.MAY_GO_BACK)
    days: dict[date, int] = dict(
        rows.order_by()
        .annotate(day=TruncDate("starts_at"))
        .values_list("day")
        .annotate(number=Count("pk"))
        .order_by("day")
    )
    first = next(iter(days), company_day(absence.starts_at))
    on = asked if asked and asked in days else first
    of_day = list(rows.on_day(on).with_job().order_by("starts_at"))
    others = [who for who in people if who.pk != absence.person_id]
    shown = rows_of(absence.person, of_day, others, now)
    return {
        "absence": absence,
        "span": span_words(absence),
        "is_over": absence.ends_at <= now,
        "today": company_day(now),
        "rows": shown,
        "on": on,
        "days": [(day, number) for day, number in days.items() if day != on],
        "under_way": list(
            absence.visits()
            .filter(status__in=[Visit.Status.EN_ROUTE, Visit.Status.ON_SITE])
            .with_job()
        ),
    }, shown


def rows_of(away: User, visits: list[Visit], people: list[User], now: datetime) -> list[Row]:
    """With options; what is proposed for one visit is not proposed for the next."""
    if not visits:
        return []
    sites = {visit.job.site_id for visit in visits}
    tellings = VisitTold.objects.filter(visit__in=visits).order_by("at", "pk")
    told = {row.visit_id: row for row in tellings}
    hearing = _hearing(sites)
    promises = FollowUp.objects.filter(visit__in=visits).order_by("-window_until")
    carried = {row.visit_id: row for row in promises}
    day, rows = _day(away, visits, people, now), []
    for visit in visits:
        hear = hearing.get(visit.job.site_id) or list(filter(None, [visit.job.customer]))
        contact = hear[0] if hear else None
        row = Row(visit, contact, told.get(visit.pk), promise=carried.get(visit.pk))
        row.unmailed = [each for each in hear if not each.can_be_mailed]
        row.options = _options(row, day)
        if row.first and row.first.value != ALONE:
            _hold(row.first, visit, day)
        rows.append(row)
    return rows


def _hearing(sites: set[int]) -> dict[int, list[Customer]]:
    """Of each house everybody who is told of visits, who is called first at the head."""
    rows = SiteTenure.objects.open().told_of_visits().filter(site__in=sites)
    found: dict[int, list[Customer]] = {}
    for row in rows.select_related("customer").order_by("-is_contact", "from_on", "pk"):
        found.setdefault(row.site_id, []).append(row.customer)
    return found


def _day(away: User, visits: list[Visit], people: list[User], now: datetime) -> Day:
    on = company_day(visits[0].starts_at)
    last = on + timedelta(days=DAYS_AFTER)
    taken = Taken(Plan.of(people, on, last, Company.load()), held_quarters(people, on, last))
    sites = {visit.job.site_id for visit in visits}
    done = Visit.objects.filter(job__site__in=sites, status=Visit.Status.CLOSED)
    knows = {
        (site, who)
        for site, *both in done.values_list("job__site", "lead", "helper")
        for who in both
        if who
    }
    that_day = Visit.objects.on_day(on).standing()
    near = {
        (town, who)
        for town, *both in that_day.values_list("job__site__town", "lead", "helper")
        for who in both
        if who
    }
    return Day(away, on, now, people, taken, Needs.load(), knows, near)


def _options(row: Row, day: Day) -> list[Option]:
    visit = row.visit
    if visit.lead_id != day.away.pk:
        return _helpers(visit, day)
    found = [option for who in day.people if (option := _that_day(visit, who, day))]
    found.sort(key=lambda pair: pair[0])
    options = [option for _, option in found[:OFFERED]]
    later = _other_day(row, day)
    return [*options, later] if later else options


def _helpers(visit: Visit, day: Day) -> list[Option]:
    """Who is away only helps: somebody else does at the same time, or nobody."""
    options = []
    for who in day.people:
        free = day.taken.is_free(who.pk, visit.starts_at, visit.ends_at)
        is_other = who.pk != visit.lead_id and _may(who, visit, day.on, day)
        if free and is_other and visit.starts_at >= day.now:
            value = FreeTime(who, visit.starts_at, visit.ends_at).value
            options.append(Option(value, f"{name_of(who)} helps", visit.starts_at, True))
    lacking = day.needs.lacking(visit.job.kind, (visit.lead_id,), day.on)
    if not lacking:
        said = f"{name_of(visit.lead)} alone"
        options.append(Option(ALONE, said, visit.starts_at, True))
    return options[:OFFERED] if len(options) <= OFFERED else [*options[:OFFERED], options[-1]]


def _may(who: User, visit: Visit, on: date, day: Day) -> bool:
    """Holds what the work needs, or comes with somebody who does."""
    other = visit.helper_id if visit.lead_id == day.away.pk else visit.lead_id
    return not day.needs.lacking(visit.job.kind, (who.pk, other), on)


def _that_day(visit: Visit, who: User, day: Day) -> tuple[tuple[object, ...], Option] | None:
    """The best beginning of one person on that day, with what puts it before others."""
    if not _may(who, visit, day.on, day):
        return None
    free = _beginning(visit, who, day)
    if free is None:
        return None
    same = keeps_hours(visit, free.starts_at)
    knows = (visit.job.site_id, who.pk) in day.knows
    near = (visit.job.site.town, who.pk) in day.near
    load = sum(person == who.pk for person, at in day.taken.held if company_day(at) == day.on)
    reasons = [
        "knows the house" if knows else "",
        f"in {visit.job.site.town} that day" if near else "",
        "helps there already" if who.pk == visit.helper_id else "",
    ]
    said = tuple(reason for reason in reasons if reason)
    option = Option(free.value, name_of(who), free.starts_at, same, said)
    far = abs(free.starts_at - visit.starts_at)
    return (not same, not knows, not near, far, load, who.last_name, who.pk), option


def _beginning(visit: Visit, who: User, day: Day) -> FreeTime | None:
    """The same time, else the nearest one that keeps the hours told, else the nearest."""
    length = visit.ends_at - visit.starts_at
    same = FreeTime(who, visit.starts_at, visit.ends_at)
    ahead = visit.starts_at >= day.now
    if ahead and (
        who.pk == visit.helper_id or day.taken.is_free(who.pk, visit.starts_at, visit.ends_at)
    ):
        return same
    times = gaps(who, day.on, length, day.taken, day.now, QUARTER)
    return min(
        times,
        key=lambda free: (
            not keeps_hours(visit, free.starts_at),
            abs(free.starts_at - visit.starts_at),
        ),
        default=None,
    )


def _other_day(row: Row, day: Day) -> Option | None:
    """The first opening on a day after it on which somebody works; who knows the house first."""
    visit = row.visit
    length = visit.ends_at - visit.starts_at
    order = sorted(
        day.people, key=lambda who: ((visit.job.site_id, who.pk) not in day.knows, who.last_name)
    )
    for number in range(1, DAYS_AFTER + 1):
        on = day.on + timedelta(days=number)
        for who in order:
            free = next(gaps(who, on, length, day.taken, day.now), None)
            if free and _may(who, visit, on, day):
                due = row.promise.window_until if row.promise else None
                late = (
                    (f"after its window, which ends {due:%-d %B %Y}",) if due and due < on else ()
                )
                return Option(free.value, name_of(who), free.starts_at, False, late, on)
    return None


def _hold(option: Option, visit: Visit, day: Day) -> None:
    person = int(option.value.partition("|")[0])
    ends_at = option.starts_at + (visit.ends_at - visit.starts_at)
    day.taken.held |= {(person, at) for at in quarters(option.starts_at, ends_at)}


def said_of_giving(given: list[Visit]) -> str:
    """What the act did, to whoever pressed the button."""
    if not given:
        return "Nothing was chosen: all of them stay on the worklist."
    names = ", ".join(sorted({name_of(visit.lead) for visit in given}))
    return f"{len(given)} visit{'s' if len(given) > 1 else ''} given: {names}."


def back_of(absence: Absence, now: datetime) -> tuple[dict[str, object], list[Giving]]:
    """What would be this person's again."""
    givings = may_go_back(absence, now)
    return {
        "absence": absence,
        "span": span_words(absence),
        "givings": givings,
        "left": absence.visits().count(),
        "today": company_day(now),
    }, givings
