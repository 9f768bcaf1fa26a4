"""Tries to reach a customer, and the day on which they are called again."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.models import ContactAttempt, FollowUp, Visit
from jobs.models.company import company_day

from .unreached import reached_again

#: a call is put off for a season at most; what waits longer is put off itself, with its reason
AGAIN_WITHIN = timedelta(days=92)


@transaction.atomic
def record_attempt(
    *,
    how: str,
    by: User,
    now: datetime,
    follow_up: FollowUp | None = None,
    visit: Visit | None = None,
    note: str = "",
    again_on: date | None = None,
) -> ContactAttempt:
    """One try at a promise or a visit; `again_on` takes the place of what an older try said."""
    today = company_day(now)
    if again_on and not today <= again_on <= today + AGAIN_WITHIN:
        raise BadEntry("Today or a day within three months.", field="again_on")
    tried = ContactAttempt.objects.create(
        follow_up=follow_up, visit=visit, how=how, note=note, again_on=again_on, at=now, by=by
    )
    site = visit.job.site if visit else follow_up.site if follow_up else None
    if site and how == ContactAttempt.How.CALLED:
        reached_again(site=site, how="they answered", by=by, now=now)
    return tried
