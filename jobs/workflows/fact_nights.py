"""What the night does for the callback report: laboratories that answered, and a recount.

The recount makes every row of the narrow table anew in memory and compares, and holds the columns
of every job against its facts; a difference is told to the owner and never put right by itself.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import datetime, timedelta

from django.db.models import F, Q

from jobs.errors import JobsError
from jobs.models import CallbackFact, HandoverFact, Night
from jobs.models.company import company_day
from jobs.models.facts import METHOD
from jobs.reports.following import in_chunks, rows_of
from jobs.reports.work_classes import LAB_WAIT, class_of, lab_answered_by

from .facts import correct_handover

LABORATORY = "laboratory"
#: a computer that slept for weeks still completes its rows
LOOKED_BACK = timedelta(days=90)
SHOWN = 5
DIFFERS = "the table behind the callback report differs from its facts"
JOB_DIFFERS = "what a job says of itself differs from its facts"


class FollowDiffers(JobsError):
    """The narrow table does not say what the facts say."""


class JobDiffers(JobsError):
    """The columns of a job, which its pages show, do not say what its standing facts say."""


def complete_classes(now: datetime) -> None:
    """On the 15th day the class is completed by what laboratories answered.

    What was known by then never changes, so that the next nights find nothing more to do; a lead
    or a day that was put right meanwhile does not keep the laboratory's answer out.
    """
    last = company_day(now) - LAB_WAIT - timedelta(days=1)
    rows = HandoverFact.objects.standing().filter(
        day__lte=last, day__gte=last - LOOKED_BACK, method=METHOD
    )
    for fact in rows.select_related("job", "train__site"):
        assert fact.day
        found = class_of(fact.train, fact.day, known_by=lab_answered_by(fact.day))
        if found.water != fact.water:
            kept = {name: value for name, value in found.kept.items() if name != "parts"}
            kept["kind"] = fact.kind
            correct_handover(job=fact.job, reason=LABORATORY, by=None, now=now, **kept)


def compare(now: datetime) -> None:
    """Row by row, in parts."""
    wrong: list[int] = []
    for jobs, wanted in in_chunks():
        kept = rows_of(jobs)
        wrong += [pk for pk in jobs if kept.get(pk) != wanted.get(pk)]
    if wrong:
        raise FollowDiffers(f"{DIFFERS} in {_named(wrong)}")


def compare_jobs(now: datetime) -> None:
    """Day, lead, origin, answer, cause: kept beside the facts, for pages that read one job."""
    led = Q(job__installer=F("installer"))
    handed = Q(job__index_on=F("day")) | Q(job__index_on=None, day=None)
    from_it = Q(job__origin=F("origin")) | Q(job__origin=None, origin=None)
    found = Q(job__cause=F("cause"), job__recheck_missed=F("recheck_overdue"))
    said = Q(job__callback_answer=F("answer"), job__reported_on=F("reported_on"))
    wrong = {
        *HandoverFact.objects.standing().exclude(led & handed).values_list("job", flat=True),
        *CallbackFact.objects.standing()
        .exclude(from_it & found & said)
        .values_list("job", flat=True),
    }
    if wrong:
        raise JobDiffers(f"{JOB_DIFFERS} in {_named(wrong)}")


def _named(jobs: Collection[int]) -> str:
    return f"{len(jobs)}: job {', '.join(str(pk) for pk in sorted(jobs)[:SHOWN])}"


def warning() -> str:
    """What the last night found, for the owner; "" if all was well."""
    last = Night.objects.order_by("-day").exclude(error="", finished_at=None).first()
    parts = last.error.split("; ") if last else []
    return next((part for part in parts if part.startswith((DIFFERS, JOB_DIFFERS))), "")
