"""A whole system taken out of its house, and put back when that was said by mistake.

Its parts and the promises about them end with it; what was promised about the house stays, for the
well is tested as before. The log keeps which rows ended, so that putting back undoes just these.
"""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Stage, Train
from jobs.errors import BadEntry, WrongState
from jobs.models import FollowUp, Job, LogEntry, LossFact, Visit
from jobs.models.company import company_day

from . import facts, follow_ups, recalls
from .log import log
from .reasons import reason_given
from .treated import raise_by_part

TOOK_OUT, PUT_BACK = "took_out", "put_back"


@transaction.atomic
def take_out(*, train: Train, on: date, reason: str, by: User, now: datetime) -> Train:
    """From that day nothing treats this water; nobody comes back for the system."""
    train = Train.objects.select_for_update().select_related("site").get(pk=train.pk)
    if train.removed_on:
        raise WrongState(f"This system was taken out on {train.removed_on:%-d %B %Y} already.")
    parts = list(train.stages.fitted().select_for_update())
    _check(train, parts, on=on, reason=reason, now=now)
    for part in parts:
        raise_by_part(part, by=by, now=now)
    for part in parts:
        part.removed_on = on
        part.save()
        recalls.part_out(stage=part, is_replaced=False, by=by, now=now)
    train.removed_on = on
    train.version += 1
    train.save()
    gone = LossFact.How.SYSTEM_GONE
    facts.lose(of=train, how=gone, day=on, reason=reason, by=by, now=now)
    ended = follow_ups.end_with_parts(parts=parts, train=train, on=on, by=by, now=now)
    log(
        verb=TOOK_OUT,
        subject=train,
        by=by,
        now=now,
        site=train.site,
        reason=reason,
        parts=[part.pk for part in parts],
        promises=[row.pk for row in ended],
    )
    return train


def _check(train: Train, parts: list[Stage], *, on: date, reason: str, now: datetime) -> None:
    if on > company_day(now):
        raise BadEntry("The day lies ahead: come back when the system is out.", field="on")
    known = [part.fitted_on for part in parts]
    first = max([*known, *([train.handed_over_on] if train.handed_over_on else [])], default=on)
    if on < first:
        raise BadEntry(
            f"Work on it is on file until {first:%-d %B %Y}: choose that day or a later one.",
            field="on",
        )
    reason_given(reason, "Say why it was taken out.")
    visit = Visit.objects.filter(job__train=train, status__in=Visit.TO_COME).first()
    if visit:
        raise WrongState(
            f"A visit to this system stands, {company_day(visit.starts_at):%-d %B %Y}: "
            "close or cancel it first."
        )
    job = Job.objects.open().filter(train=train).order_by("pk").first()
    if job:
        raise WrongState(
            f"Work on this system is still open ({job.get_kind_display()}, asked for on "
            f"{job.reported_on:%-d %B %Y}): complete or cancel it first."
        )


@transaction.atomic
def put_back(*, train: Train, by: User, now: datetime) -> Train:
    """It was never taken out: parts and promises stand as they stood before."""
    train = Train.objects.select_for_update().select_related("site").get(pk=train.pk)
    said = taking_out(train)
    if train.removed_on is None or said is None:
        raise WrongState("This system stands: nobody took it out.")
    for part in train.stages.filter(pk__in=said.data["parts"], removed_on=train.removed_on):
        part.removed_on = None
        part.save()
        recalls.part_back(stage=part, by=by, now=now)
    train.removed_on = None
    train.version += 1
    train.save()
    for row in LossFact.objects.standing().filter(train=train, how=LossFact.How.SYSTEM_GONE):
        facts.follow_on(row=row, reason="never taken out", by=by, now=now)
    follow_ups.stand_again(FollowUp.objects.filter(pk__in=said.data["promises"]))
    log(verb=PUT_BACK, subject=train, by=by, now=now, site=train.site)
    return train


def taking_out(train: Train) -> LogEntry | None:
    """Who took it out, when told, and why."""
    return (
        LogEntry.objects.filter(
            subject_type=train._meta.label_lower, subject_id=train.pk, verb=TOOK_OUT
        )
        .order_by("-at", "-pk")
        .first()
    )
