"""Oxidant demand: mass ratios against molmass, judgement, limits, properties."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from molmass import Formula

from equipment.engineering.errors import OutOfRange, WrongInput, WrongUnit
from equipment.engineering.oxidant import oxidants
from equipment.engineering.oxidant.oxidants import oxidant_demand
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity

QUICK = settings(max_examples=30, derandomize=True, deadline=None)
OXIDANTS = {"peroxide": "H2O2", "chlorine": "Cl2", "permanganate": "KMnO4", "ozone": "O3"}
mg_l = st.floats(0.01, 20)


def mg(value):
    return quantity(value, "mg/L")


@pytest.mark.parametrize(("oxidant", "formula"), OXIDANTS.items())
def test_molar_masses_of_oxidants(oxidant, formula):
    assert oxidants.OXIDANT_MASS[oxidant] == pytest.approx(Formula(formula).mass, rel=2e-5)


def test_molar_masses_of_what_is_oxidized():
    for value, formula in (
        (oxidants.IRON_MASS, "Fe"),
        (oxidants.MANGANESE_MASS, "Mn"),
        (oxidants.SULFUR_MASS, "S"),
        (oxidants.HYDROGEN_SULFIDE_MASS, "H2S"),
        (oxidants.NITROGEN_MASS, "N"),
        (oxidants.OXYGEN_MASS, "O2"),
    ):
        assert value == pytest.approx(Formula(formula).mass, rel=3e-5)


def test_ratios_from_the_balanced_reactions():
    """Moles of oxidant for each mole, read off the balanced reactions, times molmass masses."""
    moles = {"peroxide": 1 / 2, "chlorine": 1 / 2, "permanganate": 1 / 3, "ozone": 1 / 2}
    for oxidant, formula in OXIDANTS.items():
        mass = Formula(formula).mass
        iron = moles[oxidant] * mass / Formula("Fe").mass
        assert oxidants.ratio_iron(oxidant) == pytest.approx(iron, rel=1e-4)
        manganese = 2 * moles[oxidant] * mass / Formula("Mn").mass
        assert oxidants.ratio_manganese(oxidant) == pytest.approx(manganese, rel=1e-4)
        sulfate = 8 * moles[oxidant] * mass / Formula("H2S").mass
        assert oxidants.ratio_sulfide(oxidant, "h2s", "sulfate") == pytest.approx(sulfate, rel=1e-4)
    ammonia = 1.5 * Formula("Cl2").mass / Formula("N").mass
    assert oxidants.ratio_ammonia() == pytest.approx(ammonia, rel=1e-4)
    released = Formula("O2").mass / (2 * Formula("H2O2").mass)
    assert released == pytest.approx(oxidants.OXYGEN_PER_PEROXIDE, rel=1e-4)


def test_peroxide_leaves_manganese_out_and_says_so():
    with_it = oxidant_demand(oxidant="peroxide", iron=mg(3), manganese=mg(0.5))
    without = oxidant_demand(oxidant="peroxide", iron=mg(3))
    assert with_it.demand == without.demand
    assert with_it.demand_manganese is None
    assert any("does not remove manganese" in text for text in with_it.warnings)


def test_ammonia_counts_for_chlorine_only():
    assert oxidant_demand(oxidant="chlorine", ammonia=mg(1)).demand.magnitude > 7
    peroxide = oxidant_demand(oxidant="peroxide", ammonia=mg(1), iron=mg(1))
    assert peroxide.demand_ammonia is None
    assert any("Ammonia is left out" in text for text in peroxide.warnings)


def test_allowance_is_two_with_sulfide_and_one_and_a_half_without():
    iron = oxidant_demand(oxidant="chlorine", iron=mg(2))
    assert iron.dose.magnitude == pytest.approx(1.5 * iron.demand.magnitude)
    both = oxidant_demand(oxidant="chlorine", iron=mg(2), sulfide=mg(1), residual=mg(1))
    assert both.dose.magnitude == pytest.approx(2 * both.demand.magnitude + 1)


@pytest.mark.parametrize("oxidant", ["peroxide", "chlorine"])
def test_chlorine_and_peroxide_never_meet(oxidant):
    cautions = oxidant_demand(oxidant=oxidant, iron=mg(1)).cautions
    assert any("2.085" in text for text in cautions)


def test_sulfide_caution_and_slow_iron():
    answer = oxidant_demand(oxidant="peroxide", iron=mg(1), sulfide=mg(1), ph=6.0)
    assert any("does not prove that sulfide is gone" in text for text in answer.cautions)
    assert any("below 6.5" in text for text in answer.warnings)


@pytest.mark.parametrize(
    ("inputs", "error", "key"),
    [
        ({"oxidant": "bromine"}, WrongInput, "oxidant"),
        ({"oxidant": "chlorine", "iron": "3"}, WrongUnit, "iron"),
        ({"oxidant": "chlorine", "iron": "3 ft"}, WrongUnit, "iron"),
        ({"oxidant": "chlorine", "iron": "300 mg/L"}, OutOfRange, "iron"),
        ({"oxidant": "chlorine", "iron": "-1 mg/L"}, OutOfRange, "iron"),
        ({"oxidant": "chlorine", "manganese": "51 mg/L"}, OutOfRange, "manganese"),
        ({"oxidant": "chlorine", "sulfide": "3 ppm"}, WrongUnit, "sulfide"),
        ({"oxidant": "chlorine", "sulfide_as": "hs"}, WrongInput, "sulfide_as"),
        ({"oxidant": "chlorine", "allowance": "0.9"}, OutOfRange, "allowance"),
        ({"oxidant": "chlorine", "ph": "12"}, OutOfRange, "ph"),
    ],
)
def test_refusals_name_the_key(inputs, error, key):
    with pytest.raises(error) as refused:
        compute("oxidant-demand", **inputs)
    assert refused.value.key == key


def test_functions_refuse_words_and_bare_numbers():
    with pytest.raises(WrongInput, match="oxidant"):
        oxidant_demand(oxidant="bromine")
    with pytest.raises(WrongUnit, match="iron"):
        oxidant_demand(oxidant="chlorine", iron=3.0)


@QUICK
@given(oxidant=st.sampled_from(list(OXIDANTS)), iron=mg_l, sulfide=mg_l, more=mg_l)
def test_demand_adds_up_and_rises(oxidant, iron, sulfide, more):
    answer = oxidant_demand(oxidant=oxidant, iron=mg(iron), sulfide=mg(sulfide))
    parts = answer.demand_iron.magnitude + answer.demand_sulfide.magnitude
    assert answer.demand.magnitude == pytest.approx(parts)
    higher = oxidant_demand(oxidant=oxidant, iron=mg(iron + more), sulfide=mg(sulfide))
    assert higher.demand.magnitude > answer.demand.magnitude
    assert answer.dose.magnitude >= answer.demand.magnitude


@QUICK
@given(oxidant=st.sampled_from(list(OXIDANTS)), iron=mg_l, sulfide=mg_l)
def test_same_answer_in_other_units(oxidant, iron, sulfide):
    one = oxidant_demand(oxidant=oxidant, iron=mg(iron), sulfide=mg(sulfide))
    other = oxidant_demand(
        oxidant=oxidant,
        iron=quantity(iron * 1000, "ug/L"),
        sulfide=mg(sulfide * 32.065 / 34.081),
        sulfide_as="s",
    )
    assert other.dose.magnitude == pytest.approx(one.dose.magnitude, rel=1e-6)
