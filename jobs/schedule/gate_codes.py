"""When a gate code is shown: from half an hour before the visit until it is left, to who comes.

Whoever plans sees it at any hour: they tell it on the telephone. It stands on no paper.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db.models import Q
from django.utils import timezone

from equipment.models import Site
from jobs.models import Visit
from jobs.models.company import company_day

#: so long before the visit begins
CODE_AHEAD = timedelta(minutes=30)


def code_hours(visit: Visit, *, now: datetime) -> tuple[datetime, datetime] | None:
    """From and until when the code of this visit's gate is shown; None: not today, or left."""
    is_today = company_day(visit.starts_at) == company_day(now)
    if not visit.is_to_come or not (is_today or visit.status == Visit.Status.ON_SITE):
        return None
    day = timezone.localtime(visit.starts_at if is_today else now)
    return visit.starts_at - CODE_AHEAD, day.replace(hour=23, minute=59, second=59, microsecond=0)


def code_is_shown(site: Site, user: User, *, now: datetime) -> bool:
    """Whether somebody who does not plan may read the code of this house now."""
    own = Visit.objects.filter(Q(lead=user) | Q(helper=user), job__site=site)
    hours = (code_hours(visit, now=now) for visit in own.filter(status__in=Visit.TO_COME))
    return any(begins <= now <= ends for begins, ends in filter(None, hours))
