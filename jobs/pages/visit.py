"""What the page of a visit shows, and who is free on a day."""

from __future__ import annotations

from collections.abc import Collection
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
from jobs.schedule.waiting import states_of, waiting_of
from jobs.wording.names import person

from . import photos
from .clocks import clock_changed, told_there
from .left_words import newest_word
from .schedule import alerts_of
from .telling import known_of

#: visits to come that a page of one shows besides it
MOST_COMING = 3


def context_of(visit: Visit, *, now: datetime) -> dict[str, object]:
    today = company_day(now)
    job, site = visit.job_id, visit.job.site_id
    contacts = list(SiteTenure.objects.at(company_day(visit.starts_at)).to_call(site))
    requests = list(VisitRequest.objects.filter(visit=visit).select_related("handled_by"))
    others = _others(visit)
    of_job = [row for row in others if row.job_id == job]
    coming = [row for row in others if row.is_to_come][:MOST_COMING]
    kept, made = _promises(visit)
    return {
        "visit": visit,
        "today": today,
        "known": known_of(visit, contacts),
        "told_there": told_there(visit),
        "clock_changed": clock_changed(visit) if visit.is_to_come else "",
        "requests": requests,
        "asked": [row for row in requests if row.handled_at is None],
        "left": newest_word(of_job) if visit.is_to_come else None,
        "tenures": contacts,
        "alerts": alerts_of([site]).get(site, []),
        "promises": kept,
        "made": made,
        "attempts": visit.attempts.select_related("by"),
        "others": of_job,
        "coming": coming,
        **waits_of(visit, now, coming),
        **photos.split(photos.by_visit([visit])[visit.pk]),
        "records": ChecklistRecord.objects.filter(job=job).select_related("template"),
    }


def waits_of(visit: Visit, now: datetime, coming: Collection[Visit] = ()) -> dict[str, object]:
    """What it waits for, what it waited for, and what waits for it; `coming` say theirs too."""
    about = Q(visit__in=[visit.pk, *(row.pk for row in coming)]) | Q(after=visit)
    rows = VisitWait.objects.filter(about).with_visits().select_related("ended_by")
    ended = [row for row in rows if row.ended_at and row.visit_id == visit.pk]
    standing = [row for row in rows if not row.ended_at and row.visit.is_only_held]
    states = states_of(standing, now)
    for row in coming:
        row.waiting = states.get(row.pk)
    return {
        "waiting": states.get(visit.pk),
        "waited": ended,
        "followers": sorted(
            (row for row in standing if row.after_id == visit.pk),
            key=lambda row: row.visit.starts_at,
        ),
    }


def _others(visit: Visit) -> list[Visit]:
    """Besides this one: those of its job, and those that are booked for its house."""
    there = Visit.objects.filter(job__site=visit.job.site_id).exclude(pk=visit.pk)
    wanted = there.filter(Q(job=visit.job_id) | Q(status__in=Visit.TO_COME))
    return list(wanted.with_job().order_by("starts_at", "pk"))


def _promises(visit: Visit) -> tuple[list[FollowUp], list[FollowUp]]:
    """What it keeps, and what it promised."""
    rows = FollowUp.objects.filter(Q(visit=visit) | Q(from_visit=visit)).select_related("terms")
    kept = [row for row in rows if row.visit_id == visit.pk]
    return kept, [row for row in rows if row.from_visit_id == visit.pk]


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
