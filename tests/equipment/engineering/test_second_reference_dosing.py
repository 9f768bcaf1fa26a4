"""Gas solubility, ripple and the fit of readings against other libraries."""

import math

import pytest

from equipment.engineering.oxidant.demand_fit import Reading, evidence_from, fit_line
from equipment.engineering.oxidant.strength_loss import hypochlorite_left
from equipment.engineering.registry import compute
from equipment.engineering.water.gas import solubility, vapour_pressure

pytestmark = pytest.mark.second_reference


@pytest.mark.parametrize("celsius", [5, 10, 20, 25, 40, 60])
def test_henry_constants_against_iapws(celsius):
    from iapws import IAPWS97
    from iapws._iapws import _Henry

    kelvin = celsius + 273.15
    liquid = IAPWS97(T=kelvin, x=0)
    assert vapour_pressure(celsius) == pytest.approx(liquid.P / 0.101325, rel=1e-3)
    for name, formula, mass in (
        ("oxygen", "O2", 31.999),
        ("nitrogen", "N2", 28.013),
        ("carbon dioxide", "CO2", 44.010),
    ):
        expected = 0.101325 / _Henry(kelvin, formula) * liquid.rho / 18.01527 * mass * 1000
        assert solubility(name, celsius) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("volume", "share"), [(40, 20), (15, 20), (5, 50), (30, 5)])
def test_ripple_against_a_solved_tank(volume, share):
    """The mixed volume solved as a differential equation over many cycles."""
    from scipy.integrate import solve_ivp

    cycle, flow, fed = 1.0, 8.0, share / 100
    peak = trough = 1.0
    for _ in range(int(40 * volume / flow) + 20):
        on = solve_ivp(
            lambda _, c: flow / volume * (1 / fed - c), (0, fed * cycle), [trough], rtol=1e-9
        )
        peak = on.y[0, -1]
        off = solve_ivp(lambda _, c: -flow / volume * c, (0, (1 - fed) * cycle), [peak], rtol=1e-9)
        trough = off.y[0, -1]
    answer = compute(
        "dose-ripple",
        cycle_length="60 s",
        on_share=f"{share} percent",
        flow="8 gpm",
        mixing_volume=f"{volume} gal",
    )[1]
    assert answer.peak_ratio == pytest.approx(peak, rel=1e-5)
    assert answer.trough_ratio == pytest.approx(trough, rel=1e-5)


def test_fit_against_scipy():
    import numpy
    from scipy.optimize import least_squares

    points = [(20, 6, 2.0), (30, 14, 2.5), (45, 31, 4.0)]
    calibration, demand, deviation = 1.06, 6.0, 6.0

    def misfit(guess):
        k, d = guess
        rows = [(r - k * x + d) / s for x, r, s in points]
        return [*rows, (k - calibration) / (0.2 * calibration), (d - demand) / deviation]

    solved = least_squares(misfit, [1.0, 0.0], x_scale=[0.1, 5.0], xtol=1e-14, ftol=1e-14)
    covariance = numpy.linalg.inv(solved.jac.T @ solved.jac)
    ours = fit_line(points, calibration=calibration, demand_prior=(demand, deviation))
    assert ours.slope == pytest.approx(solved.x[0], rel=1e-6)
    assert ours.demand == pytest.approx(solved.x[1], rel=1e-6)
    assert ours.slope_variance == pytest.approx(covariance[0, 0], rel=1e-5)
    assert ours.demand_variance == pytest.approx(covariance[1, 1], rel=1e-5)
    assert ours.covariance == pytest.approx(covariance[0, 1], rel=1e-5)


@pytest.mark.parametrize(
    "readings",
    [
        [Reading(20, 12.5, 37.5)],
        [Reading(40, 25, math.inf), Reading(20, 7.5, 17.5)],
        [Reading(20, 0, 0.25), Reading(30, 0, 0.25), Reading(45, 7.5, 17.5)],
    ],
)
@pytest.mark.parametrize("asked", [10, 25, 60])
def test_expected_residual_against_linear_programming(readings, asked):
    """Highest and lowest k x - D over all k and D that fit the readings."""
    from scipy.optimize import linprog

    g = 1.0566
    rows, limits = [], []
    for reading in readings:
        if not math.isinf(reading.high):
            rows.append([reading.setting, -1.0])
            limits.append(reading.high)
        if reading.low > 0:
            rows.append([-reading.setting, 1.0])
            limits.append(-reading.low)
    bounds = [(0.6 * g, 1.3 * g), (0, 130 * g)]
    ends = []
    for sign in (1, -1):
        found = linprog([sign * asked, -sign], A_ub=rows, b_ub=limits, bounds=bounds)
        ends.append(max(0.0, sign * found.fun))
    low, high = evidence_from(readings, g).residual(asked)
    assert low == pytest.approx(ends[0], abs=0.005)
    assert high == pytest.approx(ends[1], abs=0.005)


@pytest.mark.parametrize(
    ("start", "days", "first", "second"),
    [(125, 60, 0.0005, 9e-5), (10, 30, 0.006, 1e-5), (1, 180, 0.03, 1e-5), (120, 45, 1e-4, 2e-4)],
)
def test_loss_of_first_and_second_order_together(start, days, first, second):
    """The closed form against the equation itself, stepped by scipy."""
    from scipy.integrate import solve_ivp

    stepped = solve_ivp(
        lambda t, c: -first * c - second * c**2, (0, days), [start], rtol=1e-10, atol=1e-12
    )
    assert hypochlorite_left(start, days, first, second) == pytest.approx(
        stepped.y[0][-1], rel=1e-7
    )
