"""Setting out, arriving and ending in their order; a wrong arrival is undone with a reason."""

from datetime import timedelta

import pytest

from jobs.errors import BadEntry, WrongState
from jobs.models import LogEntry
from jobs.workflows.visits import arrive, set_out, undo_arrival
from tests.acts import HOUR, arrived, booked, closed, opened
from tests.conftest import NOW
from tests.factories import make_staff, make_train
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def a_visit(lead, *, at=NOW, **more):
    return booked(opened(make_train()), lead, at=at, now=NOW, **more)


@pytest.mark.parametrize("act", [set_out, arrive])
def test_nobody_sets_out_to_or_arrives_at_a_visit_of_next_week(lead, act):
    visit = a_visit(lead, at=NOW + 7 * DAY)
    with pytest.raises(WrongState, match="have it moved to today"):
        act(visit=visit, by=lead, now=NOW)


def test_yesterdays_visit_may_still_be_arrived_at(lead):
    assert arrived(a_visit(lead), at=NOW + DAY).arrived_at == NOW + DAY


def test_nobody_sets_out_after_arriving(lead):
    visit = arrived(a_visit(lead))
    with pytest.raises(WrongState, match="Arrived already"):
        set_out(visit=visit, by=lead, now=NOW + HOUR)


def test_one_person_is_in_one_house_at_a_time(lead):
    first, second = a_visit(lead), a_visit(lead, at=NOW + 2 * HOUR)
    arrived(first)
    with pytest.raises(WrongState, match=f"still on site at {first.job.site}"):
        arrived(second)
    closed(first)
    assert arrived(second).status == "on_site"
    assert arrived(a_visit(make_staff("technician"), at=NOW + 2 * HOUR)).status == "on_site"


def test_an_arrival_is_undone_with_a_reason_that_is_kept(lead):
    visit = arrived(a_visit(lead))
    with pytest.raises(BadEntry, match="why"):
        undo_arrival(visit=visit, reason=" ", by=lead, now=NOW)
    undone = undo_arrival(visit=visit, reason="wrong house", by=lead, now=NOW)
    assert (undone.status, undone.arrived_at) == ("confirmed", None)
    entry = LogEntry.objects.get(verb="arrival_undone")
    assert (entry.reason, entry.by) == ("wrong house", lead)
    with pytest.raises(WrongState, match="Nobody has set out"):
        undo_arrival(visit=visit, reason="again", by=lead, now=NOW)


@pytest.mark.parametrize("stood", ["tentative", "confirmed"])
@pytest.mark.parametrize("acts", [[set_out], [arrive], [set_out, arrive]])
def test_undone_the_visit_stands_as_firm_as_it_stood(lead, stood, acts):
    visit = booked(opened(make_train()), lead, at=NOW, now=NOW - DAY, status=stood)
    for _ in range(2):
        for act in acts:
            act(visit=visit, by=lead, now=NOW)
        assert undo_arrival(visit=visit, reason="wrong house", by=lead, now=NOW).status == stood


def test_a_visit_that_has_not_begun_is_not_ended(lead):
    visit = a_visit(lead, at=NOW + DAY)
    with pytest.raises(WrongState, match="has not begun"):
        closed(visit, at=NOW, now=NOW)


def test_completed_needs_a_closed_record():
    record, visit, lead = make_house()
    arrived(visit)
    with pytest.raises(BadEntry, match="Start-up\\) is open: close it") as refused:
        closed(visit, "completed")
    assert refused.value.field == "outcome"
    assert closed(visit, "incomplete_time").outcome == "incomplete_time"
    assert record.job.status == "open"
