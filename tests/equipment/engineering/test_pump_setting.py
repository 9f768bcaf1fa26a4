"""A setting of a dosing pump: figures in, share of the full output out, and back to the marks.

Volume of a stroke times strokes is what such a pump feeds: definition, worked by hand here.
"""

from dataclasses import dataclass

import pytest

from equipment.engineering.errors import MissingInput, OutOfRange
from equipment.engineering.oxidant.pump_setting import PumpSetting, nearest, set_to


@dataclass(frozen=True)
class Plate:
    head: str
    setting_step_percent: float = 1.0
    cycle_s: float | None = 60.0
    cycle_step_s: float | None = 5.0
    strokes_per_min: float | None = 100.0
    pulses_per_gal: float | None = 20.0


DIAL, TIMER, STROKE, METERED = (Plate(h) for h in ("variable", "timer", "stroke", "metered"))


def test_a_dial_feeds_what_it_says():
    assert set_to({"setting_percent": 24}, DIAL) == PumpSetting(percent=24)
    assert set_to({"setting_percent": 24}, None) == PumpSetting(percent=24)


def test_a_timer_feeds_its_share_whatever_the_cycle():
    short, long = (set_to({"setting_percent": 24, "cycle_s": s}, TIMER) for s in (15, 60))
    assert (short.percent, short.cycle_s) == (24, 15)
    assert (long.percent, long.cycle_s) == (24, 60)


def test_stroke_times_speed():
    """60 percent of the stroke at 40 percent of the speed: 24 percent of the full output."""
    half = set_to({"stroke_percent": 60, "speed_percent": 40}, STROKE)
    assert half.percent == pytest.approx(24)
    assert (half.stroke_percent, half.speed_percent) == (60, 40)


def test_pulses_follow_the_flow_up_to_the_fastest():
    """8 gpm x 20 pulses a gallon / 4 pulses a stroke = 40 strokes a minute, of 100 the pump makes;
    at 60 percent of the stroke 24 percent of the full output. At one pulse it would need 160."""
    figures = {"stroke_percent": 60, "pulses": 4}
    assert set_to(figures, METERED, flow_gpm=8).percent == pytest.approx(24)
    assert set_to(figures, METERED, flow_gpm=4).percent == pytest.approx(12)
    assert set_to({**figures, "pulses": 1}, METERED, flow_gpm=8).percent == pytest.approx(60)


@pytest.mark.parametrize(
    ("figures", "pump", "named"),
    [
        ({"setting_percent": 24}, TIMER, "cycle_s"),
        ({"cycle_s": 15}, TIMER, "setting_percent"),
        ({"stroke_percent": 24}, STROKE, "speed_percent"),
        ({"stroke_percent": 60, "pulses": 4}, METERED, "flow"),
        ({"stroke_percent": 60, "pulses": 4}, Plate("metered", strokes_per_min=None), "strokes"),
    ],
)
def test_half_a_setting_names_the_other_figure(figures, pump, named):
    with pytest.raises(MissingInput) as refused:
        set_to(figures, pump)
    assert refused.value.key.startswith(named)


@pytest.mark.parametrize(
    ("figures", "pump"),
    [
        ({"setting_percent": 101}, DIAL),
        ({"setting_percent": 24, "cycle_s": 0}, TIMER),
        ({"setting_percent": 24, "cycle_s": 3601}, TIMER),
        ({"stroke_percent": 60, "pulses": 0.5}, METERED),
    ],
)
def test_no_pump_has_such_a_mark(figures, pump):
    with pytest.raises(OutOfRange):
        set_to(figures, pump, flow_gpm=8)


def test_the_cycle_stays_where_it_is_and_starts_at_the_longest():
    assert nearest(24, TIMER).cycle_s == 60
    assert nearest(24, TIMER, now=PumpSetting(percent=42, cycle_s=15)).cycle_s == 15


def test_the_stroke_stays_as_long_as_the_speed_can_follow():
    at = set_to({"stroke_percent": 60, "speed_percent": 70}, STROKE)
    lower = nearest(24, STROKE, now=at)
    assert (lower.stroke_percent, lower.speed_percent) == (60, 40)
    higher = nearest(80, STROKE, now=at)
    assert (higher.stroke_percent, higher.speed_percent) == (80, 100)
    least = nearest(3, STROKE, now=at)
    assert (least.stroke_percent, least.speed_percent) == (6, 50)


@pytest.mark.parametrize("percent", [7.3, 24, 41.9, 96])
@pytest.mark.parametrize("pump", [STROKE, METERED])
def test_on_the_marks_and_never_above(pump, percent):
    found = nearest(percent, pump, flow_gpm=8)
    assert found.stroke_percent == int(found.stroke_percent)
    assert 0.85 * percent <= found.percent <= percent + 1e-9


def test_a_row_gives_back_what_was_set():
    for setting in (
        PumpSetting(percent=24, cycle_s=15, cycle_from_catalog=True),
        set_to({"stroke_percent": 60, "pulses": 4}, METERED, flow_gpm=8),
        PumpSetting(percent=24),
    ):
        assert PumpSetting.of(setting.percent, setting.marks) == setting
    assert PumpSetting.of(24, {"of_later": 3}) == PumpSetting(percent=24)
