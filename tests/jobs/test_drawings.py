"""Geometry of the drawings: to scale, words apart, and honest about what is not known."""

from datetime import UTC, datetime, timedelta

import pytest
from django.template import Context, Template

from jobs.drawings import figures
from jobs.drawings.figures import Layer, WellFigures
from jobs.phone import drawn as phone_drawn

NOW = datetime(2026, 10, 14, 12, 0, tzinfo=UTC)


def rendered(source, **context):
    return Template("{% load draw %}" + source).render(Context(context))


def test_a_timer_counts_from_the_moment_it_was_started():
    drawn = phone_drawn.timer(NOW - timedelta(hours=3, minutes=48), 600, NOW)
    assert (drawn.state, drawn.left, drawn.left_unit) == ("running", "6:12", "h:min left")
    assert drawn.run == pytest.approx(360 * 228 / 600, abs=0.05)


@pytest.mark.parametrize(
    ("minutes_ago", "state"), [(17.9, "running"), (18, "passed"), (99, "passed")]
)
def test_a_timer_passes_at_its_end_and_not_before(minutes_ago, state):
    drawn = phone_drawn.timer(NOW - timedelta(minutes=minutes_ago), 18, NOW)
    assert drawn.state == state
    assert drawn.run <= phone_drawn.TIMER_WIDTH


def test_a_phone_with_a_slow_clock_never_shows_more_than_the_whole_time():
    assert phone_drawn.timer(NOW + timedelta(minutes=3), 18, NOW).left == "18:00"


def test_a_timer_not_started_shows_its_length_and_starts_nothing():
    page = rendered('{% timer "One turnover" None 18 now %}', now=NOW)
    assert "18:00" in page
    assert "not started" in page
    assert "data-started-at" not in page


@pytest.mark.parametrize(
    ("seconds", "shown"), [(3600, "1:00"), (3599, "59:59"), (61, "1:01"), (-5, "0:00")]
)
def test_the_clock(seconds, shown):
    assert phone_drawn.clock(seconds)[0] == shown


PADS = [0, 0.5, 2, 5, 10, 25]


def test_the_strip_axis_has_equal_steps_from_pad_to_pad():
    places = [phone_drawn.on_pads(pad, PADS) for pad in PADS]
    gaps = [b - a for a, b in zip(places, places[1:], strict=False)]
    assert gaps == pytest.approx([58.8] * 5, abs=0.11)
    assert phone_drawn.on_pads(40, PADS) == phone_drawn.RIGHT
    assert phone_drawn.on_pads(7.5, PADS) == pytest.approx((places[3] + places[4]) / 2, abs=0.1)


def test_bars_tell_early_and_expected_readings_apart():
    steps = [("60 %", 5, 10, ""), ("50 %", 5, 10, "early"), ("40 %", 2, 5, "expected")]
    page = rendered("{% bands steps pads aim %}", steps=steps, pads=PADS, aim=(5, 15))
    assert page.count('class="iv"') == 1
    assert page.count('class="iv open"') == 1
    assert page.count('class="exp"') == 1
    assert "aim" in page


def test_no_strip_scale_no_picture():
    assert phone_drawn.bands([("60 %", 5, 10, "")], [], None) is None


WELL = WellFigures(
    total_depth=240,
    casing_depth=84,
    static_level=60,
    pumping_level=96,
    pump_depth=180,
    layers=(Layer("clay", 71, "till"), Layer("sandstone", None)),
    measured=frozenset({"static_level"}),
)


def test_the_well_is_drawn_to_scale():
    drawn = figures.well(WELL)
    per_foot = (drawn.bottom - figures.GROUND) / 240
    assert drawn.static == pytest.approx(figures.GROUND + 60 * per_foot, abs=0.1)
    assert drawn.pump == pytest.approx(figures.GROUND + 180 * per_foot, abs=0.1)
    assert sum(bed.height for bed in drawn.beds) == pytest.approx(figures.DRAWN, abs=0.2)
    assert drawn.unknown == []


def test_measured_levels_are_slanted_and_told_ones_upright():
    slanted = {label.text for label in figures.well(WELL).labels if label.slanted}
    assert slanted == {"static level 60 ft"}


def test_words_never_overlap_even_when_everything_is_near_the_top():
    crowded = WellFigures(
        total_depth=400, casing_depth=22, static_level=10, pumping_level=14, pump_depth=20
    )
    places = [label.y for label in figures.well(crowded).labels]
    assert all(b - a >= figures.LINE - 0.2 for a, b in zip(places, places[1:], strict=False))
    assert places[-1] <= figures.GROUND + figures.DRAWN


def test_an_unknown_depth_is_named_and_the_column_left_open():
    page = rendered("{% well figures %}", figures=WellFigures(static_level=18, unit="m"))
    assert "static level 18 m" in page
    assert "Not known: pumping level, casing, well pump, depth of the well." in page
    assert "cut off below" in page
    assert 'class="casing"' not in page


def test_a_well_nobody_knows_anything_about_is_said_so():
    assert "No depth or level" in rendered("{% well figures %}", figures=WellFigures())
    assert figures.well(WellFigures(layers=(Layer("sand", None),))) is None


@pytest.mark.parametrize("depth", [3.0, 21, 95, 240, 400, 1500])
def test_depth_marks_are_few_and_round(depth):
    step = figures.nice_step(depth)
    assert 4 <= depth / step <= 10
    assert f"{step:e}"[0] in "125"


def test_the_feed_pump_is_drawn_for_both_directions_of_the_line():
    stages = [{"kind": "feeder", "title": "Dosing pump"}, {"kind": "filter", "title": "Tank 1"}]
    page = rendered('{% include "parts/_train.html" %}', stages=stages)
    assert page.count("only-down") == page.count("only-across") == 1
    assert page.count("<svg") == 3
