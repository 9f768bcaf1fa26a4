"""What does not fit between dosing pump, switching and place. Common practice, no source."""

from dataclasses import replace

import pytest

from equipment.engineering.names import Switching
from equipment.engineering.plan.conflicts import feeder_conflicts
from equipment.engineering.plan.facts import (
    FOLLOWS_FLOW,
    FOLLOWS_PUMP,
    Facts,
    Feeder,
    Part,
    Source,
)
from equipment.engineering.plan.train import plan_train
from equipment.engineering.units import quantity as q

FEEDER = Feeder(
    oxidant="peroxide",
    rated_pressure=q(100, "psi"),
    voltage=120,
    circuit_voltage=120,
    switching="current_relay",
    injection="before",
)
CARBON = Part(key="carbon", label="Carbon filter", kind="filter", is_carbon=True)
ORE = Part(key="ore", label="Ore filter", kind="filter", is_manganese_oxide=True)
SOUND = Facts(source=Source(cut_out=q(60, "psi")), feeder=FEEDER, parts=(CARBON,))
CONSTANT = {"constant_pressure": True}


def changed(feeder=None, source=None, **parts):
    return replace(
        SOUND,
        feeder=replace(FEEDER, **(feeder or {})),
        source=replace(SOUND.source, **(source or {})),
        **parts,
    )


def found(facts):
    return {conflict.key: conflict.is_red for conflict in feeder_conflicts(facts)}


def test_a_sound_system_has_no_conflict():
    assert found(SOUND) == {}


def test_what_is_not_known_is_no_conflict():
    assert found(Facts()) == {}
    assert found(Facts(feeder=Feeder())) == {}


RED = [
    ("always-live", changed({"switching": "always_live"})),
    *(
        ("injection-after-tank", changed({"switching": name, "injection": "after"}))
        for name in FOLLOWS_PUMP
    ),
    ("fed-from-drive-leads", changed({"switching": "switch_load"}, CONSTANT)),
    ("fixed-feed-variable-speed", changed({"switching": "drive_contact"}, CONSTANT)),
    (
        "fixed-feed-variable-speed",
        changed({"switching": "flow_switch", "injection": "after"}, CONSTANT),
    ),
    ("feeder-pressure", changed(source={"cut_out": q(101, "psi")})),
    ("voltage", changed({"circuit_voltage": 240})),
    ("peroxide-before-manganese-oxide", changed(parts=(ORE, CARBON))),
]
LOOK_TWICE = [
    *(
        ("injection-before-tank", changed({"switching": name, "injection": "before"}))
        for name in FOLLOWS_FLOW
    ),
    ("switching-not-known", changed({"switching": ""}, CONSTANT)),
]


@pytest.mark.parametrize(("key", "facts"), RED)
def test_what_can_hurt_is_red(key, facts):
    assert found(facts)[key] is True


@pytest.mark.parametrize(("key", "facts"), LOOK_TWICE)
def test_what_only_works_badly_asks_for_a_second_look(key, facts):
    assert found(facts) == {key: False}


@pytest.mark.parametrize(("key", "facts"), [*RED, *LOOK_TWICE])
def test_the_whole_plan_says_the_same_of_it(key, facts):
    said = {conflict.key: conflict for conflict in feeder_conflicts(facts)}[key]
    planned = {conflict.key: conflict for conflict in plan_train(facts).conflicts}[key]
    assert planned == said
    assert said.remedy
    assert said.figure


@pytest.mark.parametrize(
    "facts",
    [
        changed({"switching": "metered", "injection": "after"}, CONSTANT),
        changed({"switching": "flow_switch", "injection": "after"}),
        changed(source={"cut_out": q(100, "psi")}),
        changed(parts=(replace(ORE, behind_feeder=False), CARBON)),
        changed({"oxidant": "chlorine"}, parts=(ORE, CARBON)),
    ],
)
def test_the_right_answer_to_each_conflict_is_none_itself(facts):
    assert found(facts) == {}


def test_red_comes_before_second_looks():
    facts = changed({"switching": "flow_switch", "circuit_voltage": 240})
    assert list(found(facts)) == ["voltage", "injection-before-tank"]


def test_each_way_of_switching_follows_one_thing():
    assert set(FOLLOWS_PUMP) | set(FOLLOWS_FLOW) | {Switching.ALWAYS_LIVE} == set(Switching)
    assert not set(FOLLOWS_PUMP) & set(FOLLOWS_FLOW)
