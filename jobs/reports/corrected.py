"""What was put right afterwards about the jobs of a period, counted for everybody alike."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

from django.db.models import F, Q

from jobs.models import CallbackFact, HandoverFact, Job
from jobs.models.facts import number_of

from .callback_jobs import Selection

#: more of a person's callbacks withdrawn or given another cause than this share is said beside the
#: count; common practice, no source
SHARE_SAID = 0.10


@dataclass(frozen=True)
class Corrected:
    """Jobs with a newer row, and of each installer the callbacks taken back or coded anew."""

    jobs: int = 0
    withdrawn: Counter[int] = field(default_factory=Counter)
    recoded: Counter[int] = field(default_factory=Counter)


def corrected(selection: Selection) -> Corrected:
    days = (number_of(selection.since), number_of(selection.until))
    yes, moved = Q(corrects__answer=Job.CallbackAnswer.YES), Q(corrects__isnull=False)
    newer = CallbackFact.objects.filter(moved)
    # the sum keeps the database from beginning with all jobs of the period: few are put right
    dated = newer.annotate(was=F("corrects__origin__follow__day") + 0)
    before = dated.filter(yes, was__range=days)
    withdrawn = before.exclude(answer=Job.CallbackAnswer.YES, origin=F("corrects__origin"))
    now_dated = newer.annotate(day=F("origin__follow__day") + 0)
    after = now_dated.filter(answer=Job.CallbackAnswer.YES, day__range=days)
    recoded = after.exclude(corrects__cause="").exclude(corrects__cause=F("cause"))
    handed = HandoverFact.objects.filter(
        corrects__isnull=False, recorded_by__isnull=False, corrects__day__isnull=False
    ).filter(corrects__day__range=(selection.since, selection.until))
    taken_back = list(withdrawn.values_list("corrects__origin", _INSTALLER.format("corrects__")))
    coded_anew = list(recoded.values_list("origin", _INSTALLER.format("")))
    jobs = {job for job, _ in (*taken_back, *coded_anew)} | set(
        handed.values_list("job", flat=True)
    )
    return Corrected(
        len(jobs),
        Counter(person for _, person in taken_back),
        Counter(person for _, person in coded_anew),
    )


_INSTALLER = "{}origin__follow__installer"
