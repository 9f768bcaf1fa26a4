"""Visits that wait: booked as held, what they wait for chosen anew, waiting no more."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample
from jobs.errors import BadEntry, WrongState
from jobs.models import LaboratoryDay, Visit, VisitWait
from jobs.models.company import company_day
from jobs.models.waits import LONGEST_DAYS
from jobs.schedule.waiting import refuse_too_early

from .log import log
from .reasons import reason_given
from .visits import WAITS, book_visit

Kind = VisitWait.Kind


@dataclass(frozen=True)
class WaitsFor:
    """Days after a visit, the result of the sample of a visit, or of a bottle on its way."""

    after: Visit | None = None
    days: int | None = None
    sample: Sample | None = None

    @property
    def kind(self) -> str:
        return Kind.GAP if self.days is not None else Kind.RESULT

    def row(self, visit: Visit) -> VisitWait:
        return VisitWait(
            visit=visit, kind=self.kind, after=self.after, days=self.days, sample=self.sample
        )


@transaction.atomic
def book_waiting(*, what: WaitsFor | None, by: User, now: datetime, **booked: Any) -> Visit:
    """As `book_visit`; what waits is only held, and nobody is told before it has come."""
    if what is None:
        return book_visit(by=by, now=now, **booked)
    visit = book_visit(by=by, now=now, **{**booked, "status": WAITS})
    wait_for(visit=visit, what=what, by=by, now=now)
    return visit


@transaction.atomic
def wait_for(*, visit: Visit, what: WaitsFor, by: User, now: datetime) -> VisitWait:
    """From now on the visit is only held until this has come; what it waited for before, ends."""
    visit = _lock(visit)
    if not visit.is_only_held:
        raise WrongState(
            f"The visit is {visit.get_status_display()}: the customer counts on it. Cancel it, and "
            "book one that waits."
        )
    _check(visit, what)
    row = what.row(visit)
    refuse_too_early(row, visit.starts_at)
    VisitWait.objects.filter(visit=visit, kind=what.kind, ended_at=None).update(
        ended_at=now, ended_by=by, ended_why="waits for something else"
    )
    row.at, row.by = now, by
    row.save()
    visit.version += 1
    visit.save(update_fields=["version"])
    log(verb="visit_waits", subject=visit, by=by, now=now, site=visit.job.site, kind=what.kind)
    return row


def _check(visit: Visit, what: WaitsFor) -> None:
    site, after, sample = visit.job.site_id, what.after, what.sample
    if (after is None) == (sample is None):
        raise BadEntry("Choose what it waits for.", field="waits_for")
    if what.days is not None and not 1 <= what.days <= LONGEST_DAYS:
        raise BadEntry(f"Say how many days, 1 to {LONGEST_DAYS}.", field="wait_days")
    if what.days is not None and after is None:
        raise BadEntry("Days are counted from a visit: choose one.", field="waits_for")
    if after and (after.job.site_id != site or after.pk == visit.pk):
        raise BadEntry("Choose another visit of this house.", field="waits_for")
    if after and after.status == Visit.Status.CANCELLED:
        raise BadEntry("That visit is cancelled: choose another one.", field="waits_for")
    if after and after.starts_at >= visit.starts_at:
        day = company_day(after.starts_at)
        raise BadEntry(f"That visit comes later, on {day:%-d %B %Y}.", field="waits_for")
    if sample and sample.site_id != site:
        raise BadEntry("Choose a sample of this house.", field="waits_for")


@transaction.atomic
def wait_no_more(*, visit: Visit, reason: str, by: User, now: datetime) -> Visit:
    """Nothing is waited for any more, by decision of a person; the visit may be confirmed."""
    visit, why = _lock(visit), reason_given(reason, "Say why it waits no more.")
    ended = VisitWait.objects.standing().filter(visit=visit)
    if not ended.update(ended_at=now, ended_by=by, ended_why=why[:200]):
        raise WrongState("This visit waits for nothing.")
    visit.version += 1
    visit.save(update_fields=["version"])
    log(verb="visit_waits_no_more", subject=visit, by=by, now=now, site=visit.job.site, reason=why)
    return visit


def _lock(visit: Visit) -> Visit:
    return (
        Visit.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=visit.pk)
    )


@transaction.atomic
def keep_laboratory_day(*, day: date, name: str, by: User, now: datetime) -> LaboratoryDay:
    """The laboratory takes no samples on that day; said again, the reason is another."""
    if not name.strip():
        raise BadEntry("Say why it takes none.", field="name")
    kept = {"name": name.strip()[:80], "entered_at": now, "entered_by": by}
    row, _ = LaboratoryDay.objects.update_or_create(day=day, defaults=kept)
    log(verb="laboratory_day_kept", subject=row, by=by, now=now)
    return row


@transaction.atomic
def drop_laboratory_day(*, row: LaboratoryDay, by: User, now: datetime) -> None:
    log(verb="laboratory_day_dropped", subject=row, by=by, now=now, day=row.day.isoformat())
    row.delete()
