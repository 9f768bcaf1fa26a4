"""What the page of a visit shows, and who is free on a day."""

from __future__ import annotations

from datetime import date, datetime

from django.db.models import Q
from django.utils import timezone

from jobs.models import (
    ChecklistRecord,
    Company,
    FollowUp,
    SiteTenure,
    Visit,
    VisitRequest,
    VisitWait,
)
from jobs.models.company import company_day
from jobs.schedule.free_times import day_table, technicians
from jobs.schedule.waiting import show_waiting, waiting_of
from jobs.wording.names import person

from . import photos
from .clocks import clock_changed, told_there
from .left_words import words_left
from .schedule import alerts_of
from .telling import known_of


def context_of(visit: Visit, *, now: datetime) -> dict[str, object]:
    today = company_day(now)
    job, site = visit.job_id, visit.job.site_id
    return {
        "visit": visit,
        "today": today,
        "known": known_of(visit),
        "told_there": told_there(visit),
        "clock_changed": clock_changed(visit) if visit.is_to_come else "",
        "requests": VisitRequest.objects.filter(visit=visit).select_related("handled_by"),
        "asked": requests_of(visit)["asked"],
        "left": words_left([job]).get(job) if visit.is_to_come else None,
        "tenures": SiteTenure.objects.at(company_day(visit.starts_at)).to_call(site),
        "alerts": alerts_of([site]).get(site, []),
        "promises": FollowUp.objects.filter(visit=visit).select_related("terms"),
        "made": FollowUp.objects.filter(from_visit=visit).select_related("terms"),
        "attempts": visit.attempts.select_related("by"),
        "others": Visit.objects.filter(job=job).exclude(pk=visit.pk).select_related("lead"),
        "coming": _coming(visit, now),
        **waits_of(visit, now),
        **photos.split(photos.by_visit([visit])[visit.pk]),
        "records": ChecklistRecord.objects.filter(job=job).select_related("template"),
    }


def waits_of(visit: Visit, now: datetime) -> dict[str, object]:
    """What it waits for, what it waited for, and what waits for it."""
    rows = VisitWait.objects.filter(Q(visit=visit) | Q(after=visit)).select_related(
        "visit__job__site", "ended_by"
    )
    ended = [row for row in rows if row.ended_at and row.visit_id == visit.pk]
    standing = [row for row in rows if not row.ended_at and row.visit.is_only_held]
    waits = any(row.visit_id == visit.pk for row in standing)
    return {
        "waiting": waiting_of(visit, now) if waits else None,
        "waited": ended,
        "followers": sorted(
            (row for row in standing if row.after_id == visit.pk),
            key=lambda row: row.visit.starts_at,
        ),
    }


def _coming(visit: Visit, now: datetime) -> list[Visit]:
    """The next visits to this house besides this one."""
    there = Visit.objects.filter(job__site=visit.job.site_id).to_come().exclude(pk=visit.pk)
    rows = list(there.with_job().order_by("starts_at")[:3])
    show_waiting(rows, now)
    return rows


def requests_of(visit: Visit) -> dict[str, object]:
    """What the customer asks and nobody has handled: `asked`, and the `newest` of it."""
    asked = list(VisitRequest.objects.open().filter(visit=visit))
    return {"asked": asked, "newest": max((request.pk for request in asked), default=0)}


def free_on(day: date) -> dict[str, object]:
    """Who is free in which hours of a day: the table beside the form."""
    company = Company.load()
    return {
        "day": day,
        "free": day_table(day, technicians(), company),
        "hours": range(company.work_from_hour, company.work_until_hour),
    }


def said_of_booking(visit: Visit, now: datetime) -> str:
    begins = timezone.localtime(visit.starts_at)
    said = f"Booked: {begins:%A %-d %B %Y, %H:%M}, {person(visit.lead)}."
    waiting = waiting_of(visit, now)
    return f"{said} Only held, nobody is told: {waiting.said}." if waiting else said


def said_of_move(before: Visit, after: Visit) -> str:
    """What moving did, to whoever pressed the button: `before` is the visit as it was opened."""
    if after.version == before.version:
        return "Nothing was changed, and nobody is written to."
    if after.sequence == before.sequence:
        return "Changed. The customer was told the same day, hours and person: no letter."
    begins = timezone.localtime(after.starts_at)
    told = [timezone.localtime(at) for at in (after.arrive_from, after.arrive_until)]
    return (
        f"Now {begins:%A %-d %B %Y, %H:%M}, {person(after.lead)}. "
        f"To tell the customer: {told[0]:%H:%M} to {told[1]:%H:%M}."
    )
