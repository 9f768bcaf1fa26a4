"""The day and the week: persons by hours, and the sheets to print."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.http import HttpResponse
from django.shortcuts import render
from django.utils import timezone

from equipment.models import SpecialUse, Well
from jobs.access import allow
from jobs.http import StaffRequest, read_day
from jobs.models import Company, Customer, DoNotUse, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour, technicians

QUARTER = timedelta(minutes=15)


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


def asked_day(request: StaffRequest) -> date:
    """?on=2026-06-24, else today."""
    return read_day(request.GET.get("on")) or company_day(timezone.now())


@allow("dispatcher")
def day(request: StaffRequest) -> HttpResponse:
    now, on = timezone.now(), asked_day(request)
    visits = list(Visit.objects.on_day(on).standing().with_job())
    people = people_of(visits)
    hours = hours_of(visits, Company.load())
    rows = [person_row(person, visits, on, hours, now) for person in people]
    start = at_hour(on, hours.start)
    return render(
        request,
        "visits/day.html",
        {
            "on": on,
            "today": company_day(now),
            "rows": rows,
            "hours": hours,
            "now": now,
            "quarters": len(hours) * 4,
            "before": on - timedelta(days=1),
            "after": on + timedelta(days=1),
            "visits": visits,
            "names": contacts_of(visits, on),
            "wanted": wants_decision(visits, now),
            "minutes_now": (now - start).total_seconds() / 60,
            "minutes": len(hours) * 60,
        },
    )


def people_of(visits: list[Visit]) -> list[User]:
    """All technicians, and whoever else leads a visit."""
    people = {row.pk: row for row in technicians()}
    for visit in visits:
        for who in filter(None, (visit.lead, visit.helper)):
            people.setdefault(who.pk, who)
    return list(people.values())


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
    row.visits = [v for v in visits if person.pk in (v.lead_id, v.helper_id)]
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


def contacts_of(visits: list[Visit], on: date) -> dict[int, Customer]:
    """Who is met at each house, in one query."""
    sites = {visit.job.site_id for visit in visits}
    rows = SiteTenure.objects.at(on).filter(site__in=sites).select_related("customer")
    return {row.site_id: row.customer for row in rows.order_by("is_contact", "from_on")}


def alerts_of(sites: Iterable[int]) -> dict[int, list[str]]:
    """What can hurt somebody at a house: open notices, home dialysis, a well head in a pit."""
    found: dict[int, list[str]] = {}
    sites = list(sites)
    for notice in DoNotUse.objects.standing().filter(site__in=sites):
        said = f"{notice.get_level_display()}: {notice.reason}."
        found.setdefault(notice.site_id, []).append(said)
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
        elif visit.move_asked_at and visit.is_to_come:
            found.append((visit, f"customer asks to move: {visit.move_asked_note or 'no remark'}"))
        elif said_of(visit, now)[1] == "late-v":
            found.append((visit, "nobody has arrived and the window is over"))
        elif visit.status in (Visit.Status.TENTATIVE, Visit.Status.REQUESTED):
            found.append((visit, "not confirmed"))
    return found


@allow("dispatcher")
def week(request: StaffRequest) -> HttpResponse:
    on = asked_day(request)
    monday = on - timedelta(days=on.weekday())
    days = [monday + timedelta(days=n) for n in range(7)]
    start, end = at_hour(monday, 0), at_hour(monday + timedelta(days=7), 0)
    visits = list(
        Visit.objects.filter(starts_at__gte=start, starts_at__lt=end).standing().with_job()
    )
    table = [
        {
            "person": person,
            "days": [
                [v for v in visits if person.pk in (v.lead_id, v.helper_id) and on_day(v, day)]
                for day in days
            ],
        }
        for person in people_of(visits)
    ]
    return render(
        request,
        "visits/week.html",
        {
            "days": days,
            "table": table,
            "nav": "day",
            "today": company_day(timezone.now()),
            "before": monday - timedelta(days=7),
            "after": monday + timedelta(days=7),
            "count": len(visits),
        },
    )


def on_day(visit: Visit, day: date) -> bool:
    return timezone.localtime(visit.starts_at).date() == day


@allow("dispatcher")
def day_sheet(request: StaffRequest) -> HttpResponse:
    """One sheet for each person, to print; ?person= narrows it to one."""
    on = asked_day(request)
    visits = list(Visit.objects.on_day(on).standing().with_job())
    chosen = request.GET.get("person", "")
    sheets = [
        {"person": person, "visits": [v for v in visits if person.pk in (v.lead_id, v.helper_id)]}
        for person in people_of(visits)
        if not chosen or str(person.pk) == chosen
    ]
    return render(
        request,
        "visits/day_sheet.html",
        {
            "on": on,
            "nav": "day",
            "sheets": [sheet for sheet in sheets if sheet["visits"]],
            "alerts": alerts_of(visit.job.site_id for visit in visits),
            "names": contacts_of(visits, on),
        },
    )
