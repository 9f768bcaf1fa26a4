"""Gallons per person and day: one figure, and where it is published."""

import pytest

from equipment.engineering.beds.softening import USE, softener
from equipment.engineering.plumbing.demand import USE_PER_PERSON_GPD, household_use_gal
from equipment.engineering.units import quantity as q

#: homes on wells of their own: water drawn in a day and people served (US Geological Survey,
#: Estimated use of water in the United States in 2015, Circular 1441, 2018, SEEN)
SELF_SUPPLIED_GAL, SELF_SUPPLIED_PEOPLE = 3260e6, 42.5e6


def test_it_is_what_homes_on_their_own_wells_use():
    """Rounded down to the sizing convention: within three percent."""
    published = SELF_SUPPLIED_GAL / SELF_SUPPLIED_PEOPLE
    assert published == pytest.approx(76.7, abs=0.05)
    assert pytest.approx(published, rel=0.03) == USE_PER_PERSON_GPD
    assert published > USE_PER_PERSON_GPD


def test_a_house_uses_it_for_each_person():
    assert household_use_gal(4) == 4 * USE_PER_PERSON_GPD


def test_a_softener_that_is_told_nothing_else_counts_with_it():
    sized = {"hardness": q(10, "gpg"), "resin_volume": q(2, "ft3"), "salt_dose": q(8, "lb/ft3")}
    answer = softener(people=4, **sized)
    assert answer.load_per_day.m_as("grain") == pytest.approx(household_use_gal(4) * 10)
    assert USE.default == f"{USE_PER_PERSON_GPD:g} gpd"
