"""Causes of callbacks: coded by who fixed them, looked at by somebody else."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.models import FollowUp, Job, RuleCode

from . import facts, follow_ups
from .log import log
from .reasons import explained


@transaction.atomic
def review_cause(
    *, callback: Job, cause: str, seen: str, reason: str, by: User, now: datetime
) -> Job:
    """Confirm or change the cause of a closed callback; `seen` is the cause the page showed."""
    row = Job.objects.select_for_update(of=("self",)).get(pk=callback.pk)
    _check(row, cause, seen, reason, by)
    changed = cause != row.cause
    row.cause = cause
    if changed:
        row.cause_by, row.cause_note = by, reason[:300]
    row.cause_reviewed_at, row.cause_reviewed_by = now, by
    row.save()
    facts.note_report(job=row, by=by, now=now, reason=reason)
    log(
        verb="cause_changed" if changed else "cause_confirmed",
        subject=row,
        by=by,
        now=now,
        site=row.site,
        reason=reason[:300],
        cause=cause,
        before=seen,
    )
    end_reviews(job=row, note=f"cause: {row.get_cause_display()}", by=by, now=now)
    return row


def end_reviews(*, job: Job, note: str, by: User, now: datetime) -> None:
    """The owner has decided, or there is nothing left to decide."""
    promises = FollowUp.objects.alive().filter(
        rule__code=RuleCode.CAUSE_REVIEW, subject_key=f"job:{job.pk}"
    )
    for promise in promises.select_related("terms"):
        follow_ups.reviewed(follow_up=promise, note=note[:200], by=by, now=now)


def _check(row: Job, cause: str, seen: str, reason: str, by: User) -> None:
    if row.callback_answer != Job.CallbackAnswer.YES or row.status != Job.Status.COMPLETED:
        raise WrongState("Only the cause of a closed callback is looked at.")
    if row.cause != seen:
        raise WrongState("Somebody changed the cause meanwhile: look at it again.")
    if cause not in Job.Cause.values:
        raise BadEntry("Choose the cause.", field="cause")
    changed = cause != row.cause
    if changed:
        explained(reason)
    if cause == Job.Cause.I_CUSTOMER and not (row.cause_note.strip() or reason.strip()):
        raise BadEntry("Say what the customer or others changed.", field="reason")
    installer = row.origin.installer_id if row.origin else None
    if by.pk == installer and (changed or row.cause_by_id in (None, installer)):
        raise NotAllowed(
            "You installed this system: somebody else has to decide the cause.", field="cause"
        )


@transaction.atomic
def settle_question(*, job: Job, answer: str, reason: str, by: User, now: datetime) -> Job:
    """Decide a report that was answered "not sure"."""
    row = Job.objects.select_for_update(of=("self",)).get(pk=job.pk)
    if row.callback_answer != Job.CallbackAnswer.NOT_SURE:
        raise WrongState("This report is decided already.")
    if answer not in (Job.CallbackAnswer.YES, Job.CallbackAnswer.NO):
        raise BadEntry("Say whether it is a callback.", field="answer")
    explained(reason)
    if answer == Job.CallbackAnswer.YES and row.origin is None:
        raise BadEntry("No earlier job is linked, so it cannot be a callback.", field="answer")
    if row.origin and row.origin.installer_id == by.pk:
        raise NotAllowed("You installed this system: somebody else has to decide.", field="answer")
    before = row.origin_id
    row.callback_answer = answer
    if answer == Job.CallbackAnswer.NO:
        row.origin, row.recheck_missed = None, False
    row.save()
    facts.note_report(job=row, by=by, now=now, reason=reason)
    log(
        verb="callback_decided",
        subject=row,
        by=by,
        now=now,
        site=row.site,
        reason=reason[:300],
        answer=answer,
        origin=before,
    )
    return row
