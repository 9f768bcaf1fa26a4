"""What the page of a visit shows, and who is free on a day."""

from __future__ import annotations

from datetime import date

from jobs.models import ChecklistRecord, Company, FollowUp, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import day_table, technicians

from .schedule import alerts_of


def context_of(visit: Visit, *, today: date) -> dict[str, object]:
    job, site = visit.job_id, visit.job.site_id
    return {
        "visit": visit,
        "today": today,
        "tenures": SiteTenure.objects.at(company_day(visit.starts_at)).of_site(site),
        "alerts": alerts_of([site]).get(site, []),
        "promises": FollowUp.objects.filter(visit=visit).select_related("rule"),
        "made": FollowUp.objects.filter(from_visit=visit).select_related("rule"),
        "attempts": visit.attempts.select_related("by"),
        "others": Visit.objects.filter(job=job).exclude(pk=visit.pk).select_related("lead"),
        "records": ChecklistRecord.objects.filter(job=job).select_related("template"),
    }


def free_on(day: date) -> dict[str, object]:
    """Who is free in which hours of a day: the table beside the form."""
    company = Company.load()
    return {
        "day": day,
        "free": day_table(day, technicians(), company),
        "hours": range(company.work_from_hour, company.work_until_hour),
    }
