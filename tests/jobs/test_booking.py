"""Booking, moving, cancelling, no access: time is held once and promises are given back."""

from datetime import timedelta

import pytest

from jobs.errors import BadEntry, DoNotUseOpen, TechnicianBooked, VisitChanged, WrongState
from jobs.models import FollowUp, Job, LogEntry, OutboxMail, TechnicianSlot, Visit
from jobs.workflows.visits import (
    Held,
    arrive,
    book_visit,
    cancel_visit,
    move_visit,
    no_access,
    quarters,
)
from tests.conftest import NOW
from tests.factories import make_follow_up, make_job, make_notice, make_staff, make_train

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


@pytest.fixture
def people():
    return make_staff("dispatcher"), make_staff("technician"), make_staff("technician")


def book(job, lead, by, *, start=NOW, helper=None, **extra):
    held = Held(lead, start, start + HOUR, helper)
    return book_visit(job=job, held=held, by=by, now=NOW, **extra)


def test_held_time_is_rounded_outward_to_quarter_hours():
    start = NOW.replace(minute=7, second=0, microsecond=0)
    held = quarters(start, start + timedelta(minutes=31))
    assert held[0] == start.replace(minute=0)
    assert held[-1] == start.replace(minute=30)


def test_booking_holds_lead_and_helper_and_writes_the_confirmation(people):
    by, lead, helper = people
    visit = book(make_job(), lead, by, helper=helper)
    assert TechnicianSlot.objects.filter(visit=visit, technician=lead).count() == 4
    assert TechnicianSlot.objects.filter(visit=visit, technician=helper).count() == 4
    assert OutboxMail.objects.filter(visit=visit, template="visit_confirmation").count() == 1
    assert LogEntry.objects.filter(verb="booked", subject_id=visit.pk).exists()


def test_a_helper_cannot_be_in_two_houses(people):
    by, lead, helper = people
    book(make_job(), lead, by, helper=helper)
    with pytest.raises(TechnicianBooked, match="already has a visit"):
        book(make_job(), helper, by, start=NOW + timedelta(minutes=45))
    assert Visit.objects.count() == 1


def test_visits_that_only_touch_are_fine(people):
    by, lead, _ = people
    start = NOW.replace(minute=0, second=0, microsecond=0)
    book(make_job(), lead, by, start=start)
    book(make_job(), lead, by, start=start + HOUR)
    assert Visit.objects.count() == 2


def test_the_office_is_not_sent_to_a_basement(people):
    by, _, _ = people
    with pytest.raises(BadEntry, match="not a technician") as refused:
        book(make_job(), by, by)
    assert refused.value.field == "lead"


@pytest.mark.parametrize(
    ("minutes", "said"), [(-30, "after the start"), (0, "after the start"), (15 * 60, "at most 14")]
)
def test_an_impossible_span_is_refused(people, minutes, said):
    by, lead, _ = people
    held = Held(lead, NOW, NOW + timedelta(minutes=minutes))
    with pytest.raises(BadEntry, match=said):
        book_visit(job=make_job(), held=held, by=by, now=NOW)


def test_no_drinking_stops_a_start_up_and_nothing_else(people):
    by, lead, _ = people
    train = make_train()
    make_notice(site=train.site)
    with pytest.raises(DoNotUseOpen, match="negative sample"):
        book(make_job(train=train, kind=Job.Kind.STARTUP), lead, by)
    book(make_job(train=train, kind=Job.Kind.SAMPLE), lead, by)


def test_a_pending_sample_does_not_stop_a_start_up(people):
    by, lead, _ = people
    train = make_train()
    make_notice(site=train.site, level="sample_pending")
    assert book(make_job(train=train, kind=Job.Kind.STARTUP), lead, by).pk


def test_moving_frees_the_old_time_and_counts_what_the_customer_was_told(people):
    by, lead, other = people
    visit = book(make_job(), lead, by)
    later = NOW + 3 * HOUR
    held = Held(other, later, later + HOUR)
    moved = move_visit(visit=visit, version=1, held=held, by=by, now=NOW)
    assert (moved.sequence, moved.version, moved.lead_id) == (1, 2, other.pk)
    assert not TechnicianSlot.objects.filter(technician=lead).exists()
    assert OutboxMail.objects.filter(visit=visit, template="visit_moved").count() == 1


def test_the_second_of_two_movers_is_told(people):
    by, lead, _ = people
    visit = book(make_job(), lead, by)
    for hours in (2, 4):
        start = NOW + hours * HOUR
        held = Held(lead, start, start + HOUR)
        arguments = {"visit": visit, "version": 1, "held": held, "by": by, "now": NOW}
        if hours == 2:
            move_visit(**arguments)
        else:
            with pytest.raises(VisitChanged):
                move_visit(**arguments)
    visit.refresh_from_db()
    assert visit.starts_at == NOW + 2 * HOUR


def test_a_refused_move_changes_nothing(people):
    by, lead, other = people
    visit = book(make_job(), lead, by)
    book(make_job(), other, by)
    held = Held(other, NOW, NOW + HOUR)
    with pytest.raises(TechnicianBooked):
        move_visit(visit=visit, version=1, held=held, by=by, now=NOW)
    visit.refresh_from_db()
    assert (visit.lead_id, visit.version) == (lead.pk, 1)
    assert TechnicianSlot.objects.filter(visit=visit, technician=lead).count() == 4


def test_cancelling_gives_the_promise_back_unchanged(people):
    by, lead, _ = people
    train = make_train()
    promise = make_follow_up(train=train)
    due = promise.due_on
    visit = book(make_job(train=train), lead, by, follow_ups=[promise])
    promise.refresh_from_db()
    assert (promise.status, promise.visit_id) == ("booked", visit.pk)
    cancel_visit(visit=visit, reason="customer is away", by=by, now=NOW)
    promise.refresh_from_db()
    assert (promise.status, promise.visit_id, promise.first_due_on) == ("open", None, due)
    assert not TechnicianSlot.objects.exists()


def test_a_promise_is_booked_once(people):
    by, lead, other = people
    promise = make_follow_up(train=make_train())
    book(make_job(), lead, by, follow_ups=[promise])
    with pytest.raises(WrongState, match="booked or ended already"):
        book(make_job(), other, by, follow_ups=[promise])
    assert Visit.objects.count() == 1


def test_no_access_needs_the_arrival_and_keeps_the_promise_due(people):
    by, lead, _ = people
    promise = make_follow_up(train=make_train())
    visit = book(make_job(), lead, by, follow_ups=[promise])
    with pytest.raises(WrongState, match="arrival"):
        no_access(visit=visit, note="bell", by=lead, now=NOW)
    arrive(visit=visit, by=lead, now=NOW)
    no_access(visit=visit, note="bell and telephone", by=lead, now=NOW + HOUR / 2)
    promise.refresh_from_db()
    visit.refresh_from_db()
    assert promise.status == FollowUp.Status.OPEN
    assert (visit.status, visit.outcome) == ("closed", "no_access")


def test_arriving_twice_keeps_the_first_time(people):
    by, lead, _ = people
    visit = book(make_job(), lead, by)
    arrive(visit=visit, by=lead, now=NOW)
    assert arrive(visit=visit, by=lead, now=NOW + HOUR).arrived_at == NOW
