"""Strips: entered once, read blank and in a known mix, and what is not used when they fail.

That strips must read a known mix from 10 to 25 and a blank below 0.5 is common practice, no source.
"""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from equipment.engineering.oxidant.kits import known_mix, strips_fault
from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.errors import BadEntry, WrongState
from jobs.fieldwork.advice import steps_read
from jobs.models import StripCheck, StripLot
from jobs.records.loading import load_sheet
from jobs.workflows import dial_back
from jobs.workflows.strips import Strips, take_strips
from tests.conftest import NOW, signed_in
from tests.record_scenes import answer_all, make_house

pytestmark = pytest.mark.django_db
READ = NOW + timedelta(hours=3)
GOOD, OVER = date(2027, 3, 31), date(2026, 6, 9)


@pytest.fixture
def house():
    record, _, lead = make_house()
    answer_all(record, lead, without=("steps",))
    return record, lead


def taken(record, lead, *, expires_on=GOOD, at=NOW, **read):
    strips = Strips(new_lot="S-114", expires_on=expires_on, **read)
    return take_strips(record=record, strips=strips, by=lead, now=at)


def read(record, lead, number=1, *, now=READ, low=5.0, high=10.0, by_strip=True):
    seen = dial_back.Seen("clear", low, high, iron_clear=True, odour_clear=True, by_strip=by_strip)
    return dial_back.read_step(record=record, number=number, seen=seen, by=lead, now=now)


def set_to(record, lead, percent=20, now=NOW):
    return dial_back.set_step(record=record, setting=PumpSetting(percent=percent), by=lead, now=now)


def page_of(record, lead):
    page = signed_in(lead).get(reverse("record-block", args=[record.pk, "dial-back"]))
    return " ".join(page.content.decode().split())


def test_the_known_mix_by_mass_over_volume():
    """7 percent by weight is 71.6 g/L (density 1.0229, from memory), a gallon 3785.41 mL: 71.6 mg
    in 3.786 L are 18.9 mg/L, between the pads 10 and 25."""
    assert known_mix(1, 10 * 7 * 1.0229, 3785.41) == pytest.approx(18.9, abs=0.05)


@pytest.mark.parametrize(
    ("read", "fails"),
    [
        ({"blank": (0, 0.5)}, False),
        ({"blank": (0.5, 2)}, True),
        ({"mix": (10, 25)}, False),
        ({"mix": (5, 10)}, True),
        ({"mix": (25, 50)}, True),
        ({"blank": (0, 0.5), "mix": (50, float("inf"))}, True),
        ({}, False),
    ],
)
def test_what_strips_must_read(read, fails):
    assert bool(strips_fault("peroxide", **read)) is fails


def test_no_known_mix_is_asked_of_strips_for_chlorine():
    assert strips_fault("chlorine", mix=(0, 0.5)) == ""


def test_a_lot_is_entered_once_and_chosen_afterwards(house):
    record, lead = house
    client, where = signed_in(lead), reverse("record-strips", args=[record.pk])
    client.post(where, {"new_lot": "S-114", "expires_on": "2027-03-31", "blank": "0-0.5"})
    lot = StripLot.objects.get()
    client.post(where, {"lot": lot.pk, "mix": "10-25"})
    client.post(where, {"new_lot": "s-114"})
    assert StripLot.objects.count() == 1
    assert [check.lot for check in record.strip_checks.all()] == [lot] * 3
    set_to(record, lead)
    assert "Read by strips S-114, good until 31 Mar 2027." in page_of(record, lead)


@pytest.mark.parametrize(
    ("sent", "field"),
    [
        ({}, "lot"),
        ({"new_lot": "S-9"}, "expires_on"),
        ({"new_lot": "S-9", "expires_on": "soon"}, "expires_on"),
    ],
)
def test_half_a_lot_is_refused_at_its_box(house, sent, field):
    record, lead = house
    answer = signed_in(lead).post(reverse("record-strips", args=[record.pk]), sent)
    assert answer.status_code == 422
    assert field in answer.context["strips_form"].errors
    assert not StripLot.objects.exists()


def test_another_expiry_of_a_known_lot_is_refused(house):
    record, lead = house
    taken(record, lead)
    with pytest.raises(BadEntry, match="on file"):
        taken(record, lead, expires_on=OVER)


@pytest.mark.parametrize(
    ("state", "said"),
    [
        ({"expires_on": OVER}, "strips S-114 were good until 9 Jun 2026"),
        ({"blank": (0.5, 2.0)}, "the blank read 0.5 to 2 mg/L, not below 0.5"),
        ({"mix": (2.0, 5.0)}, "the known mix read 2 to 5 mg/L, not 10 to 25"),
        ({"mix": (100.0, None)}, "the known mix read above 100 mg/L"),
    ],
)
def test_a_reading_by_such_strips_is_kept_marked_and_not_used(house, state, said):
    record, lead = house
    taken(record, lead, **state)
    set_to(record, lead)
    step = read(record, lead)
    assert (step.residual_low_mg_l, step.residual_high_mg_l) == (5, 10)
    assert said in step.doubt
    sheet = load_sheet(record, now=READ)
    assert steps_read(sheet) == []
    assert not sheet.advice.value("stop")
    with pytest.raises(WrongState):
        dial_back.keep_as_final(record=record, number=1, by=lead, now=READ)
    page = page_of(record, lead)
    assert said in page
    assert "come back with new strips within two working days" in page


def test_the_same_strips_taken_twice_on_a_day_are_one_check(house):
    record, lead = house
    first = taken(record, lead)
    assert taken(record, lead, at=NOW + timedelta(minutes=5)) == first
    assert StripCheck.objects.count() == 1
    taken(record, lead, at=NOW + timedelta(days=1))
    assert StripCheck.objects.count() == 2


def test_strips_are_good_until_the_end_of_their_day(house):
    record, lead = house
    taken(record, lead, expires_on=date(2026, 6, 10))
    set_to(record, lead)
    assert read(record, lead).doubt == ""


def test_a_meter_is_not_doubted_for_the_strips(house):
    record, lead = house
    taken(record, lead, expires_on=OVER)
    set_to(record, lead)
    step = read(record, lead, low=8.0, high=8.0, by_strip=False)
    assert (step.doubt, step.strips) == ("", None)
    assert dial_back.keep_as_final(record=record, number=1, by=lead, now=READ).is_final


def test_read_again_without_a_wait_and_both_are_kept(house):
    record, lead = house
    taken(record, lead, mix=(2.0, 5.0))
    set_to(record, lead)
    read(record, lead, low=2.0, high=5.0)
    taken_now = Strips(new_lot="S-200", expires_on=GOOD, mix=(10.0, 25.0))
    take_strips(record=record, strips=taken_now, by=lead, now=READ)
    again = signed_in(lead).post(
        reverse("record-step-read", args=[record.pk, 1]),
        {"look": "clear", "band": "5-10", "iron_clear": "yes", "odour_clear": "yes"},
    )
    assert again.status_code == 302
    first, second = record.steps.order_by("number")
    assert (first.residual_low_mg_l, bool(first.doubt)) == (2, True)
    assert (second.residual_low_mg_l, second.doubt) == (5, "")
    assert second.set_at == first.set_at
    with pytest.raises(WrongState, match="set again since"):
        read(record, lead, 1)


def test_what_was_read_before_new_strips_stays_as_it_was_judged(house):
    record, lead = house
    set_to(record, lead)
    step = read(record, lead)
    taken(record, lead, expires_on=OVER, at=READ)
    step.refresh_from_db()
    assert step.doubt == ""


def test_a_reading_is_judged_by_the_strips_of_its_moment(house):
    """Told an hour later, when others had been taken into use."""
    record, lead = house
    taken(record, lead)
    set_to(record, lead)
    over = Strips(new_lot="S-9", expires_on=OVER)
    later = READ + timedelta(hours=1)
    take_strips(record=record, strips=over, by=lead, now=later)
    seen = dial_back.Seen("clear", 5, 10, iron_clear=True, odour_clear=True, by_strip=True)
    step = dial_back.read_step(
        record=record, number=1, seen=seen, by=lead, now=later + timedelta(hours=1), at=READ
    )
    assert (step.strips.lot, step.doubt) == ("S-114", "")
    assert "Use new strips" not in page_of(record, lead)
