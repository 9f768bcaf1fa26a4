"""What does not fit in a system: one severity and one text, wherever it is said."""

import json

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils.html import escape

from equipment.engineering.plan.facts import FOLLOWS_FLOW, FOLLOWS_PUMP
from equipment.models import StoredAssessment, Train, Well
from tests.factories import (
    make_feed_pump,
    make_measurement,
    make_medium,
    make_product,
    make_startup_train,
)

pytestmark = pytest.mark.django_db
SOUND = {"switching": "current_relay", "injection": "before", "circuit_voltage": 120}


def ore_behind_the_feeder(train):
    train.stages.filter(kind="filter").update(medium=make_medium(is_manganese_oxide=True))


def weak_feeder(train):
    weak = make_feed_pump("weak", rated_pressure_psi=50)
    train.stages.filter(kind="feeder").update(feed_pump=weak)
    make_measurement(well=train.wells.get(), quantity_key="cut_out", value=60)


def variable_speed(train):
    Well.objects.update(control=Well.Control.CONSTANT)


CASES = {
    "always live": ({"switching": "always_live"}, None, True),
    "follows the well pump": ({"injection": "after"}, None, True),
    "follows the flow": ({"switching": "flow_switch"}, None, False),
    "motor leads of a drive": ({"switching": "switch_load"}, variable_speed, True),
    "Fixed feed on a variable-speed well": ({"switching": "drive_contact"}, variable_speed, True),
    "rated below the cut-out": ({}, weak_feeder, True),
    "voltages of circuit": ({"circuit_voltage": 240}, None, True),
    "breaks it down violently": ({}, ore_behind_the_feeder, True),
}


@pytest.mark.parametrize(("said", "case"), CASES.items())
def test_form_page_and_kept_plan_say_the_same(dispatcher_client, said, case):
    typed, happens, is_red = case
    train = make_startup_train()
    if happens:
        happens(train)
    sent = {"name": "House system", "wells": [train.wells.get().pk], "version": 1, **SOUND, **typed}
    where = reverse("train-edit", args=[train.pk])
    form = dispatcher_client.post(where, sent)
    assert form.status_code == (422 if is_red else 302)
    if is_red:
        dispatcher_client.post(where, {**sent, "seen": "on"})
    plan = reverse("train-plan", args=[train.pk])
    page = dispatcher_client.get(plan).content.decode()
    dispatcher_client.post(plan)
    kept = StoredAssessment.objects.get(name="train-plan").results["conflicts"]
    conflict = next(row for row in kept if said in row["sentence"])
    assert conflict["red"] is is_red
    shown = [page, form.content.decode()] if is_red else [page]
    for text in shown:
        for part in ("sentence", "figure", "remedy"):
            assert escape(conflict[part]) in text


def fed_with(train, oxidant, **product):
    stage = train.stages.get(kind="feeder")
    stage.product = make_product(oxidant, oxidant=oxidant, **product)
    stage.save()


def chlorine_past_sand(train):
    fed_with(train, "chlorine")
    train.stages.filter(kind="filter").update(medium=make_medium("plain", is_carbon=False))


def permanganate_alone(train):
    fed_with(train, "permanganate")
    train.stages.filter(kind="filter").delete()


WATER_CASES = {
    "No carbon behind a high dose": chlorine_past_sand,
    "No filter behind permanganate": permanganate_alone,
    "maximum use level": lambda train: fed_with(train, "peroxide", maximum_use_level_mg_l=5),
    "temperature not known": lambda train: None,
}


@pytest.mark.parametrize(("said", "happens"), WATER_CASES.items())
def test_what_the_water_makes_of_a_system_is_read_on_its_plan_and_kept(
    dispatcher_client, said, happens
):
    """Nobody measured the temperature, and 3 gpm lift no such bed in any water."""
    train = make_startup_train(switching="switch_load", injection="before")
    happens(train)
    make_measurement(well=train.wells.get(), quantity_key="pump_flow", value=3)
    for key, value in (("iron", 3), ("manganese", 0.3), ("sulfide", 2), ("ph", 7.2)):
        make_measurement(site=train.site, quantity_key=key, value=value, place="raw")
    plan = reverse("train-plan", args=[train.pk])
    page = dispatcher_client.get(plan).content.decode()
    dispatcher_client.post(plan)
    kept = StoredAssessment.objects.get(name="train-plan").results["conflicts"]
    found = [row for row in kept if said in f"{row['sentence']} {row['figure']} {row['remedy']}"]
    assert found, [row["sentence"] for row in kept]
    assert found[0]["red"] is True
    for part in ("sentence", "figure", "remedy"):
        assert escape(found[0][part]) in page


def test_a_system_without_a_dosing_pump_is_kept_without_a_word(dispatcher_client):
    train = make_startup_train()
    train.stages.filter(kind="feeder").delete()
    variable_speed(train)
    sent = {"name": "House system", "wells": [train.wells.get().pk], "version": 1}
    where = reverse("train-edit", args=[train.pk])
    assert dispatcher_client.post(where, sent).status_code == 302


def test_the_question_of_the_start_up_knows_the_same_ways_of_switching():
    """A start-up passes with whatever is switched by the well pump or by flow."""
    lines = json.loads((settings.BASE_DIR / "fixtures/checklists.json").read_text("utf-8"))
    asked = next(line for line in every_line(lines) if line["key"] == "switching")
    assert [tuple(choice) for choice in asked["choices"]] == list(Train.Switching.choices)
    assert asked["passes"] == {"one_of": [*FOLLOWS_PUMP, *FOLLOWS_FLOW]}


def every_line(data):
    return [line for block in data["blocks"].values() for line in block["lines"]]
