"""From the open list to a booked visit that carries the promise."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import WrongState
from jobs.models import FollowUp, Job, Visit
from jobs.models.company import company_day

from .held import Held
from .jobs import Wanted, open_job
from .visit_doubts import Planned
from .visits import book_visit


def planned_by(follow_up: FollowUp) -> Planned:
    """The work a promise asks for, and where."""
    if follow_up.site is None:
        raise WrongState("This promise is about no house: nothing to book.")
    kind = follow_up.terms.job_kind or Job.Kind.SERVICE
    return Planned(follow_up.site, kind, follow_up.train)


@transaction.atomic
def book_from(*, follow_up: FollowUp, held: Held, by: User, now: datetime) -> Visit:
    """Open the job a promise asks for and book its visit, which takes the promise if it is open."""
    follow_up = (
        FollowUp.objects.select_for_update(of=("self",))
        .select_related("terms", "site", "train")
        .get(pk=follow_up.pk)
    )
    wanted = Wanted(
        kind=planned_by(follow_up).kind,
        reported_on=company_day(now),
        symptom=follow_up.reason,
        planned=True,
    )
    job = open_job(site=follow_up.site, train=follow_up.train, wanted=wanted, by=by, now=now)
    return book_visit(job=job, held=held, follow_ups=[follow_up], by=by, now=now)
