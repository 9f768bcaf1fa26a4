"""Sixty start-ups of each oxidant: what the dial-in must keep to, whatever the luck.

`python -m tests.bench startups` follows 2,000 of each; with sixty only the coarse limits hold.
"""

import pytest

from tests.start_ups import OXIDANTS, WAYS, fare, follow, houses

#: least stops and good ends, most houses with a harmful step, percent
LIMITS = {"peroxide": (97, 95, 2), "chlorine": (88, 72, 12), "permanganate": (90, 82, 7)}


@pytest.fixture(scope="module", params=OXIDANTS)
def fared(request):
    some = houses(request.param, 60, "suite")
    return request.param, {
        name: fare([follow(house, way, "strip") for house in some]) for name, way in WAYS.items()
    }


def test_start_ups_end_and_end_well(fared):
    oxidant, ways = fared
    stops, good, harmful = LIMITS[oxidant]
    ours = ways["dial-in"]
    assert ours.stops >= stops
    assert ours.good >= good
    assert ours.harmful <= harmful


def test_no_raise_that_the_last_reading_forbids(fared):
    assert fared[1]["dial-in"].forbidden == 0


def test_it_does_less_harm_than_bisection_and_proportional_control(fared):
    ways = fared[1]
    for rival in ("bisection", "proportional"):
        assert ways["dial-in"].harmful <= ways[rival].harmful
        assert ways["dial-in"].good >= ways[rival].good - 5
    assert ways["dial-in"].median <= ways["bisection"].median
