"""The work of the night: a checked copy of the database, and rows that nobody needs any more.

One row a night says whether it was done. A night that was slept through is made up for once; one
that failed is tried again after an hour.
"""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta

from axes.models import AccessAttempt, AccessFailureLog, AccessLog
from django.contrib.sessions.models import Session
from django.db.models import Q

from jobs.errors import JobsError
from jobs.models import Night, SubmittedForm

from .backup import backup_database
from .fact_nights import compare, compare_jobs, complete_classes
from .pictures import clear_pictures
from .verdicts import keep_verdict

#: 08:20 UTC is night or early morning everywhere in North America, on every day of the year
BEGINS = timedelta(hours=8, minutes=20)
LEASE = timedelta(hours=1)
NIGHTS_KEPT = timedelta(days=60)
#: a phone may sleep for weeks before it sends a form again
FORMS_KEPT = timedelta(days=30)
SIGN_INS_KEPT = timedelta(days=90)

logger = logging.getLogger(__name__)


def night_of(now: datetime) -> date:
    """The night that began last."""
    return (now.astimezone(UTC) - BEGINS).date()


def run_due(*, clock: Callable[[], datetime]) -> int:
    """Do the work of this night unless it was done; each part for itself. 1 if it was our turn."""
    day = night_of(clock())
    if not claim(day, now=clock()):
        return 0
    faults = [fault for part in PARTS if (fault := _fault_of(part, clock()))]
    row = Night.objects.filter(day=day)
    if faults:  # the lease stays: nobody tries before it ends
        row.update(error="; ".join(faults)[:300])
    else:
        row.update(finished_at=clock(), lease_until=None, error="")
    return 1


def claim(day: date, *, now: datetime) -> bool:
    """A moment in the future was written by a clock that has been set back: it counts as none."""
    Night.objects.get_or_create(day=day)
    undone = Q(finished_at=None) | Q(finished_at__gt=now)
    free = Q(lease_until=None) | Q(lease_until__lte=now) | Q(lease_until__gt=now + LEASE)
    return bool(
        Night.objects.filter(undone, free, day=day).update(
            lease_until=now + LEASE, finished_at=None
        )
    )


def _copy(now: datetime) -> None:
    backup_database(now=now)


def clear_away(now: datetime) -> None:
    """Ended sessions, old tries to sign in, keys of forms sent long ago, old nights."""
    Session.objects.filter(expire_date__lt=now).delete()
    AccessAttempt.objects.filter(attempt_time__lt=now - timedelta(days=1)).delete()
    for table in (AccessLog, AccessFailureLog):
        table.objects.filter(attempt_time__lt=now - SIGN_INS_KEPT).delete()
    SubmittedForm.objects.filter(at__lt=now - FORMS_KEPT).delete()
    Night.objects.filter(day__lt=(now - NIGHTS_KEPT).date()).delete()


PARTS: tuple[Callable[[datetime], None], ...] = (
    _copy,
    clear_away,
    clear_pictures,
    complete_classes,
    compare,
    compare_jobs,
    keep_verdict,
)


def _fault_of(part: Callable[[datetime], None], now: datetime) -> str:
    """What kept a part from ending well, "" if nothing did; the others go on."""
    try:
        part(now)
    except JobsError as error:
        logger.error("the work of the night failed: %s", error.message)
        return error.message
    except Exception as error:
        logger.error("the work of the night failed: %s", type(error).__name__)
        return type(error).__name__
    return ""
