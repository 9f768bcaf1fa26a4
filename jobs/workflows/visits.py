"""Booking and running visits. Only these functions write TechnicianSlot rows."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from django.utils import timezone

from jobs.errors import (
    BadEntry,
    DoNotUseOpen,
    OtherTime,
    TechnicianBooked,
    VisitChanged,
    WrongState,
)
from jobs.mail.about import no_access as no_access_letter
from jobs.mail.about import visit_cancelled, visit_confirmation, visit_moved, visit_proposed
from jobs.models import FollowUp, Job, LogEntry, TechnicianSlot, Visit
from jobs.models.company import company_day
from jobs.models.visits import quarters
from jobs.schedule.hours import zone_of
from jobs.schedule.waiting import refuse_move, refuse_while_waiting

from .held import Held, check, moved_with
from .log import log
from .moments import done_on
from .presence import must_be_there
from .reasons import reason_given
from .requests import handle
from .telling import known_again
from .treated import blocking_start_up

#: booked like a tentative visit, whatever still stops its work
WAITS = "waits"


@transaction.atomic
def book_visit(
    *,
    job: Job,
    held: Held,
    by: User,
    now: datetime,
    note: str = "",
    status: str = Visit.Status.CONFIRMED,
    follow_ups: Iterable[FollowUp] = (),
    writes: bool = True,
) -> Visit:
    """Hold the time of lead and helper, tie the promises it keeps, write to the customer."""
    if job.status != Job.Status.OPEN:
        raise WrongState("The job is closed: open a new one.")
    check(held, now=now)
    if status != WAITS:
        _check_water(job, now=now)
    must_be_there(held=held, job=job)
    arrive_from, arrive_until = held.window
    visit = Visit.objects.create(
        job=job,
        lead=held.lead,
        helper=held.helper,
        starts_at=held.starts_at,
        ends_at=held.ends_at,
        arrive_from=arrive_from,
        arrive_until=arrive_until,
        time_zone=zone_of(job.site).key,
        note=note,
        status=Visit.Status.TENTATIVE if status == WAITS else status,
        booked_at=now,
        booked_by=by,
    )
    _hold(visit)
    for follow_up in follow_ups:
        _tie(follow_up, visit)
    log(verb="booked", subject=visit, by=by, now=now, site=job.site)
    if status == Visit.Status.CONFIRMED and writes:
        visit_confirmation.write(visit=visit, now=now)
    return visit


@transaction.atomic
def move_visit(
    *, visit: Visit, version: int, held: Held, by: User, now: datetime, seen: int = 0
) -> Visit:
    """Another time or other people; the second of two savings sees the first.

    Requests of the customer up to `seen`, the newest on the page, are handled by it.

    The customer hears of it where day, hours told or person are others than before. Nothing
    changed is nothing done.
    """
    current = _lock(visit)
    if not current.is_to_come:
        raise WrongState(f"The visit is {current.get_status_display()} and cannot be moved.")
    if current.version != version:
        raise VisitChanged("Somebody changed this visit meanwhile: look at both times.")
    held = moved_with(current, held)
    check(held, now=now, moving=current)
    refuse_move(current, held.starts_at)
    must_be_there(held=held, job=current.job, moving=current)
    before, told_before = held_by(current), told_by(current)
    current.lead, current.helper = held.lead, held.helper
    current.starts_at, current.ends_at = held.starts_at, held.ends_at
    current.arrive_from, current.arrive_until = held.window
    if (held_by(current), told_by(current)) == (before, told_before):
        return current
    current.version += 1
    if told_by(current) != told_before:
        current.sequence += 1
    if told_by(current)[:2] != told_before[:2]:
        current.customer_confirmed_at = None  # it was about the hours before
        current.time_zone = zone_of(current.job.site).key
    current.save()
    current.slots.all().delete()
    _hold(current)
    handle(visit=current, seen=seen, how="moved the visit", by=by, now=now)
    log(verb="moved", subject=current, by=by, now=now, site=current.job.site)
    if told_by(current) != told_before:
        _write_anew(current, now=now)
    return current


def _write_anew(visit: Visit, *, now: datetime) -> None:
    """A firm visit is told anew; one that is only held is asked about anew, if it was before."""
    knowing = known_again(visit=visit, now=now)
    if not visit.is_only_held:
        visit_moved.write(visit=visit, now=now, besides=knowing)
    elif not knowing and visit_proposed.was_written(visit):
        visit_proposed.write(visit=visit, now=now)


@transaction.atomic
def confirm_visit(*, visit: Visit, by: User, now: datetime) -> Visit:
    """A time that was only held is firm: the customer is told."""
    visit = _lock(visit)
    _must_be_only_held(visit, now=now)
    _check_water(visit.job, now=now)
    visit.status = Visit.Status.CONFIRMED
    visit.version += 1
    visit.save(update_fields=["status", "version"])
    log(verb="confirmed", subject=visit, by=by, now=now, site=visit.job.site)
    visit_confirmation.write(visit=visit, now=now)
    return visit


@transaction.atomic
def propose_visit(*, visit: Visit, by: User, now: datetime) -> Visit:
    """Ask the customer by mail whether the time held would suit; a yes makes it firm."""
    visit = _lock(visit)
    _must_be_only_held(visit, now=now)
    if visit_proposed.write(visit=visit, now=now) is None:
        raise WrongState("This customer cannot be mailed: telephone, then confirm the visit.")
    log(verb="proposed", subject=visit, by=by, now=now, site=visit.job.site)
    return visit


def _must_be_only_held(visit: Visit, *, now: datetime) -> None:
    if not visit.is_only_held:
        raise WrongState(f"The visit is {visit.get_status_display()} already.")
    if visit.arrive_until <= now:
        raise WrongState("The hours of this visit are over: move it first.")
    refuse_while_waiting(visit, now)


def held_by(visit: Visit) -> tuple[object, ...]:
    """Whose time a visit holds, and which."""
    return visit.lead_id, visit.helper_id, visit.starts_at, visit.ends_at


def told_by(visit: Visit) -> tuple[datetime, datetime, int]:
    """What a customer is told of a visit: the day, the hours, and who comes."""
    return visit.arrive_from, visit.arrive_until, visit.lead_id


@transaction.atomic
def cancel_visit(*, visit: Visit, reason: str, by: User, now: datetime, seen: int = 0) -> Visit:
    """Free the time, give the promises back unchanged, tell the customer."""
    reason_given(reason, "Say why the visit is cancelled.")
    visit = _lock(visit)
    _must_be_to_come(visit)
    visit.status = Visit.Status.CANCELLED
    visit.cancelled_reason = reason
    visit.sequence += 1
    visit.version += 1
    visit.save(update_fields=["status", "cancelled_reason", "sequence", "version"])
    visit.slots.all().delete()
    give_back(visit)
    handle(visit=visit, seen=seen, how="cancelled the visit", by=by, now=now)
    log(verb="cancelled", subject=visit, by=by, now=now, site=visit.job.site, reason=reason)
    visit_cancelled.write(visit=visit, now=now)
    return visit


@transaction.atomic
def set_out(*, visit: Visit, by: User, now: datetime, at: datetime | None = None) -> Visit:
    visit = _lock(visit)
    _must_be_to_come(visit)
    moment = done_on([visit], at, now)
    _must_be_today(visit, now=moment)
    if visit.status == Visit.Status.ON_SITE:
        raise WrongState("Arrived already: undo the arrival first, with a reason.")
    stood, visit.status = visit.status, Visit.Status.EN_ROUTE
    visit.save(update_fields=["status"])
    site, done = visit.job.site, moment.isoformat()
    log(verb="set_out", subject=visit, by=by, now=now, site=site, done=done, stood=stood)
    return visit


@transaction.atomic
def arrive(*, visit: Visit, by: User, now: datetime, at: datetime | None = None) -> Visit:
    """Stamp the arrival; a second press keeps the first time."""
    visit = _lock(visit)
    _must_be_to_come(visit)
    moment = done_on([visit], at, now)
    if visit.status == Visit.Status.ON_SITE:
        return visit
    _must_be_today(visit, now=moment)
    _must_not_be_elsewhere(visit, by=by)
    stood, visit.status = visit.status, Visit.Status.ON_SITE
    visit.arrived_at = moment
    visit.save(update_fields=["status", "arrived_at"])
    log(verb="arrived", subject=visit, by=by, now=now, site=visit.job.site, stood=stood)
    return visit


@transaction.atomic
def undo_arrival(
    *, visit: Visit, reason: str, by: User, now: datetime, at: datetime | None = None
) -> Visit:
    """Set out or arrived by mistake: the visit stands as it did before, and the log says why."""
    visit = _lock(visit)
    moment = done_on([visit], at, now)
    if visit.status not in (Visit.Status.EN_ROUTE, Visit.Status.ON_SITE):
        raise WrongState("Nobody has set out or arrived.")
    reason_given(reason, "Say why it is undone.")
    told = {
        "was": visit.arrived_at.isoformat() if visit.arrived_at else "",
        "done": moment.isoformat(),
    }
    visit.status, visit.arrived_at = _stood_before(visit), None
    visit.save(update_fields=["status", "arrived_at"])
    site = visit.job.site
    log(verb="arrival_undone", subject=visit, by=by, now=now, site=site, reason=reason, **told)
    return visit


def _stood_before(visit: Visit) -> str:
    """Firm, or only held: what it was when somebody set out; firm where nothing is noted."""
    rows = LogEntry.objects.filter(subject_type=visit._meta.label_lower, subject_id=visit.pk)
    went = rows.filter(verb__in=("set_out", "arrived")).order_by("-at", "-pk")
    stood = (str(row.data.get("stood", "")) for row in went)
    before = next((status for status in stood if status != Visit.Status.EN_ROUTE), "")
    return before or Visit.Status.CONFIRMED


def _must_be_today(visit: Visit, *, now: datetime) -> None:
    if company_day(visit.starts_at) > company_day(now):
        day = timezone.localtime(visit.starts_at)
        raise WrongState(f"This visit is on {day:%A %-d %B}: have it moved to today first.")


def _must_not_be_elsewhere(visit: Visit, *, by: User) -> None:
    """One person is in one house at a time."""
    person = by if by.pk in (visit.lead_id, visit.helper_id) else visit.lead
    on_site = Visit.objects.filter(status=Visit.Status.ON_SITE).exclude(pk=visit.pk)
    other = on_site.of_technician(person).select_related("job__site").first()
    if other:
        raise WrongState(
            f"{person.get_full_name()} is still on site at {other.job.site}: end that visit, or "
            "undo its arrival."
        )


@transaction.atomic
def no_access(
    *, visit: Visit, note: str, by: User, now: datetime, at: datetime | None = None
) -> Visit:
    """Nobody let us in. Needs the arrival and what was tried; promises go back unchanged."""
    visit = _lock(visit)
    _must_be_to_come(visit)
    moment = left_at(visit, at, now)
    if visit.arrived_at is None:
        raise WrongState("Stamp the arrival first, then say that there was no access.")
    if not note.strip():
        raise BadEntry("Say what was tried: bell, telephone, gate.", field="note")
    _end(visit, Visit.Outcome.NO_ACCESS, note=note, by=by, now=now, left_at=moment)
    give_back(visit)
    log(verb="no_access", subject=visit, by=by, now=now, site=visit.job.site)
    no_access_letter.write(visit=visit, now=now)
    return visit


def left_at(visit: Visit, at: datetime | None, now: datetime) -> datetime:
    """When the house was left, after it was reached."""
    moment = done_on([visit], at, now)
    if at and visit.arrived_at and moment < visit.arrived_at:
        raise OtherTime("The time lies before the arrival.", field="at")
    return moment


def give_back(visit: Visit) -> None:
    """The promises of a visit that did not happen are due again, with their first due day."""
    FollowUp.objects.filter(visit=visit, status=FollowUp.Status.BOOKED).update(
        status=FollowUp.Status.OPEN, visit=None
    )


def _end(
    visit: Visit, outcome: str, *, note: str, by: User, now: datetime, left_at: datetime
) -> None:
    visit.status = Visit.Status.CLOSED
    visit.outcome = outcome
    visit.outcome_note = note
    visit.left_at = left_at
    visit.closed_at = now
    visit.closed_by = by
    visit.version += 1
    visit.save()
    _free_rest(visit, left_at)


def _free_rest(visit: Visit, left_at: datetime) -> None:
    """Time that was held and is not needed any more."""
    visit.slots.filter(quarter_at__gte=left_at).delete()


def _hold(visit: Visit) -> None:
    people = [person for person in (visit.lead_id, visit.helper_id) if person]
    rows = [
        TechnicianSlot(technician_id=person, quarter_at=at, visit=visit)
        for person in people
        for at in quarters(visit.starts_at, visit.ends_at)
    ]
    try:
        with transaction.atomic():  # the unique pair decides between two bookings at once
            TechnicianSlot.objects.bulk_create(rows)
    except IntegrityError:
        raise TechnicianBooked(_who_is_booked(visit), field="starts_at") from None


def _who_is_booked(visit: Visit) -> str:
    taken = (
        TechnicianSlot.objects.filter(
            technician__in=[visit.lead_id, visit.helper_id],
            quarter_at__in=quarters(visit.starts_at, visit.ends_at),
        )
        .exclude(visit=visit)
        .select_related("technician")
        .first()
    )
    name = taken.technician.get_full_name() if taken else "The technician"
    return f"{name} already has a visit in that time: choose another time or person."


def _tie(follow_up: FollowUp, visit: Visit) -> None:
    """The visit carries the promise; only an open one can be taken."""
    tied = FollowUp.objects.filter(pk=follow_up.pk, status=FollowUp.Status.OPEN).update(
        status=FollowUp.Status.BOOKED, visit=visit
    )
    if not tied:
        raise WrongState("This promise is booked or ended already: open the worklist again.")


def _check_water(job: Job, *, now: datetime) -> None:
    """Only "no drinking" stops a start-up."""
    if job.kind == Job.Kind.STARTUP:
        notice = blocking_start_up(job.site, job.train, now=now)
        if notice:
            raise DoNotUseOpen(
                f"Do not drink is open here ({notice.reason}). A start-up waits for a negative "
                "sample and a named person who lifts it.",
                field="job",
            )


def _lock(visit: Visit) -> Visit:
    return (
        Visit.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=visit.pk)
    )


def _must_be_to_come(visit: Visit) -> None:
    if not visit.is_to_come:
        raise WrongState(f"The visit is {visit.get_status_display()} already.")
