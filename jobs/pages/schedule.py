"""The day and the week: persons by hours, what waits for a decision, and the sheets to print."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import groupby

from django.contrib.auth.models import User
from django.db.models import Prefetch
from django.utils import timezone

from equipment.models import SpecialUse, Well
from jobs.models import Absence, Company, DoNotUse, SiteTenure, Visit, VisitRequest
from jobs.models.company import company_day
from jobs.models.visits import QUARTER
from jobs.schedule.free_times import at_hour, technicians
from jobs.schedule.needs import Needs
from jobs.schedule.working_days import holiday_on
from jobs.schedule.working_time import Plan, TimesAway
from jobs.wording.names import person

from .left_words import words_left


@dataclass
class Cell:
    """So many quarters of one person: a visit, or nothing."""

    quarters: int
    visit: Visit | None = None
    word: str = ""
    look: str = ""


@dataclass
class PersonRow:
    person: User
    cells: list[Cell] = field(default_factory=list)
    visits: list[Visit] = field(default_factory=list)
    absence: Absence | None = None


def day_of(on: date, now: datetime) -> dict[str, object]:
    requests = Prefetch("requests", VisitRequest.objects.open())
    visits = list(Visit.objects.on_day(on).standing().with_job().prefetch_related(requests))
    people = people_of(visits)
    plan = Plan.of(people, on, on)
    hours = hours_of(visits, plan.company)
    return {
        "on": on,
        "today": company_day(now),
        "rows": [person_row(person, visits, Shown(on, hours, plan), now) for person in people],
        "hours": hours,
        "now": now,
        "quarters": len(hours) * 4,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "visits": visits,
        "names": SiteTenure.objects.contacts({visit.job.site_id for visit in visits}, on),
        "wanted": wants_decision(visits, plan, now),
        "holiday": holiday_on(on, plan.own),
        "minutes_now": (now - at_hour(on, hours.start)).total_seconds() / 60,
        "minutes": len(hours) * 60,
    }


def sheets_of(on: date, chosen: str) -> dict[str, object]:
    """One sheet for each person who has a visit that day; `chosen` narrows it to one."""
    visits = list(Visit.objects.on_day(on).standing().with_job())
    people = [one for one in people_of(visits) if not chosen or str(one.pk) == chosen]
    times, span = TimesAway.of(people, on, on), (at_hour(on, 0), at_hour(on, 24))
    away = [one for one in people if times.first(one.pk, *span)]
    sheets = [
        {"person": one, "visits": own, "away": one in away}
        for one in people
        if (own := visits_of(one, visits)) or one in away
    ]
    return {
        "on": on,
        "nav": "day",
        "sheets": sheets,
        "alerts": alerts_of(visit.job.site_id for visit in visits),
        "left_words": words_left({visit.job_id for visit in visits}),
        "names": SiteTenure.objects.contacts({visit.job.site_id for visit in visits}, on),
    }


def people_of(visits: list[Visit]) -> list[User]:
    """All technicians, and whoever else leads a visit."""
    people = {row.pk: row for row in technicians()}
    for visit in visits:
        for who in filter(None, (visit.lead, visit.helper)):
            people.setdefault(who.pk, who)
    return list(people.values())


def visits_of(person: User, visits: list[Visit]) -> list[Visit]:
    """Those this person leads or helps on."""
    return [visit for visit in visits if person.pk in (visit.lead_id, visit.helper_id)]


def hours_of(visits: list[Visit], company: Company) -> range:
    """Working hours, made longer where a visit begins earlier or ends later."""
    first, last = company.work_from_hour, company.work_until_hour
    for visit in visits:
        begins, ends = timezone.localtime(visit.starts_at), timezone.localtime(visit.ends_at)
        first = min(first, begins.hour)
        last = 24 if ends.date() > begins.date() else max(last, ends.hour + bool(ends.minute))
    return range(first, last)


@dataclass(frozen=True)
class Shown:
    """A day by its hours, with who is there."""

    on: date
    hours: range
    plan: Plan


def person_row(person: User, visits: list[Visit], shown: Shown, now: datetime) -> PersonRow:
    """Gaps and visits of one person as cells that span their quarters."""
    row = PersonRow(person)
    row.visits = visits_of(person, visits)
    begin, place, total = at_hour(shown.on, shown.hours.start), 0, len(shown.hours) * 4
    words = words_of_day(person, shown.plan, [begin + n * QUARTER for n in range(total)])
    row.absence = shown.plan.away(person.pk, begin, begin + total * QUARTER)
    for visit in row.visits:
        start = max(place, int((visit.starts_at - begin) // QUARTER))
        end = min(total, -int((begin - visit.ends_at) // QUARTER))
        row.cells += gaps_of(words[place:start])
        word, look = said_of(visit, now)
        row.cells.append(Cell(max(1, end - start), visit, word, look))
        place = start + max(1, end - start)
    row.cells += gaps_of(words[place:])
    return row


def words_of_day(person: User, plan: Plan, quarters: list[datetime]) -> list[str]:
    """For each quarter why nobody is there: away or lunch; "" else. Other hours are no word."""
    words = [plan.word(person.pk, at, at + QUARTER) for at in quarters]
    return ["" if word == "off" else word for word in words]


def gaps_of(words: list[str]) -> list[Cell]:
    """Quarters in a row with the same word are one cell."""
    return [Cell(len(list(run)), word=word) for word, run in groupby(words)]


def said_of(visit: Visit, now: datetime) -> tuple[str, str]:
    """State in words, and the look that goes with it."""
    if visit.outcome == Visit.Outcome.NO_ACCESS:
        return "no access", "no"
    if visit.status == Visit.Status.CLOSED:
        return visit.get_outcome_display(), "closed"
    if visit.status == Visit.Status.ON_SITE and visit.arrived_at:
        return f"on site since {timezone.localtime(visit.arrived_at):%H:%M}", "here"
    if visit.status == Visit.Status.EN_ROUTE:
        return "on the way", "here"
    if now > visit.arrive_until:
        return (
            f"{int((now - visit.arrive_until).total_seconds() // 60)} min past the window",
            "late-v",
        )
    if visit.status in (Visit.Status.TENTATIVE, Visit.Status.REQUESTED):
        return visit.get_status_display(), "tentative"
    return ("customer confirmed" if visit.customer_confirmed_at else ""), ""


def alerts_of(sites: Iterable[int]) -> dict[int, list[str]]:
    """What can hurt somebody at a house: open notices, home dialysis, a well head in a pit."""
    found: dict[int, list[str]] = {}
    sites = list(sites)
    for site, notices in DoNotUse.objects.standing().by_house(sites).items():
        found[site] = [f"{row.title_at(site)}: {row.reason}." for row in notices]
    for use in SpecialUse.objects.filter(site__in=sites, ended_on=None):
        if use.blocks_oxidant:
            said = "Home dialysis, and the clinic has not been told: no disinfection, no oxidant."
            found.setdefault(use.site_id, []).append(said)
    for well in Well.objects.filter(site__in=sites, head_in_pit=True):
        found.setdefault(well.site_id, []).append("Well head in a pit: nobody goes in.")
    return found


def wants_decision(visits: list[Visit], plan: Plan, now: datetime) -> list[tuple[Visit, str]]:
    """Visits somebody in the office must look at today, with why."""
    found, needs = [], Needs.load()
    for visit in visits:
        if visit.is_to_come and (said := not_there(visit, plan, needs)):
            found.append((visit, said))
            continue
        if visit.outcome == Visit.Outcome.NO_ACCESS:
            found.append((visit, "no access; what was promised is due again"))
        elif visit.is_to_come and visit.requests.all():
            asked = "; ".join(request.said for request in visit.requests.all())
            found.append((visit, f"customer {asked}"))
        elif said_of(visit, now)[1] == "late-v":
            found.append((visit, "nobody has arrived and the window is over"))
        elif visit.status in (Visit.Status.TENTATIVE, Visit.Status.REQUESTED):
            found.append((visit, "not confirmed"))
    return found


def not_there(visit: Visit, plan: Plan, needs: Needs) -> str:
    """Who is away, or which licence nobody who comes holds on that day."""
    for who in filter(None, (visit.lead, visit.helper)):
        if plan.away(who.pk, visit.starts_at, visit.ends_at):
            return f"{person(who)} is away: somebody else must take it"
    people, day = (visit.lead_id, visit.helper_id), company_day(visit.starts_at)
    lacking = needs.lacking(visit.job.kind, people, day)
    return f"nobody who comes holds “{lacking}” on that day" if lacking else ""
