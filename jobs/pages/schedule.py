"""The day and the week: persons by hours, what waits for a decision, and the sheets to print."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Prefetch
from django.utils import timezone

from equipment.models import SpecialUse, Well
from jobs.models import Company, DoNotUse, SiteTenure, Visit, VisitRequest
from jobs.models.company import company_day
from jobs.models.visits import QUARTER
from jobs.schedule.free_times import at_hour, technicians

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


def day_of(on: date, now: datetime) -> dict[str, object]:
    requests = Prefetch("requests", VisitRequest.objects.open())
    visits = list(Visit.objects.on_day(on).standing().with_job().prefetch_related(requests))
    hours = hours_of(visits, Company.load())
    return {
        "on": on,
        "today": company_day(now),
        "rows": [person_row(person, visits, on, hours, now) for person in people_of(visits)],
        "hours": hours,
        "now": now,
        "quarters": len(hours) * 4,
        "before": on - timedelta(days=1),
        "after": on + timedelta(days=1),
        "visits": visits,
        "names": SiteTenure.objects.contacts({visit.job.site_id for visit in visits}, on),
        "wanted": wants_decision(visits, now),
        "minutes_now": (now - at_hour(on, hours.start)).total_seconds() / 60,
        "minutes": len(hours) * 60,
    }


def week_of(on: date, now: datetime) -> dict[str, object]:
    monday = on - timedelta(days=on.weekday())
    days = [monday + timedelta(days=n) for n in range(7)]
    start, end = at_hour(monday, 0), at_hour(monday + timedelta(days=7), 0)
    rows = Visit.objects.filter(starts_at__gte=start, starts_at__lt=end)
    visits = list(rows.standing().with_job())
    return {
        "days": days,
        "table": [week_row(person, visits, days) for person in people_of(visits)],
        "nav": "day",
        "today": company_day(now),
        "before": monday - timedelta(days=7),
        "after": monday + timedelta(days=7),
        "count": len(visits),
    }


def sheets_of(on: date, chosen: str) -> dict[str, object]:
    """One sheet for each person who has a visit that day; `chosen` narrows it to one."""
    visits = list(Visit.objects.on_day(on).standing().with_job())
    people = [one for one in people_of(visits) if not chosen or str(one.pk) == chosen]
    sheets = [{"person": one, "visits": own} for one in people if (own := visits_of(one, visits))]
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


def person_row(
    person: User, visits: list[Visit], on: date, hours: range, now: datetime
) -> PersonRow:
    """Gaps and visits of one person as cells that span their quarters."""
    row = PersonRow(person)
    row.visits = visits_of(person, visits)
    begin, place, total = at_hour(on, hours.start), 0, len(hours) * 4
    for visit in row.visits:
        start = max(place, int((visit.starts_at - begin) // QUARTER))
        end = min(total, -int((begin - visit.ends_at) // QUARTER))
        if start > place:
            row.cells.append(Cell(start - place))
        word, look = said_of(visit, now)
        row.cells.append(Cell(max(1, end - start), visit, word, look))
        place = start + max(1, end - start)
    if place < total:
        row.cells.append(Cell(total - place))
    return row


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


def wants_decision(visits: list[Visit], now: datetime) -> list[tuple[Visit, str]]:
    """Visits somebody in the office must look at today, with why."""
    found = []
    for visit in visits:
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


def week_row(person: User, visits: list[Visit], days: list[date]) -> dict[str, object]:
    own = visits_of(person, visits)
    return {"person": person, "days": [[v for v in own if on_day(v, day)] for day in days]}


def on_day(visit: Visit, day: date) -> bool:
    return timezone.localtime(visit.starts_at).date() == day
