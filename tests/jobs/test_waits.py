"""The contact time: confirmed before it counts, still when stopped, taken back with a reason."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.errors import BadEntry, WrongState
from jobs.models import Company, DoNotUse
from jobs.workflows.timers import restart_timer, start_timer, stop_timer, undo_timer
from tests.acts import HOUR, poured
from tests.conftest import NOW, signed_in
from tests.factories import make_measurement
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)


@pytest.fixture
def house(clock):
    record, _, lead = make_house()
    answer(record, lead, "disinfect-scope", "here")
    poured(record, lead)
    return record, lead, signed_in(lead)


def wait(client, record, **sent):
    told = {"line": "contact", "block": "disinfect", **sent}
    return client.post(
        reverse("record-timer", args=[record.pk]), told, follow=True
    ).content.decode()


def page(client, record):
    return client.get(reverse("record-block", args=[record.pk, "disinfect"])).content.decode()


def test_one_tap_does_not_start_the_contact(house):
    record, _, client = house
    html = wait(client, record, do="start")
    assert "Confirm first that the chlorine is in" in html
    assert not record.timers.exists()
    assert "every tap reads its target" in page(client, record)
    wait(client, record, do="start", sure="1")
    assert record.timers.get().started_at == NOW


def test_a_running_wait_is_sent_with_the_clock_of_the_server(house, clock):
    record, _, client = house
    wait(client, record, do="start", sure="1")
    clock(NOW + HOUR)
    html = page(client, record)
    assert (
        'data-started-at="2026-06-10T10:00:00-04:00" data-now="2026-06-10T11:00:00-04:00"' in html
    )
    assert "11:00" in html.split("data-left>")[1][:10]


def test_a_page_that_cannot_ring_says_for_when_to_set_an_alarm(house, clock):
    """Twelve hours from ten in the morning at the house; twenty-four where chlorine is weak."""
    record, _, client = house
    wait(client, record, do="start", sure="1")
    clock(NOW + HOUR)
    said = " ".join(page(client, record).split())
    assert "This page cannot ring. Set your own alarm: <strong>22:00</strong>" in said
    record.timers.update(needed_minutes=24 * 60)
    assert "Set your own alarm: Thursday <strong>10:00</strong>" in " ".join(
        page(client, record).split()
    )
    clock(NOW + 25 * HOUR)
    assert "cannot ring" not in page(client, record), "it is over"


def test_a_stopped_wait_stands_still(house, clock):
    record, _, client = house
    wait(client, record, do="start", sure="1")
    clock(NOW + 2 * HOUR)
    wait(client, record, do="stop")
    clock(NOW + 6 * HOUR)
    html = page(client, record)
    assert "data-started-at" not in html
    assert "10:00" in html.split("data-left>")[1][:10]
    assert "h:min short" in html
    assert "enough time passed" not in html


def test_a_stop_by_mistake_is_taken_back_and_the_wait_goes_on(house, clock):
    record, _, client = house
    wait(client, record, do="start", sure="1")
    clock(NOW + 2 * HOUR)
    wait(client, record, do="stop")
    clock(NOW + 2 * HOUR + MINUTE)
    assert "Say why this is taken back." in wait(client, record, do="undo")
    html = wait(client, record, do="undo", reason="pressed in the pocket")
    assert "9:59" in html.split("data-left>")[1][:10], "11 h 59 min of 12 h less 2 h"
    said = (
        "Contact time, stopped June 10, 2026, 12:00 pm: taken back June 10, 2026, 12:01 pm "
        "by Tess Alder, pressed in the pocket"
    )
    assert said in html
    printed = client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert said in printed


def test_a_start_by_mistake_is_taken_back_and_no_use_stays(house, clock):
    record, _, client = house
    wait(client, record, do="start", sure="1")
    html = wait(client, record, do="undo", reason="not poured yet")
    assert "Contact time, begun June 10, 2026, 10:00 am: taken back" in html
    assert not record.timers.exists()
    assert DoNotUse.objects.standing().get().level == "no_use"
    clock(NOW + HOUR)
    wait(client, record, do="start", sure="1")
    assert record.timers.get().started_at == NOW + HOUR


def test_flushing_that_was_read_is_not_undone(house):
    record, lead, _ = house
    told = {"record": record, "line_key": "contact", "by": lead}
    start_timer(**told, now=NOW)
    stop_timer(**told, now=NOW + HOUR)
    answer(record, lead, "flush-high", "1", now=NOW + HOUR + MINUTE)
    with pytest.raises(WrongState, match="Begin the wait anew"):
        undo_timer(**told, reason="mistake", now=NOW + 2 * HOUR)
    restart_timer(**told, now=NOW + 2 * HOUR)
    with pytest.raises(BadEntry, match="Say why"):
        undo_timer(**told, reason=" ", now=NOW + 2 * HOUR)


def test_nothing_is_taken_back_where_nothing_was_begun(house):
    record, lead, _ = house
    with pytest.raises(WrongState, match="not been started"):
        undo_timer(record=record, line_key="contact", reason="x", by=lead, now=NOW)


def test_weak_chlorine_stands_longer_than_the_shortest_time(house):
    """1000 mg h/L over 50 mg/L are 20 h (R 325.1661 table 5); the company asks for 12."""
    record, lead, _ = house
    well = record.train.wells.get()
    for key, value in (("casing_diameter", 6), ("total_depth", 140), ("static_level", 40)):
        make_measurement(well=well, quantity_key=key, value=value)
    answer(record, lead, "chlorine-product", "liquid")
    answer(record, lead, "chlorine-strength", "6")
    Company.objects.update(shock_target_mg_l=50)
    timer = start_timer(record=record, line_key="contact", by=lead, now=NOW)
    assert timer.needed_minutes == 20 * 60


def test_the_first_stop_stands(house):
    record, lead, _ = house
    told = {"record": record, "line_key": "contact", "by": lead}
    start_timer(**told, now=NOW)
    stop_timer(**told, now=NOW + HOUR)
    assert stop_timer(**told, now=NOW + 13 * HOUR).stopped_at == NOW + HOUR
