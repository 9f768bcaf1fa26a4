"""What the night does for the callback report: laboratories that answered, and a recount.

The recount makes every row of the narrow table anew in memory and compares; a difference is told
to the owner and never put right by itself.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from jobs.errors import JobsError
from jobs.models import HandoverFact, Night
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


class FollowDiffers(JobsError):
    """The narrow table does not say what the facts say."""


def complete_classes(now: datetime) -> None:
    """On the 15th day the class is completed by what laboratories answered, once."""
    last = company_day(now) - LAB_WAIT - timedelta(days=1)
    rows = HandoverFact.objects.standing().filter(
        day__lte=last, day__gte=last - LOOKED_BACK, method=METHOD, corrects=None
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
        named = ", ".join(str(pk) for pk in sorted(wrong)[:SHOWN])
        raise FollowDiffers(f"{DIFFERS} in {len(wrong)}: job {named}")


def warning() -> str:
    """What the last night found, for the owner; "" if all was well."""
    last = Night.objects.order_by("-day").exclude(error="", finished_at=None).first()
    found = [part for part in last.error.split("; ") if part.startswith(DIFFERS)] if last else []
    return found[0] if found else ""
