"""Invoices of the demo: what was billed, what is not yet, what nothing was charged for."""

from __future__ import annotations

from datetime import timedelta

from jobs.models import Company, Job
from jobs.models.company import company_day
from jobs.reports.charges import unbilled_rows
from jobs.workflows.charges import Charge, charge_job, charge_of
from jobs.workflows.owner_edits import save_owned, version_of

from .cast import OFFICE_HOUR, Told, World

NEXT_DAY = timedelta(days=1)


def billed(world: World, act: Told) -> None:
    """References are kept from a day on; all but the newest work stands on an invoice."""
    company = Company.load()
    company.billed_from = world.calendar.day(act["from"])
    begun = world.calendar.moment(act["from"], OFFICE_HOUR)
    save_owned(row=company, seen=version_of(company), by=world.owner, now=begun)
    last = world.calendar.moment(act["until"], OFFICE_HOUR)
    for number, job in enumerate(unbilled_rows().filter(completed_at__lt=last), 1):
        dollars = act["dollars"].get(job.kind, act["dollars"]["other"])
        done_on = company_day(job.completed_at or world.calendar.now)
        reference = f"{done_on.year}-{number:04}"
        _charge(world, job, Charge(job.charge_kind, dollars * 100, reference))
    for job in Job.objects.filter(status="completed", cause__in=act["not_charged"]):
        kind, dollars, note = act["not_charged"][job.cause]
        _charge(world, job, Charge(kind, dollars * 100, note=note))


def _charge(world: World, job: Job, charge: Charge) -> None:
    done = (job.completed_at or world.calendar.now) + NEXT_DAY
    charge_job(
        job=job,
        charge=charge,
        seen=charge_of(job),
        by=world.office,
        now=min(done, world.calendar.now),
    )
