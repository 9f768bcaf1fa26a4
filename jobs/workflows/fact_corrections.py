"""What was wrong about a counted job is put right by a newer row, with a reason and a name.

Whoever the change concerns does not decide it. Both rows stay readable on the job.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet

from equipment.models import Site, Train
from jobs.errors import BadEntry, WrongState
from jobs.models import CallbackFact, HandoverFact, Job, LossFact, Visit
from jobs.models.company import company_day
from jobs.reports.work_classes import class_of, lab_answered_by

from . import facts, follow_ups
from .causes import end_reviews
from .facts import refuse_own_case
from .log import log
from .reasons import explained


@dataclass(frozen=True)
class Handed:
    """Who led a job, and on which day its water was handed over; no day: it never was."""

    installer: User
    day: date | None


@transaction.atomic
def correct_handover(*, job: Job, handed: Handed, reason: str, by: User, now: datetime) -> Job:
    """Another lead, another day, or no water at all."""
    job = Job.objects.select_for_update(of=("self",)).select_related("train").get(pk=job.pk)
    before = facts.standing_handover(job)
    if before is None:
        raise WrongState("No water was handed over by this job.")
    if (before.installer_id, before.day) == (handed.installer.pk, handed.day):
        raise BadEntry("Nothing is changed.", field="installer")
    reason = explained(reason)
    refuse_own_case(by, before.installer_id, handed.installer.pk, field="installer")
    if handed.day and handed.day > company_day(now):
        raise BadEntry("The day lies ahead.", field="day")
    changes: dict[str, object] = {"installer": handed.installer, "day": handed.day}
    if handed.day and handed.day != before.day:
        known_by = min(now, lab_answered_by(handed.day))
        changes |= class_of(before.train, handed.day, known_by=known_by).kept
    facts.correct_handover(job=job, reason=reason, by=by, now=now, **changes)
    log(verb="handover_corrected", subject=job, by=by, now=now, site=job.site, reason=reason)
    return job


@transaction.atomic
def correct_report(
    *, job: Job, answer: str, origin: Job | None, reason: str, by: User, now: datetime
) -> Job:
    """Another earlier job, or another answer; the day of the report stays."""
    job = Job.objects.select_for_update(of=("self",)).select_related("origin").get(pk=job.pk)
    before = CallbackFact.objects.standing().filter(job=job).select_related("origin").first()
    if before is None:
        raise WrongState("Nobody asked whether this is a callback.")
    if answer not in (Job.CallbackAnswer.YES, Job.CallbackAnswer.NO, Job.CallbackAnswer.NOT_SURE):
        raise BadEntry("Say whether it is a callback.", field="answer")
    first = _first_of(job, origin) if answer != Job.CallbackAnswer.NO else None
    if answer == Job.CallbackAnswer.YES and first is None:
        raise BadEntry("Say which earlier job it comes from.", field="origin")
    if (before.answer, before.origin_id) == (answer, first.pk if first else None):
        raise BadEntry("Nothing is changed.", field="answer")
    reason = explained(reason)
    concerned = (row.installer_id for row in (before.origin, first) if row)
    refuse_own_case(by, *concerned, field="answer")
    job.callback_answer, job.origin = answer, first
    job.recheck_missed = job.recheck_missed and first is not None
    job.save(update_fields=["callback_answer", "origin", "recheck_missed"])
    facts.note_report(job=job, by=by, now=now, reason=reason)
    if answer != Job.CallbackAnswer.YES:
        end_reviews(job=job, note=f"no callback: {reason}", by=by, now=now)
    log(verb="report_corrected", subject=job, by=by, now=now, site=job.site, reason=reason)
    return job


def _first_of(job: Job, origin: Job | None) -> Job | None:
    """A callback of a callback points to the first job."""
    first = origin.origin if origin and origin.origin_id else origin
    if first is None:
        return None
    if first.pk == job.pk or first.train_id != job.train_id:
        raise BadEntry("The earlier job must be on the same system.", field="origin")
    return first


def possible_origins(job: Job) -> list[Job]:
    """Work whose report this may be, newest first; the one it is linked to is always there."""
    found: list[Job] = []
    if job.train:
        rows = Job.objects.possible_origins(
            job.train, reported_on=job.reported_on, window_days=Job.ORIGIN_DAYS
        )
        found = [row for row in rows[:20] if row.pk != job.pk]
    if job.origin and job.origin not in found:
        found.append(job.origin)
    return found


@transaction.atomic
def withdraw_loss(*, row: LossFact, reason: str, by: User, now: datetime) -> LossFact:
    """It was said by mistake: the jobs of the house or system are followed on."""
    row = (
        LossFact.objects.select_for_update(of=("self",))
        .select_related("site", "train__site")
        .get(pk=row.pk)
    )
    newer = LossFact.objects.filter(corrects=row).exists()
    if newer or row.how == LossFact.How.STANDS:
        raise WrongState("This was withdrawn already.")
    if row.how == LossFact.How.SYSTEM_GONE:
        raise WrongState("Put the system back on the page of its house: its parts come with it.")
    reason = explained(reason)
    of = {"site": row.site_id} if row.site_id else {"train": row.train_id}
    installers = HandoverFact.objects.standing().filter(**of, day__lte=row.day)
    refuse_own_case(by, *installers.values_list("installer", flat=True))
    site = row.site or (row.train.site if row.train else None)
    log(verb="loss_withdrawn", subject=row, by=by, now=now, site=site, reason=reason)
    return facts.follow_on(row=row, reason=reason, by=by, now=now)


# --- acts of the office by which a house or a system is lost to sight -----------------------------


@transaction.atomic
def end_service(*, site: Site, on: date, reason: str, by: User, now: datetime) -> None:
    """The customer wants us no more: nobody comes back, and nobody would call us."""
    Site.objects.select_for_update().get(pk=site.pk)
    reason = explained(reason)
    if on > company_day(now):
        raise BadEntry("The day lies ahead: come back when it has come.", field="on")
    gone = LossFact.objects.standing().filter(site=site, how__in=LossFact.HOUSE_GONE)
    if gone.filter(day__gte=on).exists():
        raise WrongState("That this customer left is noted already.")
    refuse_visits(Visit.objects.filter(job__site=site))
    follow_ups.waive_of_house(site=site, reason=f"service ended: {reason}", by=by, now=now)
    how = LossFact.How.CUSTOMER_GONE
    facts.lose(of=site, how=how, day=on, reason=f"ended: {reason}", by=by, now=now)
    log(verb="service_ended", subject=site, by=by, now=now, site=site, reason=reason)


@transaction.atomic
def turn_off(*, train: Train, on: date, reason: str, by: User, now: datetime) -> None:
    """Bypassed or shut down because the customer wants it so."""
    train = Train.objects.select_for_update(of=("self",)).select_related("site").get(pk=train.pk)
    reason = explained(reason)
    if on > company_day(now):
        raise BadEntry("The day lies ahead: come back when it has come.", field="on")
    if train.removed_on or standing_off(train):
        raise WrongState("This system is out, or off already.")
    facts.lose(of=train, how=LossFact.How.WATER_OFF, day=on, reason=reason, by=by, now=now)
    log(verb="water_off", subject=train, by=by, now=now, site=train.site, reason=reason)


#: so long a system may be off and is still followed; common practice, no source
OFF_DAYS = 30


@transaction.atomic
def turn_on(*, train: Train, on: date, by: User, now: datetime) -> None:
    """Treated water again. Within thirty days nothing was lost; later the older work stays lost."""
    train = Train.objects.select_for_update(of=("self",)).select_related("site").get(pk=train.pk)
    row = standing_off(train)
    if row is None:
        raise WrongState("This system is not off.")
    if not row.day <= on <= company_day(now):
        raise BadEntry(f"A day from {row.day:%-d %B %Y} to today.", field="on")
    if (on - row.day).days <= OFF_DAYS:
        facts.follow_on(row=row, reason=f"on again on {on:%-d %B %Y}", by=by, now=now)
    log(verb="water_on", subject=train, by=by, now=now, site=train.site, on=on.isoformat())


def standing_off(train: Train) -> LossFact | None:
    """The system is off by the customer's wish, and nobody has said that it is on again."""
    row = (
        LossFact.objects.standing()
        .filter(train=train, how=LossFact.How.WATER_OFF)
        .order_by("recorded_at", "pk")
        .last()
    )
    again = facts.said_since(train, "water_on", row.recorded_at) if row else False
    return None if again else row


def refuse_visits(visits: QuerySet[Visit]) -> None:
    """Nothing is lost to sight while somebody is to come."""
    visit = visits.filter(status__in=Visit.TO_COME).first()
    if visit:
        raise WrongState(
            f"A visit stands, {company_day(visit.starts_at):%-d %B %Y}: close or cancel it first."
        )
