"""Readings as people type them, and how wide their kits make them."""

import math

import pytest

from equipment.engineering.errors import WrongInput
from equipment.engineering.oxidant.kits import KITS
from equipment.engineering.oxidant.readings import Reading, read_reading
from equipment.engineering.registry import compute

#: 10 gpd of 72 g/L into 10 gpm: 0.5 mg/L for each percent
CHLORINE = {
    "oxidant": "chlorine",
    "flow": "10 gpm",
    "strength": "72 g/L",
    "feeder_output": "10 gpd",
    "target_low": "0.5 mg/L",
    "target_high": "2 mg/L",
}


def test_a_value_is_as_wide_as_its_meter_and_never_a_point():
    """Field meters and drop kits are good to 10 percent (common practice, no source)."""
    kit = KITS["chlorine"]
    assert kit.around(1.0, 1.0) == (pytest.approx(0.9), pytest.approx(1.1))
    assert kit.around(0.0, 0.0) == (0.0, kit.least)
    assert kit.around(0.03, 0.03) == (0.0, kit.least)  # less than the meter tells from nothing
    assert kit.around(2, 5) == (2, 5)
    assert kit.bands[-1] == (10, math.inf)
    answer = compute("dial-in", **CHLORINE, reading=["10:2"])[1]
    assert any("1.8 to 2.2 mg/L at 10 percent" in line for line in answer.working)
    assert answer.demand.low.magnitude == pytest.approx(5 - 2)


@pytest.mark.parametrize("text", ["40", "40:", "x:5-10", "40:5-10:3:perhaps", "40:5-10:3:4"])
def test_a_reading_that_cannot_be_read_is_refused(text):
    with pytest.raises(WrongInput):
        read_reading("reading", text)


def test_words_behind_a_reading_stand_in_any_order():
    expected = Reading(40, 0, 0.5, 3.5, tap=False, check="mended")
    assert read_reading("reading", "40 %: <0.5 mg/L :3.5:mended:unclear") == expected
