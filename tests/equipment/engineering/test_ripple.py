"""Swing of a pulsed dose: what must hold, limits, judgement."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput, WrongUnit
from equipment.engineering.oxidant.ripple import dose_ripple
from equipment.engineering.registry import compute
from equipment.engineering.units import quantity as q

QUICK = settings(max_examples=30, derandomize=True, deadline=None)
BASE = {
    "cycle_length": "60 s",
    "on_share": "20 percent",
    "flow": "8 gpm",
    "mixing_volume": "40 gal",
}


def ripple(**changes):
    return compute("dose-ripple", **{**BASE, **changes})[1]


def test_without_mixing_the_dose_is_all_or_nothing():
    answer = ripple(mixing_volume="0 gal")
    assert (answer.peak_ratio, answer.trough_ratio) == (5, 0)
    assert answer.cycle_over_detention is None


def test_always_on_has_no_ripple():
    answer = ripple(on_share="100 percent", mixing_volume="0 gal")
    assert (answer.peak_ratio, answer.trough_ratio) == (1, 1)


def test_stroke_is_the_limit_of_a_short_feed():
    stroke = ripple(on_share="0 percent")
    short = ripple(on_share="0.001 percent")
    assert stroke.peak_ratio == pytest.approx(short.peak_ratio, rel=1e-4)
    assert stroke.trough_ratio == pytest.approx(short.trough_ratio, rel=1e-4)


def test_timer_that_starts_anew():
    assert ripple(run_time="85 s", restart="continues").mean_ratio == 1
    assert ripple(run_time="600 s", restart="on").mean_ratio == pytest.approx(1)
    assert ripple(run_time="600 s", restart="off").mean_ratio == pytest.approx(1)
    assert ripple(run_time="40 s", restart="off").mean_ratio == 0
    stroke = ripple(on_share="0 percent", run_time="90 s", restart="on")
    assert stroke.mean_ratio == pytest.approx(2 * 60 / 90)
    late = ripple(on_share="0 percent", run_time="90 s", restart="off")
    assert late.mean_ratio == pytest.approx(60 / 90)


def test_warnings():
    assert any("more mixed volume" in text for text in ripple(mixing_volume="2 gal").warnings)
    assert any("fifth" in text for text in ripple(mixing_volume="35 gal").warnings)
    anew = ripple(run_time="85 s", restart="on").warnings
    assert any("41% more" in text for text in anew)
    assert any("without stopping" in text for text in ripple().warnings)


@pytest.mark.parametrize(
    ("changes", "error", "key"),
    [
        ({"on_share": "0 percent", "mixing_volume": "0 gal"}, OutOfRange, "mixing_volume"),
        ({"on_share": "101 percent"}, OutOfRange, "on_share"),
        ({"on_share": "0.2"}, WrongUnit, "on_share"),
        ({"cycle_length": "0 s"}, OutOfRange, "cycle_length"),
        ({"mixing_volume": "-1 gal"}, OutOfRange, "mixing_volume"),
        ({"run_time": "85 s"}, MissingInput, "restart"),
        ({"restart": "on"}, MissingInput, "run_time"),
        ({"run_time": "85 s", "restart": "sometimes"}, WrongInput, "restart"),
    ],
)
def test_refusals_name_the_key(changes, error, key):
    with pytest.raises(error) as refused:
        ripple(**changes)
    assert refused.value.key == key


@QUICK
@given(cycle=st.floats(1, 300), share=st.floats(1, 99), volume=st.floats(1, 200))
def test_mean_lies_between_and_more_volume_evens_out(cycle, share, volume):
    def at(gallons):
        return dose_ripple(
            cycle_length=q(cycle, "s"),
            on_share=q(share, "percent"),
            flow=q(8, "gpm"),
            mixing_volume=q(gallons, "gal"),
        )

    answer = at(volume)
    assert 0 <= answer.trough_ratio <= 1 <= answer.peak_ratio <= 100 / share + 1e-9
    assert at(2 * volume).peak_ratio <= answer.peak_ratio + 1e-9
    assert at(2 * volume).trough_ratio >= answer.trough_ratio - 1e-9
