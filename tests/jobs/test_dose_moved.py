"""When a dose has moved: the closing of a record and the end of a visit say the same."""

import json
from datetime import date, timedelta

import pytest
from django.conf import settings
from django.core.management import call_command

from equipment.engineering.oxidant.feeding import DOSE_MOVED_PERCENT
from equipment.quantities import SettingName
from jobs.models import FollowUp, FollowUpRule, RuleCode
from jobs.records.loading import load_sheet
from jobs.workflows import records
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.follow_ups import feeder_changed_since
from jobs.workflows.records import close_record, open_record
from tests.acts import HOUR, booked, closed, opened
from tests.conftest import NOW
from tests.factories import make_job, make_setting, make_staff, make_startup_train, make_visit
from tests.record_scenes import (
    acknowledge_all,
    answer,
    answer_all,
    make_house,
    make_ready,
    read_final_step,
)

pytestmark = pytest.mark.django_db
BEFORE = NOW - timedelta(days=40)
MINUTE = timedelta(minutes=1)


def fed_before(stage, setting, strength):
    for name, value in ((SettingName.OUTPUT, setting), (SettingName.STRENGTH, strength)):
        if value is not None:
            make_setting(stage=stage, name=name, new_value=value, at=BEFORE)


@pytest.fixture
def told(monkeypatch):
    """The facts that the closing of a record hands to the rules."""
    heard = []
    happened = records.follow_ups.happened

    def listen(**facts):
        heard.append(facts)
        return happened(**facts)

    monkeypatch.setattr(records.follow_ups, "happened", listen)
    return heard


def moved_by_recheck(train, lead, left, told, *, found=None):
    """A recheck leaves the pump so; percent moved as the rules hear it."""
    job = make_job(train=train, kind="recheck")
    visit = make_visit(job=job, lead=lead, arrived_at=NOW - MINUTE, slots=False)
    record = open_record(job=job, purpose="recheck", by=lead, now=NOW)
    answer_all(record, lead, without=("pump-setting", "steps"))
    for side, percent in (("found", found), ("left", left)):
        feeder = train.stages.get(kind="feeder")
        if percent is not None:
            knob = {"stage": feeder, "side": side, "confirmed": True}
            answer(record, lead, "pump-setting", f"{percent:g}", **knob)
    acknowledge_all(record, lead)
    assert load_sheet(record, now=NOW).missing() == []
    close_record(record=record, visit=visit, by=lead, now=NOW)
    changed = FollowUpRule.Event.SETTING_CHANGED
    said = [facts for facts in told if facts["event"] == changed]
    return visit, said[0]["dose_moved_percent"] if said else 0.0


@pytest.mark.parametrize(
    ("setting", "strength", "left", "percent"),
    [
        (20, None, 20, 0),
        (20, None, 22, 10),
        (20, None, 22.5, 12.5),
        (20, None, 17, 15),
        (20, 70, 21, 5),
        (None, None, 20, 100),
        (None, 70, 20, 100),
        (0, 70, 20, 100),
    ],
)
def test_closing_and_leaving_agree(told, setting, strength, left, percent):
    house, _, lead = make_house()
    train = house.train
    feeder = train.stages.get(kind="feeder")
    fed_before(feeder, setting, strength)
    visit, moved = moved_by_recheck(train, lead, left, told, found=setting)
    assert moved == pytest.approx(percent)
    assert feeder_changed_since(feeder, visit.arrived_at) is (percent > DOSE_MOVED_PERCENT)


@pytest.mark.parametrize(
    ("filed", "found", "left", "percent"),
    [
        (20, 60, 20, 200 / 3),  # turned up by somebody, put back: the water saw 60 until today
        (60, 20, 20, 0),  # turned down by somebody and left so
        (20, 60, 66, 10),
        (20, 60, 40, 100 / 3),
    ],
)
def test_what_was_found_is_what_the_water_saw(told, filed, found, left, percent):
    call_command("load_rules", verbosity=0)
    house, _, lead = make_house()
    feeder = house.train.stages.get(kind="feeder")
    fed_before(feeder, filed, 70)
    visit, moved = moved_by_recheck(house.train, lead, left, told, found=found)
    assert moved == pytest.approx(percent)
    assert feeder_changed_since(feeder, visit.arrived_at) is (percent > DOSE_MOVED_PERCENT)
    closed(visit, "stable", at=NOW, now=NOW, feeder="on")
    promised = FollowUp.objects.alive().filter(rule__code=RuleCode.RECHECK)
    assert promised.exists() is (percent > DOSE_MOVED_PERCENT)


def test_a_defect_found_with_the_pump_running_is_looked_at_in_two_working_days(told):
    """10 June 2026 is a Wednesday: Friday 12 June, not two weeks."""
    call_command("load_rules", verbosity=0)
    house, _, lead = make_house()
    fed_before(house.train.stages.get(kind="feeder"), 20, 70)
    visit, _ = moved_by_recheck(house.train, lead, 30, told, found=20)
    closed(visit, "defect_found", at=NOW, now=NOW, feeder="on")
    promise = FollowUp.objects.alive().get(rule__code=RuleCode.RECHECK)
    assert promise.due_on == date(2026, 6, 12)


@pytest.mark.parametrize(("strength", "moved"), [(66, False), (60, True)])
def test_a_weaker_solution_at_the_same_setting_moves_it_too(strength, moved):
    feeder = make_startup_train().stages.get(kind="feeder")
    fed_before(feeder, 30, 70)
    make_setting(stage=feeder, name=SettingName.STRENGTH, new_value=strength, at=NOW)
    assert feeder_changed_since(feeder, NOW - MINUTE) is moved


def test_two_fills_of_a_visit_are_measured_from_before_the_first():
    """Mixed by half, then put right: the water is given what it was given before."""
    feeder = make_startup_train().stages.get(kind="feeder")
    fed_before(feeder, 30, 70)
    lead = make_staff("technician")
    for minutes, strength in ((0, 35), (10, 70)):
        at = NOW + minutes * MINUTE
        poured = Poured(at=at, product_gal=2, strength_g_l=strength)
        record_fill(stage=feeder, poured=poured, by=lead, now=at)
    assert not feeder_changed_since(feeder, NOW - MINUTE)


def test_a_dial_back_that_ends_where_it_began_is_a_change_only_until_its_record_is_closed():
    first, visit, lead = make_ready()
    close_record(record=first, visit=visit, by=lead, now=NOW + HOUR)
    feeder, at = first.train.stages.get(kind="feeder"), NOW + timedelta(days=30)
    visit = booked(opened(first.train, "startup", at=at), lead, at=at)
    record = open_record(job=visit.job, purpose="startup", by=lead, now=at)
    answer_all(record, lead, without=("steps",), now=at)
    read_final_step(record, lead, now=at)
    acknowledge_all(record, lead, now=at)
    assert feeder_changed_since(feeder, at - MINUTE)
    close_record(record=record, visit=visit, by=lead, now=at + HOUR)
    assert not feeder_changed_since(feeder, at - MINUTE)


def test_what_was_set_at_the_very_arrival_belongs_to_the_visit():
    feeder = make_startup_train().stages.get(kind="feeder")
    fed_before(feeder, 30, 70)
    make_setting(stage=feeder, new_value=60, at=NOW)
    assert feeder_changed_since(feeder, NOW)


def test_the_rule_that_is_shipped_asks_for_the_same_tenth():
    shipped = json.loads((settings.BASE_DIR / "fixtures/rules.json").read_text("utf-8"))
    asked = [
        way["filter"]["dose_moved_percent"]
        for rule in shipped
        for way in (rule, *rule.get("also_on", []))
        if "dose_moved_percent" in way.get("filter", {})
    ]
    assert asked == [{"above": DOSE_MOVED_PERCENT}]
