"""Gas solubility, ripple and the weights of readings against other libraries."""

import math

import pytest

from equipment.engineering.oxidant.dial_grid import Edge, House, learnt
from equipment.engineering.oxidant.readings import Reading
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


@pytest.mark.parametrize(
    "readings",
    [
        (Reading(42, 10, 25, tap=True),),
        (Reading(42, 0, 0.5, tap=False), Reading(63, 25, 50)),
        (Reading(42, 50, math.inf, tap=True), Reading(30, 2, 5, tap=True)),
    ],
    ids=["one band", "zero, then a band", "above the top, then a band"],
)
def test_chances_against_a_fine_grid_with_scipy(readings):
    """The same model on 1,200 x 1,600 pairs, with scipy's normal distribution, by numpy.

    Ours has 26 slopes and 110 demands: two points of a hundred."""
    import numpy as np
    from scipy.stats import norm

    g, computed, memory = 1.0, 30.0, 0.9
    slope = np.linspace(0.55, 1.35, 1200)[:, None] * g
    demand = np.geomspace(96 / 250, 96, 1600)[None, :]
    told = norm.logpdf(slope, 0.95 * g, 0.15 * g)
    told = told + norm.logpdf(np.log(demand / computed), 0, 0.55) - np.log(demand / computed)
    prior, seen = told, 0.0
    for reading in readings:
        fed = slope * reading.setting
        excess = fed - demand
        deviation = np.sqrt(
            (0.055 * fed) ** 2
            + (0.065 * demand) ** 2
            + (0.08 * np.maximum(excess, 0)) ** 2
            + 0.1**2
        )
        low, high = reading.low, reading.high
        width = low if math.isinf(high) else high - low
        wide_low, wide_high = low - max(width / 2, low / 2), high + max(width, high)

        def inside(low, high, excess=excess, deviation=deviation):
            bottom = norm.cdf(low, excess, deviation) if low > 0 else 0.0
            return norm.cdf(high, excess, deviation) - bottom

        fit = 0.86 * inside(low, high) + 0.12 * inside(wide_low, wide_high) + 0.003
        if reading.tap is not None:
            clear = norm.cdf((fed - 0.92 * demand) / (0.05 * demand + 0.05))
            clear = clear if reading.tap else 1 - clear
            fit = fit * (0.95 * clear + 0.05 * (1 - clear))
        seen = memory * seen + np.log(fit)
    weights = np.exp(prior + seen)
    weights /= weights.sum()
    ours = learnt(House(g, computed, 15.0, memory), readings)
    assert ours.slope == pytest.approx((weights * slope).sum(), rel=0.005)
    for setting in (24, 34, 50):
        for edge in (Edge(0.0), Edge(5.0), Edge(15.0), Edge(0.3, 0.05), Edge(0.0, -0.1)):
            excess = slope * setting - demand
            expected = weights[excess >= edge.share * demand + edge.fixed].sum()
            assert ours.reached(setting, edge) == pytest.approx(expected, abs=0.02)


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
