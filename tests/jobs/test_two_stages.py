"""Two-stage work: a visit that waits for days to pass, or for what a laboratory finds.

States, days and words begin with what somebody did through a page or a workflow.
"""

from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.conf import settings
from django.urls import reverse

from equipment.models import Sample
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.models import OutboxMail, Visit, VisitWait
from jobs.schedule.waiting import State, waiting_of, waiting_visits
from jobs.workflows.held import Held
from jobs.workflows.samples import Result, enter_result, send_sample
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.visits import (
    arrive,
    cancel_visit,
    confirm_visit,
    move_visit,
    no_access,
    propose_visit,
)
from jobs.workflows.waits import WaitsFor, book_waiting, wait_for, wait_no_more
from tests.acts import opened
from tests.conftest import signed_in
from tests.factories import make_notice, make_site, make_staff, make_train

pytestmark = pytest.mark.django_db
ZONE = ZoneInfo(settings.TIME_ZONE)
#: a Monday
MONDAY = date(2026, 6, 8)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)


def at(day, hour, minute=0):
    return datetime.combine(day, time(hour, minute), tzinfo=ZONE)


NOW = at(MONDAY, 8)


@pytest.fixture(autouse=True)
def _clock(clock):
    clock(NOW)


@pytest.fixture
def desk():
    return make_staff("dispatcher", first_name="Marit", last_name="Fennel")


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def train():
    return make_train(site=make_site(street="3 Otter Lane"))


def booked(train, kind, lead, begins, what=None):
    """By the desk, for one hour."""
    desk = make_staff("dispatcher")
    job = opened(train, kind=kind, at=NOW)
    held = Held(lead, begins, begins + HOUR)
    return book_waiting(what=what, job=job, held=held, by=desk, now=NOW)


def letters():
    return list(OutboxMail.objects.order_by("pk").values_list("template", flat=True))


def sampled(train, by, taken_at):
    sample = Sample(
        site=train.site,
        kind="bacteria",
        taken_at=taken_at,
        taken_by=by,
        place=Sample.Place.KITCHEN,
        residual_free=True,
    )
    return send_sample(sample=sample, by=by, now=taken_at)


def read(sample, outcome, by, now):
    return enter_result(sample=sample, result=Result(outcome, on=now.date()), by=by, now=now)


def ended(visit):
    arrive(visit=visit, by=visit.lead, now=visit.starts_at)
    ending = Ending(outcome="completed", feeder_left="none", bypass_left="none")
    return close_visit(visit=visit, ending=ending, by=visit.lead, now=visit.ends_at)


def moved(visit, lead, begins, by):
    visit.refresh_from_db()
    held = Held(lead, begins, begins + HOUR)
    return move_visit(visit=visit, version=visit.version, held=held, by=by, now=NOW)


def test_a_gap_is_held_and_nobody_is_told_until_the_first_visit_is_done(train, lead, desk):
    first = booked(train, "service", lead, at(MONDAY, 10))
    told, gap = letters(), WaitsFor(after=first, days=5)
    with pytest.raises(BadEntry, match="Not before Saturday 13 June 2026: 5 days after") as early:
        booked(train, "sample", lead, at(MONDAY + 4 * DAY, 10), gap)
    assert early.value.field == "day"
    assert Visit.objects.count() == 1, "all or nothing"
    second = booked(train, "sample", lead, at(MONDAY + 7 * DAY, 10), gap)
    assert (second.status, letters()) == ("tentative", told)
    waiting = waiting_of(second, NOW)
    assert waiting.state == State.WAITS
    assert waiting.said == "5 days after the service of 8 June 2026, on 13 June 2026 or later"
    for act in (confirm_visit, propose_visit):
        with pytest.raises(WrongState, match="waits, and is only held: 5 days after"):
            act(visit=second, by=desk, now=NOW)
    ended(first)
    assert waiting_of(second, NOW + DAY).state == State.MET
    confirm_visit(visit=second, by=desk, now=NOW + DAY)
    assert letters()[-1] == "visit_confirmation"
    assert waiting_of(Visit.objects.get(pk=second.pk), NOW + DAY) is None


def test_where_the_first_visit_moves_the_second_is_too_early_until_it_moves_too(train, lead, desk):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    gap = WaitsFor(after=first, days=5)
    second = booked(train, "sample", lead, at(MONDAY + 7 * DAY, 10), gap)
    moved(first, lead, at(MONDAY + 3 * DAY, 10), desk)
    waiting = waiting_of(second, NOW)
    assert (waiting.state, waiting.not_before) == (State.EARLY, date(2026, 6, 16))
    assert waiting.said == "not before 16 June 2026, 5 days after the disinfection of 11 June 2026"
    with pytest.raises(BadEntry, match="Not before Tuesday 16 June 2026"):
        moved(second, lead, at(MONDAY + 7 * DAY, 14), desk)
    moved(second, lead, at(MONDAY + 8 * DAY, 10), desk)
    assert waiting_of(Visit.objects.get(pk=second.pk), NOW).state == State.WAITS


def test_what_waits_for_a_cancelled_visit_says_so(train, lead, desk):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    second = booked(train, "sample", lead, at(MONDAY + 7 * DAY, 10), WaitsFor(after=first, days=5))
    cancel_visit(visit=first, reason="moved away", by=desk, now=NOW)
    waiting = waiting_of(second, NOW)
    assert waiting.state == State.LOST
    assert waiting.said == "the disinfection of 8 June 2026 is cancelled"
    wait_no_more(visit=second, reason="done by another firm", by=desk, now=NOW)
    assert waiting_of(second, NOW) is None
    confirm_visit(visit=second, by=desk, now=NOW)
    with pytest.raises(WrongState, match="waits for nothing"):
        wait_no_more(visit=second, reason="again", by=desk, now=NOW)


def test_nobody_opened_is_not_done(train, lead):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    gap = WaitsFor(after=first, days=2)
    second = booked(train, "service", lead, at(MONDAY + 7 * DAY, 10), gap)
    arrive(visit=first, by=lead, now=first.starts_at)
    no_access(visit=first, note="bell", by=lead, now=first.starts_at + HOUR)
    assert waiting_of(second, NOW + DAY).said == "the disinfection of 8 June 2026 ended: no access"


def test_a_start_up_that_waits_for_a_result_may_be_held_over_do_not_drink(train, lead, desk):
    make_notice(site=train.site)
    first = booked(train, "sample", lead, at(MONDAY, 10))
    with pytest.raises(DoNotUseOpen):
        booked(train, "startup", lead, at(MONDAY + 4 * DAY, 9))
    second = booked(train, "startup", lead, at(MONDAY + 4 * DAY, 9), WaitsFor(after=first))
    assert waiting_of(second, NOW).said == "the sample is taken at the sample of 8 June 2026"
    with pytest.raises(WrongState):
        confirm_visit(visit=second, by=desk, now=NOW)
    sample = sampled(train, lead, at(MONDAY, 10, 30))
    ended(first)
    waiting = waiting_of(second, NOW + DAY)
    assert (waiting.state, waiting.said) == (
        State.WAITS,
        "no result yet of the sample of 8 June 2026",
    )
    read(sample, "negative", desk, at(MONDAY + 2 * DAY, 9))
    assert waiting_of(second, NOW + 2 * DAY).state == State.MET
    with pytest.raises(DoNotUseOpen):  # a named person lifts the notice first
        confirm_visit(visit=second, by=desk, now=NOW + 2 * DAY)


FOUND_SAID = "bacteria were found in the sample of 8 June 2026"


@pytest.mark.parametrize(
    ("outcome", "state", "said"),
    [
        ("positive", State.FOUND, FOUND_SAID),
        ("ecoli", State.FOUND, FOUND_SAID),
        ("spoiled", State.LOST, "the sample of 8 June 2026 was not usable: take another"),
    ],
)
def test_a_result_that_is_no_clean_one_keeps_it_waiting(train, lead, desk, outcome, state, said):
    sample = sampled(train, lead, at(MONDAY, 7))
    second = booked(train, "startup", lead, at(MONDAY + 7 * DAY, 9), WaitsFor(sample=sample))
    read(sample, outcome, desk, NOW + DAY)
    waiting = waiting_of(second, NOW + DAY)
    assert waiting.state == state
    assert waiting.said.startswith(said)
    another = sampled(train, lead, at(MONDAY + 2 * DAY, 7))
    wait_for(visit=second, what=WaitsFor(sample=another), by=desk, now=NOW + 2 * DAY)
    assert waiting_of(second, NOW + 2 * DAY).state == State.WAITS
    old = VisitWait.objects.get(ended_at__isnull=False)
    assert (old.ended_why, old.ended_by) == ("waits for something else", desk)


@pytest.mark.parametrize(
    ("today", "visit_on", "state"),
    [
        (MONDAY + 2 * DAY, MONDAY + 7 * DAY, State.WAITS),
        # late from the third working day; a weekend counts for nothing
        (MONDAY + 3 * DAY, MONDAY + 7 * DAY, State.LATE),
        # the day before the visit itself
        (MONDAY + DAY, MONDAY + 2 * DAY, State.LATE),
    ],
)
def test_a_result_that_never_comes_is_late(train, lead, today, visit_on, state):
    sample = sampled(train, lead, at(MONDAY, 7))
    second = booked(train, "service", lead, at(visit_on, 9), WaitsFor(sample=sample))
    assert waiting_of(second, at(today, 9)).state == state


def test_no_bottle_on_file_is_said(train, lead):
    first = booked(train, "sample", lead, at(MONDAY, 10))
    second = booked(train, "service", lead, at(MONDAY + 7 * DAY, 9), WaitsFor(after=first))
    ended(first)
    waiting = waiting_of(second, NOW + DAY)
    assert waiting.said == "no sample is on file from the sample of 8 June 2026"
    assert waiting.state == State.LOST


def test_of_several_things_the_worst_is_said(train, lead, desk):
    first = booked(train, "service", lead, at(MONDAY, 10))
    gap = WaitsFor(after=first, days=2)
    second = booked(train, "other", lead, at(MONDAY + 7 * DAY, 10), gap)
    sample = sampled(train, lead, at(MONDAY, 7))
    wait_for(visit=second, what=WaitsFor(sample=sample), by=desk, now=NOW)
    ended(first)
    assert waiting_of(second, NOW + DAY).state == State.WAITS, "one of two has come"
    read(sample, "positive", desk, NOW + DAY)
    assert waiting_of(second, NOW + DAY).state == State.FOUND


def test_a_firm_visit_is_not_made_to_wait(train, lead, desk):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    firm = booked(train, "service", lead, at(MONDAY + 7 * DAY, 10))
    with pytest.raises(WrongState, match="counts on it"):
        wait_for(visit=firm, what=WaitsFor(after=first, days=2), by=desk, now=NOW)


def test_what_cannot_be_waited_for_is_refused_at_its_field(train, lead, desk):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    later = booked(train, "service", lead, at(MONDAY + 9 * DAY, 10))
    other = make_train(site=make_site())
    elsewhere = sampled(other, lead, at(MONDAY, 7))
    next_door = booked(other, "service", lead, at(MONDAY, 13))
    helper = make_staff("technician")
    beside = booked(train, "other", helper, at(MONDAY + 7 * DAY, 10))
    gap = WaitsFor(after=first, days=2)
    second = booked(train, "sample", lead, at(MONDAY + 7 * DAY, 10), gap)
    for what, field in (
        (WaitsFor(), "waits_for"),
        (WaitsFor(after=later, days=2), "waits_for"),
        (WaitsFor(after=next_door, days=2), "waits_for"),
        (WaitsFor(after=beside), "waits_for"),
        (WaitsFor(after=second, days=2), "waits_for"),
        (WaitsFor(after=first, days=0), "wait_days"),
        (WaitsFor(sample=elsewhere), "waits_for"),
    ):
        with pytest.raises(BadEntry) as refused:
            wait_for(visit=second, what=what, by=desk, now=NOW)
        assert refused.value.field == field


def test_all_waiting_visits_are_read_in_three_queries(train, lead, django_assert_max_num_queries):
    first = booked(train, "sample", lead, at(MONDAY, 10))
    for days in (3, 4, 7, 8):
        booked(train, "service", lead, at(MONDAY + days * DAY, 12), WaitsFor(after=first))
    with django_assert_max_num_queries(3):
        assert len(waiting_visits(NOW)) == 4


# --- through the pages ----------------------------------------------------------------------------


def page_of(client, name, *args, query=""):
    text = client.get(reverse(name, args=args) + query).content.decode()
    return " ".join(text.split())


GAP_SAID = "5 days after the disinfection of 8 June 2026"


def test_from_booking_to_confirming_through_the_pages(train, lead, desk):
    client = signed_in(desk)
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    address = reverse("visit-book") + f"?site={train.site_id}&kind=sample"
    form = {
        "kind": "sample",
        "train": train.pk,
        "reported_on": "2026-06-08",
        "lead": lead.pk,
        "day": "2026-06-15",
        "start": "10:00",
        "status": "confirmed",
        "callback": "",
        "waits_for": f"gap-{first.pk}",
        "once": "two-stages",
    }
    assert "Say how many days." in client.post(address, form).content.decode()
    answer = client.post(address, {**form, "wait_days": "5"}, follow=True)
    page = " ".join(answer.content.decode().split())
    assert f"Only held, nobody is told: {GAP_SAID}" in page
    second = Visit.objects.latest("pk")
    assert "Confirm, tell the customer" not in page
    for where, args, query in (
        ("site-detail", [train.site_id], ""),
        ("day", [], "?on=2026-06-15"),
        ("worklist", [], "?show=waits"),
        ("visit-move", [second.pk], ""),
    ):
        assert GAP_SAID in page_of(client, where, *args, query=query), where
    assert "Waits for this visit" in page_of(client, "visit-cancel", first.pk)
    assert GAP_SAID not in page_of(client, "worklist"), "no act is wanted"
    cancel_visit(visit=first, reason="rain", by=desk, now=NOW)
    assert "the disinfection of 8 June 2026 is cancelled" in page_of(client, "worklist")
    said = {"reason": "they did it themselves", "once": "no-more"}
    client.post(reverse("visit-wait-no-more", args=[second.pk]), said)
    page = page_of(client, "visit-detail", second.pk)
    assert "they did it themselves, Marit Fennel" in page
    assert "Confirm, tell the customer" in page


def test_the_office_chooses_another_bottle_on_its_page(train, lead, desk):
    first = sampled(train, lead, at(MONDAY, 7))
    what = WaitsFor(sample=first)
    second = booked(train, "service", lead, at(MONDAY + 7 * DAY, 10), what)
    other = sampled(train, lead, at(MONDAY, 7, 30))
    said = {"waits_for": f"sample-{other.pk}", "wait_days": "", "once": "another"}
    signed_in(desk).post(reverse("visit-wait", args=[second.pk]), said)
    assert VisitWait.objects.standing().get().sample == other


def test_moving_offers_no_day_before_the_gap_is_over(train, lead, desk):
    first = booked(train, "disinfect", lead, at(MONDAY, 10))
    gap = WaitsFor(after=first, days=20)
    second = booked(train, "service", lead, at(MONDAY + 21 * DAY, 10), gap)
    page = page_of(signed_in(desk), "visit-move", second.pk)
    days = [part[:10] for part in page.split(f'value="{lead.pk}|')[1:]]
    assert days
    assert min(days) >= "2026-06-28"
