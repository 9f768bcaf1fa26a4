"""Well, pump and permanganate: what is refused and what is said. Printed values: published rows."""

import pytest

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import compute

from .examples import EXAMPLES


def ask(name, **changed):
    typed = {key: text for key, text in {**EXAMPLES[name], **changed}.items() if text is not None}
    return compute(name, **typed)[1]


@pytest.mark.parametrize(
    ("name", "changed", "key"),
    [
        ("well-yield", {"pumping_level": "60 ft"}, "pumping_level"),
        ("well-yield", {"rise": None}, "rise"),
        ("well-yield", {"rise_time": None}, "rise_time"),
        ("well-yield", {"pump_depth": "60 ft"}, "pump_depth"),
        ("pump-curve", {"pressure_high": "30 psi"}, "pressure_high"),
        ("pump-curve", {"flow_high_pressure": "12 gpm"}, "flow_high_pressure"),
        ("pump-curve", {"pressure": "80 psi"}, "pressure"),
        ("permanganate", {"iron": "0 mg/L", "manganese": None, "sulfide": None}, "iron"),
    ],
)
def test_what_makes_no_sense_is_refused_at_its_box(name, changed, key):
    with pytest.raises(EngineeringError) as refused:
        ask(name, **changed)
    assert refused.value.key == key


def test_two_hours_of_a_well_are_what_stands_above_the_pump_and_what_comes_in():
    """1.469 gal/ft in 6 in: 130 ft above (200 - 10) ft, and 1.76 gpm for 120 min (geometry)."""
    supply = ask("well-yield").two_hour_supply.m_as("gallon")
    assert supply == pytest.approx(130 * 1.469 + 120 * 1.7628, rel=1e-3)
    assert any("600 gal" in line for line in ask("well-yield").warnings)
    deep = ask("well-yield", pump_depth="500 ft")
    assert not any("600 gal" in line for line in deep.warnings)


@pytest.mark.parametrize(("minutes", "told"), [("29 min", True), ("30 min", False), (None, True)])
def test_a_short_test_says_little(minutes, told):
    warnings = " ".join(ask("well-yield", minutes=minutes).warnings)
    assert ("says little" in warnings) is told


@pytest.mark.parametrize(("psi", "told"), [(29, True), (40, False), (51, True)])
def test_outside_the_two_readings_it_is_a_guess(psi, told):
    assert bool(ask("pump-curve", pressure=f"{psi} psi").warnings) is told


def test_permanganate_that_shows_behind_the_bed_is_no_step_of_the_dial():
    answer = ask("permanganate")
    assert "dosing pump off" in " ".join(answer.cautions)
    assert answer.ceiling > answer.need
    assert ask("permanganate", bed_volume=None).gallons_between is None
