"""Fit of slope and demand: hand-computed cases (arithmetic, no evidence) and what must hold."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import EngineeringError, OutOfRange, WrongInput
from equipment.engineering.oxidant.demand_fit import (
    Reading,
    evidence_from,
    fit_line,
    read_reading,
)

QUICK = settings(max_examples=60, derandomize=True, deadline=None)
#: mg/L per percent: 17 gpd of 71.6 g/L into 8 gpm
G = 17 / 1440 / 8 * 71600 / 100


def test_calibration_of_the_cases():
    assert pytest.approx(1.05660, abs=1e-5) == G


def test_least_squares_exact():
    fit = fit_line([(20, 5, 1), (30, 15, 1), (40, 25, 1)], calibration=G, slope_prior=math.inf)
    assert fit.slope == pytest.approx(1.0)
    assert fit.demand == pytest.approx(15.0)
    assert fit.setting_for(0) == pytest.approx(15.0)


def test_least_squares_noisy():
    points = [(10, 2.1, 0.324), (20, 11.8, 0.324), (30, 22.4, 0.324), (40, 31.9, 0.324)]
    fit = fit_line(points, calibration=G, slope_prior=math.inf)
    assert fit.slope == pytest.approx(1.0, abs=1e-4)
    assert fit.demand == pytest.approx(7.950, abs=1e-3)
    assert math.sqrt(fit.slope_variance) == pytest.approx(0.01449, abs=1e-5)
    scatter = sum((r - fit.slope * x + fit.demand) ** 2 for x, r, _ in points)
    assert math.sqrt(scatter / 2) == pytest.approx(0.3240, abs=1e-4)


@pytest.mark.parametrize(
    ("points", "slope", "demand", "setting", "deviation"),
    [
        ([(20, 25, 7.22)], 1.1397, 2.648, 15.48, 4.83),
        ([(20, 25, 7.22), (40, 50, 10.83)], 1.1871, 2.182, 14.47, 4.25),
        ([(20, 5, 2.5), (30, 15, 2.5), (40, 25, 2.5)], 0.9254, 12.392, 29.60, 1.41),
    ],
)
def test_fit_with_calibration_and_demand_as_prior(points, slope, demand, setting, deviation):
    """Calibration +- 20 percent, demand 6 +- 6 mg/L, target 15 mg/L."""
    fit = fit_line(points, calibration=G, demand_prior=(6, 6))
    assert fit.slope == pytest.approx(slope, abs=1e-4)
    assert fit.demand == pytest.approx(demand, abs=1e-3)
    assert fit.setting_for(15) == pytest.approx(setting, abs=0.01)
    assert fit.residual_deviation(fit.setting_for(15)) == pytest.approx(deviation, abs=0.01)


def test_two_coarse_readings_leave_the_slope_to_the_calibration():
    """Bands of 25 and 37.5 mg/L: the raw slope is 1.25 with a deviation of 0.65, useless alone."""
    raw = fit_line([(20, 25, 7.22), (40, 50, 10.83)], calibration=G, slope_prior=math.inf)
    assert raw.slope == pytest.approx(1.25)
    assert math.sqrt(raw.slope_variance) == pytest.approx(0.65, abs=0.01)
    evidence = evidence_from([Reading(20, 12.5, 37.5), Reading(40, 37.5, 75)], G)
    assert abs(evidence.slope - G) < abs(evidence.slope - raw.slope)


def test_one_reading_keeps_the_calibration_as_slope():
    evidence = evidence_from([Reading(20, 12.5, 37.5)], G)
    assert evidence.slope == pytest.approx(G)
    assert evidence.demand_low == 0
    assert evidence.demand_high == pytest.approx(8.63, abs=0.01)


def test_readings_that_disagree_are_said():
    misread = evidence_from([Reading(20, 3.5, 7.5), Reading(40, 3.5, 7.5)], G)
    assert misread.conflict == "misread"
    apart = evidence_from([Reading(20, 18, 20), Reading(60, 2, 4)], G)
    assert apart.conflict == "disagree"
    assert len(apart.readings) == 1


def test_more_residual_than_was_fed_is_still_answered():
    evidence = evidence_from([Reading(10, 30, 40)], G)
    assert evidence.residual(10)[0] == pytest.approx(30, abs=0.01)
    assert evidence.slope > 1.3 * G


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("40:5-10", Reading(40, 5, 10, 3)),
        ("40:5-10:2.5", Reading(40, 5, 10, 2.5)),
        ("40 percent : 5-10 mg/L", Reading(40, 5, 10, 3)),
        ("40%:<0.5", Reading(40, 0, 0.5, 3)),
        ("40:>25", Reading(40, 25, math.inf, 3)),
        ("40:10", Reading(40, 9, 11, 3)),
    ],
)
def test_readings_as_typed(text, expected):
    assert read_reading("reading", text) == expected


@pytest.mark.parametrize(
    ("text", "error"),
    [
        ("40", WrongInput),
        ("40:5-10:3:1", WrongInput),
        ("a:5-10", WrongInput),
        ("40:x", WrongInput),
        ("0:0-5", OutOfRange),
        ("101:0-5", OutOfRange),
        ("40:10-5", OutOfRange),
        ("40:5-1001", OutOfRange),
        ("40:5-10:-1", OutOfRange),
        ("40:-5-10", WrongInput),
        ("40:nan-5", WrongInput),
        ("40:5-inf", WrongInput),
    ],
)
def test_readings_refused(text, error):
    with pytest.raises(error, match="reading"):
        read_reading("reading", text)
    with pytest.raises(EngineeringError):
        read_reading("reading", text)


@QUICK
@given(
    factor=st.floats(0.6, 1.3),
    demand=st.floats(0, 40),
    settings_=st.lists(st.floats(5, 100), min_size=1, max_size=4),
    below=st.floats(0, 6),
    above=st.floats(0.01, 6),
    asked=st.floats(1, 100),
)
def test_the_truth_is_never_excluded(factor, demand, settings_, below, above, asked):
    """Whatever the bands, an honest reading never rules out the true residual."""

    def true(setting):
        return max(0.0, factor * G * setting - demand)

    readings = [
        Reading(s, max(0.0, true(s) - below) if true(s) > 0 else 0.0, true(s) + above)
        for s in settings_
    ]
    evidence = evidence_from(readings, G)
    low, high = evidence.residual(asked)
    assert evidence.conflict == ""
    assert low - 0.01 <= true(asked) <= high + 0.01
