"""Used against expected: published dosages, and a tank worked out by hand.

California State Water Resources Control Board, Division of Drinking Water, Example Calculations of
Chlorine Dosage, 2018, equation 1A, example 1 (SEEN): 41.64 L of 0.5 percent NaOCl w/v in 40,000
gallons of water are 1.31 mg/L as Cl2; its own factor to chlorine is 0.9525.
"""

from datetime import date, timedelta

import pytest

from equipment.engineering.oxidant.feeding import oxidant_used_kg
from jobs.reports.chemical_balance import (
    FIRST,
    MORE,
    NO_LEVEL,
    NO_RECORD,
    NO_STRENGTH,
    NO_WATER,
    OFF,
    SAME_DAY,
    WHY,
    Daily,
    Written,
    compare,
)

DAY = date(2026, 3, 1)
GRAMS_PER_LITRE = 5 * 0.9525  # 0.5 percent w/v, as chlorine
EXAMPLE_GAL = 41.64 / 3.785


def on(days):
    return DAY + timedelta(days=days)


def full(days=0, **fields):
    """A tank filled to 12 gal of 71.6 g/L."""
    return Written(on(days), **{"after_gal": 12, "strength_g_l": 71.6, **fields})


def test_a_published_dosage_is_used_as_expected():
    """The tank of the example is emptied by a day of its water at its dose: quotient 1."""
    then = Written(DAY, after_gal=EXAMPLE_GAL, strength_g_l=GRAMS_PER_LITRE)
    daily = Daily(DAY, oxidant_used_kg(40_000, 1.31))
    found = compare(then, Written(on(1), before_gal=0, after_gal=5), [daily])
    assert found.used / found.expected == pytest.approx(1, abs=0.01)
    assert found.used == pytest.approx(41.64 * GRAMS_PER_LITRE / 1000, rel=1e-3)


def test_between_two_fills_the_levels_tell_and_the_strength_of_what_stood_there():
    """12 to 4 gal of 71.6 g/L are 8 x 3.7854 x 71.6 = 2168 g, whatever is poured after it."""
    now = full(30, before_gal=4, poured_gal=8, strength_g_l=35)
    found = compare(full(), now, [Daily(DAY, 0.05, "said")])
    assert (found.days, found.why, found.said) == (30, "", "said")
    assert found.used == pytest.approx(2.168, abs=0.001)
    assert found.expected == pytest.approx(1.5)


def test_a_level_that_was_not_read_follows_from_what_was_poured():
    found = compare(full(), full(30, poured_gal=8), [Daily(DAY, 0.05)])
    assert found.used == pytest.approx(2.168, abs=0.001)
    poured = Written(DAY, before_gal=4, poured_gal=8, strength_g_l=71.6)
    assert poured.level_after == 12
    assert compare(poured, full(30, before_gal=4), [Daily(DAY, 0.05)]).used == pytest.approx(
        2.168, abs=0.001
    )


def test_each_day_counts_by_the_record_that_stood():
    """Ten days at 0.05, twenty at 0.02 kg: 0.9; the day of the new record is the new one's."""
    dailies = [Daily(on(-40), 9.0), Daily(DAY, 0.05), Daily(on(10), 0.02), Daily(on(30), 7.0)]
    found = compare(full(), full(30, before_gal=4), dailies)
    assert found.expected == pytest.approx(0.9)


def test_days_off_are_not_counted():
    found = compare(full(), full(30, before_gal=4), [Daily(DAY, 0.05)], [(on(10), on(20))])
    assert (found.days, found.days_off) == (20, 10)
    assert found.expected == pytest.approx(1.0)
    still = compare(full(), full(30, before_gal=4), [Daily(DAY, 0.05)], [(on(25), date.max)])
    assert (still.days, still.days_off) == (25, 5)


def test_a_record_closed_within_two_weeks_speaks_of_the_days_before():
    assert compare(full(), full(30, before_gal=4), [Daily(on(14), 0.05)]).days == 30
    assert compare(full(), full(30, before_gal=4), [Daily(on(15), 0.05)]).why == NO_RECORD


def test_salt_has_no_level():
    now = Written(on(30), salt_lb=80)
    found = compare(Written(DAY, salt_lb=120), now, [Daily(DAY, 2.0)])
    assert (found.used, found.expected) == (80, 60)


@pytest.mark.parametrize(
    ("then", "now", "dailies", "off", "why"),
    [
        (None, full(30), [Daily(DAY, 1)], [], FIRST),
        (Written(DAY), full(30, before_gal=4), [Daily(DAY, 1)], [], NO_LEVEL),
        (full(), full(30), [Daily(DAY, 1)], [], NO_LEVEL),
        (full(), full(30, before_gal=12.6), [Daily(DAY, 1)], [], MORE),
        (full(strength_g_l=None), full(30, before_gal=4), [Daily(DAY, 1)], [], NO_STRENGTH),
        (full(), full(30, before_gal=4), [], [], NO_RECORD),
        (full(), full(30, before_gal=4), [Daily(DAY, None)], [], NO_WATER),
        (full(), full(30, before_gal=4), [Daily(DAY, 1)], [(on(-3), date.max)], OFF),
        (full(), full(0, before_gal=11), [Daily(DAY, 1)], [], SAME_DAY),
    ],
)
def test_what_cannot_be_said(then, now, dailies, off, why):
    assert compare(then, now, dailies, off).why == why
    assert WHY[why]


def test_within_half_a_gallon_a_level_is_a_level():
    """12.5 found where 12 was left: read, not filled."""
    assert compare(full(), full(30, before_gal=12.5), [Daily(DAY, 1)]).used == 0


@pytest.mark.parametrize(
    ("before", "poured", "after", "away"),
    [(5, 10, 10, 5), (3, 9, 12, 0), (3, 9, 11.5, 0), (3, 9, 11.4, 0.6), (None, 9, 12, 0)],
)
def test_what_was_poured_away(before, poured, after, away):
    """What stood there and what was poured, less what stands there after it."""
    fill = Written(DAY, before_gal=before, poured_gal=poured, after_gal=after)
    assert fill.poured_away_gal == pytest.approx(away)
