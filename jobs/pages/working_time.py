"""Who works when: hours in words, time away, licences that end, holidays."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User

from jobs.models import Absence, Company, CompanyDay, Skill, WorkHours, WorkNeed
from jobs.models.company import company_day
from jobs.schedule.free_times import technicians
from jobs.schedule.working_days import holidays_from
from jobs.schedule.working_time import span_words
from jobs.workflows.working_time import WEEKDAYS, Span, usual_week

#: holidays so many days ahead are shown
AHEAD_DAYS = 400


@dataclass
class Row:
    """One person: hours in words where they are their own, time away, licences that end."""

    person: User
    hours: list[str] = field(default_factory=list)
    lunch: str = ""
    #: each with its days in words
    away: list[tuple[Absence, str]] = field(default_factory=list)
    ending: list[Skill] = field(default_factory=list)


def people_of(now: datetime) -> dict[str, object]:
    today, company = company_day(now), Company.load()
    rows = [Row(person) for person in technicians()]
    by_person = {row.person.pk: row for row in rows}
    lead = timedelta(days=company.licence_lead_days)
    ends_soon = Skill.objects.to_renew(today, lead).filter(person__in=by_person)
    for skill in ends_soon.order_by("expires_on"):
        assert skill.person_id
        by_person[skill.person_id].ending.append(skill)
    away = Absence.objects.standing().of(by_person).filter(ends_at__gt=now)
    for absence in away:
        by_person[absence.person_id].away.append((absence, span_words(absence)))
    own: dict[int, dict[int, Span]] = {}
    for hours in WorkHours.objects.filter(person__in=by_person):
        begins, ends = hours.works_from, hours.works_until
        span = (begins, ends) if begins and ends else None
        own.setdefault(hours.person_id, {})[hours.weekday] = span
    for row in rows:
        row.hours = _said(own.get(row.person.pk, {}), company)
        profile = getattr(row.person, "profile", None)
        if profile and profile.lunch_from and profile.lunch_until:
            row.lunch = f"{profile.lunch_from:%H:%M} to {profile.lunch_until:%H:%M}"
    return {
        "rows": rows,
        "today": today,
        "company": company,
        "holidays": holidays_from(today, AHEAD_DAYS),
    }


def _said(own: dict[int, Span], company: Company) -> list[str]:
    """Days with the same hours stand together: Monday to Thursday 7:00 to 15:00."""
    if not own:
        return []
    days = [own.get(number, usual) for number, usual in enumerate(usual_week(company))]
    said, first = [], 0
    for number in range(1, 8):
        if number < 7 and days[number] == days[first]:
            continue
        span = days[first]
        name = WEEKDAYS[first][:3]
        if number - first > 1:
            name += f" to {WEEKDAYS[number - 1][:3]}"
        if span:
            said.append(f"{name} {span[0]:%H:%M} to {span[1]:%H:%M}")
        first = number
    return said or ["no day"]


def days_of(today: date) -> dict[str, object]:
    return {
        "own": CompanyDay.objects.filter(day__gte=today),
        "holidays": holidays_from(today, AHEAD_DAYS),
        "today": today,
    }


def needs_kept() -> dict[str, tuple[str, int]]:
    return {row.kind: (row.licence, row.people) for row in WorkNeed.objects.all()}


def licences_on_file() -> list[str]:
    """Names of those in use, for what work may need."""
    return list(Skill.objects.in_use().order_by("name").values_list("name", flat=True).distinct())
