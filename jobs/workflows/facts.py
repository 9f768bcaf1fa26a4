"""Facts of the callback report: written by the acts that make them, in the same transaction.

Each act writes its row and the narrow table follows at once. What the pages of a job show of it
is written here too, so that the two never differ.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User

from equipment.models import Site, Train
from jobs.errors import NotAllowed
from jobs.models import (
    CallbackFact,
    Follow,
    HandoverFact,
    HandoverHelper,
    Job,
    LogEntry,
    LossFact,
    Visit,
)
from jobs.models.company import company_day
from jobs.reports.following import Followed, rows_of, worked_out
from jobs.reports.work_classes import class_of

#: of a fact, what a correction takes over from the row it replaces
CARRIED = (
    "day",
    "train",
    "site",
    "installer",
    "kind",
    "water",
    "is_inherited",
    "method",
    "parts",
    "sulfide",
    "ph",
    "sulfide_reading",
    "ph_reading",
)


def refuse_own_case(by: User, *concerned: int | None, field: str = "") -> None:
    if by.pk in concerned:
        raise NotAllowed("This is about your own work: somebody else decides it.", field=field)


def hand_over(*, job: Job, day: date, visit: Visit, by: User, now: datetime) -> None:
    """Treated water is handed to the house: what decides about the job from now on is frozen."""
    before = standing_handover(job)
    if before and before.day:
        return
    job.index_on, job.installer = day, visit.lead
    if job.train is None or job.kind not in Job.INDEX_KINDS:
        return
    fact = HandoverFact.objects.create(
        job=job,
        day=day,
        train=job.train,
        site=job.site,
        installer=visit.lead,
        is_inherited=job.train.is_inherited,
        corrects=before,
        reason="handed over after all" if before else "",
        recorded_at=now,
        recorded_by=by,
        **class_of(job.train, day, known_by=now).kept,
    )
    _note_helpers(fact, _others(job, visit))
    follow({job.pk})


def _others(job: Job, visit: Visit) -> dict[int, str]:
    """Everybody who worked on it beside the one who led its last visit."""
    others: dict[int, str] = {}
    for each in job.visits.exclude(status=Visit.Status.CANCELLED).order_by("starts_at", "pk"):
        if each.lead_id != visit.lead_id:
            others[each.lead_id] = "led an earlier visit"
        if each.helper_id and each.helper_id != visit.lead_id:
            others.setdefault(each.helper_id, "helped")
    return others


def _note_helpers(fact: HandoverFact, others: dict[int, str]) -> None:
    HandoverHelper.objects.bulk_create(
        HandoverHelper(fact=fact, person_id=pk, did=did) for pk, did in others.items()
    )


def standing_handover(job: Job) -> HandoverFact | None:
    return HandoverFact.objects.standing().filter(job=job).first()


def correct_handover(
    *, job: Job, reason: str, by: User | None, now: datetime, **changes: Any
) -> HandoverFact | None:
    """A newer row with other values; its helpers go on, and whoever led before is one of them."""
    before = standing_handover(job)
    if before is None:
        return None
    values = {name: getattr(before, name) for name in CARRIED} | changes
    fact = HandoverFact.objects.create(
        job=job, corrects=before, reason=reason, recorded_by=by, recorded_at=now, **values
    )
    others = dict(before.helpers.values_list("person", "did"))
    if fact.installer_id != before.installer_id:
        others.setdefault(before.installer_id, "worked on it")
    others.pop(fact.installer_id, None)
    _note_helpers(fact, others)
    job.index_on, job.installer = fact.day, fact.installer
    job.save(update_fields=["index_on", "installer"])
    follow({job.pk})
    return fact


def note_report(*, job: Job, by: User | None, now: datetime, reason: str = "") -> None:
    """What is known of a report, as its job says it now; nothing where it says the same."""
    if not job.callback_answer:
        return
    before = CallbackFact.objects.standing().filter(job=job).first()
    row = CallbackFact(
        job=job,
        origin=job.origin,
        answer=job.callback_answer,
        reported_on=job.reported_on,
        cause=job.cause,
        group=job.cause_group,
        recheck_overdue=job.recheck_missed,
        corrects=before,
        reason=reason[:300] if before else "",
        recorded_at=now,
        recorded_by=by,
    )
    if before and _said(row) == _said(before):
        return
    row.save()
    touched = {job.pk, job.origin_id, before.origin_id if before else None}
    follow({pk for pk in touched if pk})


def _said(row: CallbackFact) -> tuple[object, ...]:
    return row.origin_id, row.answer, row.reported_on, row.cause, row.recheck_overdue


def lose(
    *, of: Site | Train, how: str, day: date, reason: str, by: User, now: datetime
) -> LossFact:
    """From that day this house or system is not followed any more."""
    row = LossFact(how=how, day=day, reason=reason[:300], recorded_by=by, recorded_at=now)
    if isinstance(of, Site):
        row.site = of
    else:
        row.train = of
    row.save()
    follow(_of_loss(row))
    return row


def follow_on(*, row: LossFact, reason: str, by: User, now: datetime) -> LossFact:
    """It was no loss: the jobs of the house or system are followed on."""
    newer = LossFact.objects.create(
        site=row.site,
        train=row.train,
        day=row.day,
        how=LossFact.How.STANDS,
        corrects=row,
        reason=reason[:300],
        recorded_by=by,
        recorded_at=now,
    )
    follow(_of_loss(row))
    return newer


def _of_loss(row: LossFact) -> set[int]:
    of = {"site": row.site_id} if row.site_id else {"train": row.train_id}
    return set(HandoverFact.objects.standing().filter(**of).values_list("job", flat=True))


def follow(jobs: Iterable[int]) -> None:
    """Bring the narrow table to what the facts of these jobs say."""
    jobs = set(jobs)
    wanted, kept = worked_out(jobs), rows_of(jobs)
    gone = kept.keys() - wanted.keys()
    if gone:
        Follow.objects.filter(job__in=gone).delete()
    new = [_row(pk, row) for pk, row in wanted.items() if pk not in kept]
    Follow.objects.bulk_create(new)
    changed = [_row(pk, row) for pk, row in wanted.items() if pk in kept and kept[pk] != row]
    Follow.objects.bulk_update(changed, list(Followed._fields)) if changed else None


def _row(pk: int, row: Followed) -> Follow:
    return Follow(job_id=pk, **row._asdict())


def day_of(visit: Visit, now: datetime) -> date:
    """The day the house was left, not the day of telling it."""
    return company_day(visit.left_at or now)


def said_since(subject: Train, verb: str, moment: datetime) -> bool:
    """Whether the log holds that act about a system, at that moment or later."""
    rows = LogEntry.objects.filter(subject_type=subject._meta.label_lower, subject_id=subject.pk)
    return rows.filter(verb=verb, at__gte=moment).exists()
