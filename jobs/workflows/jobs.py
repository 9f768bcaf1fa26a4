from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site, Train
from jobs.errors import BadEntry, WrongState
from jobs.models import Company, Customer, FollowUp, Job, RuleCode, SiteTenure, Visit
from jobs.models.company import company_day

from . import facts
from .log import log
from .reasons import explained, reason_given
from .unreached import reached_again

#: whoever answers so was told something by the customer, whoever had promised to come anyway
REPORTED = (Job.CallbackAnswer.YES, Job.CallbackAnswer.NOT_SURE)
#: part of the start-up that promised them
INCLUDED_KINDS = {Job.Kind.RECHECK, Job.Kind.INTERVAL}


def callback_question(*, train: Train, reported_on: date) -> list[Job]:
    """Work on this train that the report could be a callback to, newest first.

    Looked for over the longest window of the report, whatever window a page shows.
    """
    window = max(Company.load().callback_window_days, Job.ORIGIN_DAYS)
    return list(
        Job.objects.possible_origins(train, reported_on=reported_on, window_days=window)[:5]
    )


@dataclass(frozen=True)
class Wanted:
    """Work somebody asks for, or that we promised: what, since when, and what it comes from."""

    kind: str
    reported_on: date
    symptom: str = ""
    callback_answer: str = ""
    origin: Job | None = None
    planned: bool = False


@transaction.atomic
def open_job(
    *,
    site: Site,
    wanted: Wanted,
    by: User,
    now: datetime,
    train: Train | None = None,
) -> Job:
    """A new piece of work. A callback points to the first job of its chain."""
    if train and train.site_id != site.pk:
        raise BadEntry(
            "The system stands at another house: choose one of this site.", field="train"
        )
    origin, reported_on = wanted.origin, wanted.reported_on
    if reported_on > company_day(now):
        raise BadEntry("The day of the report cannot lie ahead.", field="reported_on")
    if origin and (not train or origin.train_id != train.pk):
        raise BadEntry("The earlier job must be on the same system.", field="origin")
    if wanted.callback_answer == Job.CallbackAnswer.YES and not origin:
        raise BadEntry("Say which earlier job it comes from.", field="origin")
    first = origin.origin if origin and origin.origin_id else origin
    holder = _contact(site, company_day(now))
    included = bool(first) or wanted.kind in INCLUDED_KINDS
    job = Job.objects.create(
        site=site,
        train=train,
        customer=holder,
        kind=wanted.kind,
        symptom=wanted.symptom,
        reported_on=reported_on,
        opened_at=now,
        opened_by=by,
        callback_answer=wanted.callback_answer,
        origin=first,
        planned=wanted.planned and wanted.callback_answer not in REPORTED,
        recheck_missed=bool(first and train and _recheck_was_overdue(train, reported_on)),
        charge_kind=Job.Charge.GOODWILL if included else Job.Charge.BILLABLE,
    )
    facts.note_report(job=job, by=by, now=now)
    if not job.planned:
        reached_again(site=site, how="they asked for work", by=by, now=now)
    log(verb="opened", subject=job, by=by, now=now, site=site, kind=wanted.kind)
    return job


@transaction.atomic
def cancel_job(
    *, job: Job, reason: str, by: User, now: datetime, booked_in_error: bool = False
) -> Job:
    """Cancel a job that has no visit to come.

    What the customer reported stays reported; only a booking in error takes it back.
    """
    job = (
        Job.objects.select_for_update(of=("self",)).select_related("origin", "site").get(pk=job.pk)
    )
    reason_given(reason, "Say why it is cancelled.")
    if job.status != Job.Status.OPEN:
        raise WrongState("Only an open job can be cancelled.")
    if job.visits.filter(status__in=Visit.TO_COME).exists():
        raise WrongState("Cancel or close its visits first.")
    job.status = Job.Status.CANCELLED
    job.save(update_fields=["status"])
    if booked_in_error and job.callback_answer in REPORTED:
        installer = job.origin.installer_id if job.origin else None
        facts.refuse_own_case(by, installer, field="booked_in_error")
        reason = explained(reason)
        job.callback_answer, job.origin, job.recheck_missed = Job.CallbackAnswer.NO, None, False
        job.save(update_fields=["callback_answer", "origin", "recheck_missed"])
        facts.note_report(job=job, by=by, now=now, reason=f"booked in error: {reason}")
    log(verb="cancelled", subject=job, by=by, now=now, site=job.site, reason=reason)
    return job


def _contact(site: Site, day: date) -> Customer | None:
    tenure = SiteTenure.objects.at(day).of_site(site).filter(is_contact=True).first()
    return tenure.customer if tenure else None


def _recheck_was_overdue(train: Train, day: date) -> bool:
    """The office had promised a recheck and its window was over when the customer called."""
    return (
        FollowUp.objects.was_overdue_on(day)
        .filter(train=train, rule__code=RuleCode.RECHECK)
        .exists()
    )
