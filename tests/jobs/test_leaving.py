"""A dial-back that does not end today: four settings, the way out, and the recheck that follows.

Four settings in one visit and two working days are common practice, no source.
"""

import re
from datetime import date, timedelta
from html import unescape

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import SettingChange
from jobs.errors import WrongState
from jobs.fieldwork.leaving import leave_for_today, settings_tried, spent
from jobs.models import FollowUp
from jobs.records.loading import load_sheet
from jobs.workflows import dial_back
from jobs.workflows.leaving import leave_so
from jobs.workflows.records import close_record
from jobs.workflows.strips import Strips, take_strips
from jobs.workflows.visit_closing import Ending, close_visit
from tests.acts import HOUR, arrived, booked, closed, moved
from tests.conftest import NOW, signed_in
from tests.jobs.test_customer_paper import printed
from tests.record_scenes import acknowledge_all, answer_all, make_house

pytestmark = pytest.mark.django_db
WAIT = timedelta(minutes=100)
#: percent, band, tap clear: none of them stays
FOUR = ((42, (25, 50), True), (34, (10, 25), True), (20, (0, 0.5), False), (50, (50, 100), True))


@pytest.fixture
def house():
    call_command("load_rules", verbosity=0)
    record, visit, lead = make_house()
    answer_all(record, lead, without=("steps",))
    acknowledge_all(record, lead)
    return record, visit, lead


def dialled(record, lead, steps=FOUR, *, by_strip=False):
    at = NOW
    for number, (percent, (low, high), clear) in enumerate(steps, 1):
        setting = PumpSetting(percent=percent)
        dial_back.set_step(record=record, setting=setting, by=lead, now=at)
        at += WAIT
        tap = {"iron_clear": clear, "odour_clear": clear}
        seen = dial_back.Seen("clear", low, high, **tap, by_strip=by_strip)
        dial_back.read_step(record=record, number=number, seen=seen, by=lead, now=at)
    return at


def page_of(record, lead):
    page = signed_in(lead).get(reverse("record-block", args=[record.pk, "dial-back"]))
    return " ".join(unescape(page.content.decode()).split())


def test_before_the_fourth_setting_it_goes_on(house):
    record, _, lead = house
    at = dialled(record, lead, FOUR[:3])
    assert leave_for_today(load_sheet(record, now=at)) is None
    with pytest.raises(WrongState):
        leave_so(record=record, by=lead, now=at)


def test_after_four_it_is_left_at_the_last_one_inside_or_just_above_with_a_clear_tap(house, clock):
    record, _, lead = house
    clock(dialled(record, lead))
    assert "leave it, recheck in 2 working days" in page_of(record, lead)
    client = signed_in(lead)
    said = re.search(r'name="leave" value="([^"]+)"', page_of(record, lead))[1]
    client.post(reverse("record-step-read", args=[record.pk, 4]), {"leave": said})
    step = record.steps.get(is_final=True)
    assert (step.number, step.setting_percent) == (5, 34)
    assert "4 settings were tried" in step.left_because
    client.post(reverse("record-step-read", args=[record.pk, 5]), {"leave": said})
    assert record.steps.count() == 5
    assert "Left at 34 % for today." in page_of(record, lead).replace("\u202f", " ")
    assert settings_tried(load_sheet(record, now=NOW + 5 * WAIT)) == 4


def test_where_the_last_setting_stays_no_step_is_added(house):
    record, visit, lead = house
    at = dialled(record, lead, (FOUR[2], FOUR[3], FOUR[0], FOUR[1]))
    step = leave_so(record=record, by=lead, now=at)
    assert (step.number, step.setting_percent, record.steps.count()) == (4, 34, 4)
    close_record(record=record, visit=visit, by=lead, now=at)


def test_a_setting_at_which_the_tap_was_not_clear_is_not_left(house):
    """The last one reads inside the aim and its tap smells; the one before it is left."""
    record, _, lead = house
    at = dialled(record, lead, (FOUR[0], FOUR[3], FOUR[1], (24, (5, 10), False)))
    step = leave_so(record=record, by=lead, now=at)
    assert (step.number, step.setting_percent) == (5, 34)


def test_without_such_a_setting_none_is_offered(house, clock):
    record, _, lead = house
    dry = tuple((percent, (0, 0.5), False) for percent in (20, 30, 45, 67))
    clock(dialled(record, lead, dry))
    page = page_of(record, lead)
    assert "Unplug the dosing pump and leave the tanks in BYPASS (untreated)" in page
    assert "and leave it, recheck" not in page


def test_it_closes_so_and_the_recheck_is_due_in_two_working_days(house):
    """10 June 2026 is a Wednesday: Friday 12 June."""
    record, visit, lead = house
    at = dialled(record, lead)
    leave_so(record=record, by=lead, now=at)
    close_record(record=record, visit=visit, by=lead, now=at)
    assert SettingChange.objects.get(name="output_percent").new_value == 34
    ending = Ending(outcome="completed", feeder_left="on", bypass_left="service")
    close_visit(visit=visit, ending=ending, by=lead, now=at)
    promise = FollowUp.objects.alive().get(rule__code="f1")
    assert promise.due_on == date(2026, 6, 12)


def test_who_came_before_the_hour_and_was_called_away_leaves_a_recheck(house):
    """Booked for eleven, there at ten, one setting, away at half past with the pump on."""
    record, visit, lead = house
    visit = moved(visit, at=NOW + HOUR)
    arrived(visit, at=NOW)
    dial_back.set_step(record=record, setting=PumpSetting(percent=42), by=lead, now=NOW)
    closed(visit, "incomplete_time", at=NOW + HOUR / 2, feeder="on")
    promise = FollowUp.objects.alive().get(rule__code="f1")
    assert promise.due_on == date(2026, 6, 12)


def test_the_paper_says_that_it_was_left(house, owner_client):
    record, visit, lead = house
    at = dialled(record, lead)
    leave_so(record=record, by=lead, now=at)
    close_record(record=record, visit=visit, by=lead, now=at)
    page = owner_client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert "left so for a recheck" in page
    assert "left at 34" in page


def test_the_customer_reads_where_it_was_left_and_until_when(house, owner_client):
    """Left on Wednesday 10 June 2026: two working days later is Friday."""
    record, visit, lead = house
    strips = Strips(new_lot="S-114", expires_on=date(2027, 3, 31))
    take_strips(record=record, strips=strips, by=lead, now=NOW)
    at = dialled(record, lead, by_strip=True)
    leave_so(record=record, by=lead, now=at)
    close_record(record=record, visit=visit, by=lead, now=at)
    paper = printed(record)
    left = "Dosing pump: left for a recheck 4 settings were tried, as many as one visit should take"
    assert f"{left} by June 12, 2026" in paper
    assert paper.index("pump setting") < paper.index(left)
    assert "by June 12, 2026 to check the setting of the small dosing pump" in paper
    assert paper.count("to check the setting of the small dosing pump") == 1
    read = "Peroxide after the contact tank, at that setting strips S-114, good until 31 Mar 2027"
    assert f"{read}, June 10, 2026 10 to 25 mg/L" in paper
    assert "Test kits. Strips S-114, good until 31 Mar 2027." in paper
    page = owner_client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert "as many as one visit should take, by June 12, 2026" in page


def test_setting_on_takes_it_back(house):
    record, _, lead = house
    at = dialled(record, lead)
    leave_so(record=record, by=lead, now=at)
    dial_back.set_step(record=record, setting=PumpSetting(percent=30), by=lead, now=at)
    assert not record.steps.filter(is_final=True).exists()
    assert not record.overrides.exists()


def test_strips_that_failed_are_left_at_the_computed_setting(house):
    record, visit, lead = house
    expired = Strips(new_lot="S-1", expires_on=date(2026, 1, 31))
    take_strips(record=record, strips=expired, by=lead, now=NOW)
    dial_back.set_step(record=record, setting=PumpSetting(percent=42), by=lead, now=NOW)
    seen = dial_back.Seen("clear", 5, 10, iron_clear=True, odour_clear=True, by_strip=True)
    dial_back.read_step(record=record, number=1, seen=seen, by=lead, now=NOW + WAIT)
    sheet = load_sheet(record, now=NOW + WAIT)
    computed = sheet.outcomes.of("feed-setting").value("setting")
    step = leave_so(record=record, by=lead, now=NOW + WAIT)
    assert step.setting_percent == pytest.approx(computed, abs=1)
    assert computed % 1
    assert step.setting_percent == int(computed), "a mark of the pump, the one below"
    close_record(record=record, visit=visit, by=lead, now=NOW + WAIT)


def test_minutes_gallons_and_the_well_of_today_are_said(house, clock):
    """100 min at 5 gpm: 500 gal. Three turnovers are 94.0 min and 470 gal; the well gives 2."""
    record, _, lead = house
    at = dialled(record, lead, FOUR[:1])
    clock(at)
    took = spent(load_sheet(record, now=at))
    assert (took.minutes, took.gallons) == (100, 500)
    page = page_of(record, lead)
    assert "1 setting of 4 at most, 100 min, 500 gal to waste" in page
    assert "A step takes 94 min and 470 gal" in page
    assert "Say below what the well gives today" in page
    answer_all(record, lead, answers={"yield-today": "2"}, without=("steps",), now=at)
    page = page_of(record, lead)
    assert "the well gives 2 today: a step draws 282 gal more" in page


def test_settings_of_another_visit_do_not_count(house):
    """Four settings, called away, and back the next day."""
    record, visit, lead = house
    arrived(visit, at=NOW)
    at = dialled(record, lead)
    assert settings_tried(load_sheet(record, now=at)) == 4
    closed(visit, "incomplete_time", at=at, feeder="on")
    following = booked(record.job, lead, at=NOW + 24 * HOUR, now=at)
    arrived(following)
    assert settings_tried(load_sheet(record, now=NOW + 25 * HOUR)) == 0
