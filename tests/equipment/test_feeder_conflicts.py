"""What does not fit between feeder, pump and injection point. Common practice, no source."""

import pytest

from equipment.feeder_conflicts import FeederPlan, conflicts
from equipment.models import FeedPump, OxidantProduct

PUMP = FeedPump(nameplate_output_gpd=17, rated_pressure_psi=100, voltage=120)
PEROXIDE = OxidantProduct(oxidant="peroxide")
SOUND = {
    "switching": "current_relay",
    "injection": "before",
    "circuit_voltage": 120,
    "controls": ("switch",),
    "pump": PUMP,
    "product": PEROXIDE,
    "cut_out_psi": 60.0,
}


def titles(**changed):
    return [row.title for row in conflicts(FeederPlan(**{**SOUND, **changed}))]


def test_a_sound_plan_has_no_conflict():
    assert titles() == []


def test_what_is_not_known_is_no_conflict():
    assert conflicts(FeederPlan()) == []


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"switching": "always_live"}, "always live"),
        ({"injection": "after"}, "injecting after the pressure tank"),
        ({"switching": "switch_load", "controls": ("constant",)}, "leads of a variable-speed"),
        ({"switching": "drive_contact", "controls": ("constant",)}, "fixed feed"),
        ({"switching": "flow_switch", "injection": "after", "controls": ("constant",)}, "fixed"),
        ({"cut_out_psi": 101.0}, "below the cut-out"),
        ({"circuit_voltage": 240}, "voltages do not match"),
    ],
)
def test_each_dangerous_plan_is_a_stop(changed, said):
    found = conflicts(FeederPlan(**{**SOUND, **changed}))
    assert any(said in row.title and row.stops for row in found)


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"switching": "metered"}, "switched by flow, but injecting before"),
        ({"after_feeder_manganese_oxide": True}, "manganese dioxide"),
    ],
)
def test_a_poor_plan_asks_for_a_second_look(changed, said):
    found = conflicts(FeederPlan(**{**SOUND, **changed}))
    assert [row.stops for row in found if said in row.title] == [False]


@pytest.mark.parametrize(
    "changed",
    [
        {"switching": "metered", "injection": "after", "controls": ("constant",)},
        {"switching": "flow_switch", "injection": "after"},
        {"cut_out_psi": 100.0},
    ],
)
def test_the_right_answer_to_each_conflict_is_none_itself(changed):
    assert titles(**changed) == []


def test_stops_come_before_second_looks():
    found = conflicts(
        FeederPlan(**{**SOUND, "after_feeder_manganese_oxide": True, "circuit_voltage": 240})
    )
    assert [row.stops for row in found] == [True, False]
