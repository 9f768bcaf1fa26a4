"""What a house may expect of us after a visit, and what that visit has answered itself."""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import QuerySet

from .company import company_day
from .follow_ups import FollowUp
from .jobs import Job
from .records import Answer, ChecklistRecord
from .rules import FollowUpRule
from .visits import Visit


def coming_after(visit: Visit | None, *, site: int) -> list[FollowUp]:
    """Promised work at the house, the next first, without what this visit is about to keep.

    Looks of the office's at its own papers are promises too, and no work.
    """
    work = (
        FollowUp.objects.alive()
        .filter(site=site)
        .exclude(terms__job_kind="")
        .exclude(terms__closing=FollowUpRule.Closing.ACKNOWLEDGED)
        .select_related("terms", "stage")
        .order_by("due_on", "pk")
    )
    if visit is None or visit.closed_at:  # what it kept has ended with it
        return list(work)
    return [row for row in work if not work_keeps(row, visit)]


def again_after(record: ChecklistRecord) -> QuerySet[FollowUp]:
    """What is promised because a correction of this closed record showed that a line failed."""
    rows = FollowUp.objects.alive().filter(from_visit=record.closed_in_id)
    found = rows.filter(details__event=FollowUpRule.Event.FOUND_WANTING)
    return found.exclude(from_visit=None).select_related("terms").order_by("terms__harm", "pk")


def work_keeps(promise: FollowUp, visit: Visit) -> bool:
    """The work of this visit answers the promise, whatever its outcome: its kind and its lines."""
    if promise.terms.closing != FollowUpRule.Closing.VISIT or promise.from_visit_id == visit.pk:
        return False
    carried = promise.visit_id == visit.pk
    of_train = promise.train_id is not None and promise.train_id == visit.job.train_id
    if not carried and not (of_train and promise.window_from <= company_day(visit.starts_at)):
        return False
    wanted = promise.terms.closing_parameters
    kinds = wanted.get("job_kinds", [])
    if visit.job.kind not in kinds if kinds else not carried:
        return False
    return answered_all(visit.job, wanted.get("line_keys", []))


def answered_all(job: Job, keys: Iterable[str | list[str]]) -> bool:
    """Every line is answered in a record of the job; of a list, one of its lines."""
    choices = [set(key) if isinstance(key, list) else {key} for key in keys]
    answered = set(
        Answer.objects.filter(record__job=job, line_key__in=set().union(*choices))
        .exclude(text="")
        .values_list("line_key", flat=True)
    )
    return all(choice & answered for choice in choices)
