"""Feed solutions: strength from a label and topping up."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import compute

FEW = settings(max_examples=30, derandomize=True, deadline=None)
TANK = {"remaining_volume": "5 gal", "remaining_strength": "60 g/L", "add_strength": "395.9 g/L"}
TARGET = {"target_strength": "71.6 g/L", "final_volume": "15 gal"}


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"mass_fraction": "0 percent"}, "mass_fraction"),
        ({"mass_fraction": "101 percent"}, "mass_fraction"),
        ({"mass_fraction": "0.35"}, "mass_fraction"),
        ({"mass_fraction": "350 g/L"}, "mass_fraction"),
        ({"density": "0.5 g/mL"}, "density"),
        ({"parts_solution": "0"}, "parts_solution"),
        ({"parts_water": "-1"}, "parts_water"),
        ({"product": "vinegar"}, "product"),
    ],
)
def test_strength_refuses_and_names_the_key(changed, key):
    with pytest.raises(EngineeringError) as refused:
        compute("solution-strength", **{"mass_fraction": "7 %", "density": "1.02 g/mL", **changed})
    assert refused.value.key == key


def test_percent_alone_would_call_one_in_five_of_35_percent_7_percent():
    # the label "7.8 percent" is 1 part of 35 percent and 4 of water: 7.73 percent by mass, not 7.0
    _, answer = compute(
        "solution-strength", mass_fraction="35 %", density="1.131 g/mL", parts_water="4"
    )
    assert 7.7 < answer.mass_fraction.m_as("percent") < 7.8


@pytest.mark.parametrize(("parts", "warned"), [("3", True), ("5", False)])
def test_peroxide_of_8_percent_is_a_danger_to_the_eyes(parts, warned):
    # EU CLP specific limit: Eye Dam. 1 H318 from 8 percent (GisChem, SEEN)
    _, answer = compute(
        "solution-strength",
        mass_fraction="35 %",
        density="1.131 g/mL",
        parts_water=parts,
        product="peroxide",
    )
    assert bool(answer.warnings) is warned
    assert "eye" in " ".join(answer.cautions)


def test_cautions_of_peroxide_stand_unless_another_product_is_named():
    inputs = {"mass_fraction": "5.25 %", "density": "1.07 g/mL"}
    assert "Peroxide" in " ".join(compute("solution-strength", **inputs)[1].cautions)
    other = compute("solution-strength", **inputs, product="hypochlorite")[1]
    assert "Peroxide" not in " ".join(other.cautions)


@pytest.mark.parametrize(
    ("inputs", "key"),
    [
        ({**TANK}, "target_strength"),
        ({**TANK, "target_strength": "71.6 g/L"}, "final_volume"),
        ({**TANK, **TARGET, "add_volume": "1 gal"}, "add_volume"),
        ({**TANK, **TARGET, "target_strength": "19 g/L"}, "target_strength"),
        ({**TANK, **TARGET, "target_strength": "390 g/L"}, "target_strength"),
        ({**TANK, **TARGET, "final_volume": "4 gal"}, "final_volume"),
        ({**TANK, **TARGET, "tank_volume": "14 gal"}, "final_volume"),
        ({**TANK, "add_volume": "11 gal", "tank_volume": "15 gal"}, "add_volume"),
        ({**TANK, **TARGET, "add_strength": "35 percent"}, "add_strength"),
        ({**TANK, **TARGET, "add_strength": "0 g/L"}, "add_strength"),
        ({**TANK, **TARGET, "remaining_volume": "-1 gal"}, "remaining_volume"),
    ],
)
def test_top_up_refuses_and_names_the_key(inputs, key):
    with pytest.raises(EngineeringError) as refused:
        compute("solution-top-up", **inputs)
    assert refused.value.key == key


def test_pouring_strong_product_into_a_half_full_tank():
    # 10 gal of 7 percent (71.6 g/L) and 5 gal of 35 percent (395.9 g/L):
    # (10 x 71.6 + 5 x 395.9) / 15 = 179.7 g/L, far above the 8 percent line
    printed, answer = compute(
        "solution-top-up",
        remaining_volume="10 gal",
        remaining_strength="71.6 g/L",
        add_strength="395.9 g/L",
        add_volume="5 gal",
        product="peroxide",
    )
    assert printed["results"]["strength"]["value"] == pytest.approx(179.7, abs=0.1)
    assert printed["results"]["water_volume"]["value"] == 0
    said = " ".join(answer.warnings)
    assert "danger to the eyes" in said
    assert "set the dosing pump anew" in said


def test_what_is_left_may_already_be_right():
    _, answer = compute(
        "solution-top-up",
        remaining_volume="15 gal",
        remaining_strength="71.6 g/L",
        add_strength="395.9 g/L",
        **TARGET,
    )
    assert answer.product_volume.m_as("gallon") == pytest.approx(0, abs=1e-9)
    assert answer.water_volume.m_as("gallon") == pytest.approx(0, abs=1e-9)


@FEW
@given(st.floats(0, 10), st.floats(0, 100), st.floats(100, 500), st.floats(0.1, 0.9))
def test_top_up_balances_mass_and_volume(left, weak, strong, share):
    whole = left + 10
    floor, ceiling = left * weak / whole, (left * weak + 10 * strong) / whole
    target = floor + share * (ceiling - floor)
    _, wish = compute(
        "solution-top-up",
        remaining_volume=f"{left!r} gal",
        remaining_strength=f"{weak!r} g/L",
        add_strength=f"{strong!r} g/L",
        target_strength=f"{target!r} g/L",
        final_volume=f"{whole!r} gal",
    )
    poured = wish.product_volume.m_as("gallon")
    water = wish.water_volume.m_as("gallon")
    assert poured + water == pytest.approx(10)
    assert left * weak + poured * strong == pytest.approx(target * whole)
    assert wish.strength.m_as("g/L") == pytest.approx(target)


@FEW
@given(st.floats(1, 70), st.floats(1.0, 1.3), st.floats(0, 20))
def test_water_only_weakens(percent, density, parts):
    def strength(water):
        _, answer = compute(
            "solution-strength",
            mass_fraction=f"{percent!r} %",
            density=f"{density!r} g/mL",
            parts_water=repr(water),
        )
        return answer.strength.m_as("g/L"), answer.mass_fraction.m_as("percent")

    grams, mass = strength(parts)
    assert strength(parts + 0.5)[0] < grams
    assert strength(parts + 0.5)[1] < mass
    assert mass <= percent * (1 + 1e-12)
