"""Friction, fluidization and water against the fluids and iapws libraries."""

import pytest

from equipment.engineering.beds.expansion import minimum_fluidization_m_h, rate_for_expansion_m_h
from equipment.engineering.plumbing.pipes import darcy_psi, friction_factor, velocity_ft_s
from equipment.engineering.water.properties import water_density_kg_m3, water_viscosity_mpa_s

pytestmark = pytest.mark.second_reference


@pytest.mark.parametrize("reynolds", [500, 1900, 5e3, 2e4, 1e5, 1e6])
@pytest.mark.parametrize("rough", [0, 1e-5, 1e-4, 1e-3])
def test_friction_factor(reynolds, rough):
    from fluids.friction import Colebrook

    theirs = 64 / reynolds if reynolds < 2000 else Colebrook(reynolds, rough)
    assert friction_factor(reynolds, rough) == pytest.approx(theirs, rel=1e-9)


@pytest.mark.parametrize(
    ("inches", "gpm", "celsius"), [(0.785, 5, 10), (0.785, 10, 10), (1.025, 15, 5), (1.38, 15, 60)]
)
def test_pressure_lost_in_a_pipe(inches, gpm, celsius):
    from fluids.friction import one_phase_dP
    from iapws import IAPWS95

    water = IAPWS95(T=celsius + 273.15, P=0.101325)
    metres = inches * 0.0254
    pascals = one_phase_dP(
        m=gpm * 3.785411784e-3 / 60 * water.rho,
        rho=water.rho,
        mu=water.mu,
        D=metres,
        roughness=1.5e-6,
        L=30.48,
        Method="Colebrook",
    )
    ours = darcy_psi(inches, 100, velocity_ft_s(inches, gpm), celsius)
    assert ours == pytest.approx(pascals / 6894.757, rel=1e-3)


@pytest.mark.parametrize("celsius", [0.01, 2, 5, 10, 15, 20, 25, 35, 50])
def test_water(celsius):
    from iapws import IAPWS95

    water = IAPWS95(T=celsius + 273.15, P=0.101325)
    assert water_density_kg_m3(celsius) == pytest.approx(water.rho, rel=1e-4)
    assert water_viscosity_mpa_s(celsius) == pytest.approx(water.mu * 1000, rel=2e-3)


@pytest.mark.parametrize(
    ("diameter", "gravity"), [(0.4, 2.65), (0.736, 2.655), (1.2, 1.6), (2.0, 2.65)]
)
def test_root_of_the_expansion_model(diameter, gravity):
    """The upflow for an expansion, found by scipy on the published equation."""
    from scipy.optimize import brentq

    rho, mu = water_density_kg_m3(10), water_viscosity_mpa_s(10) / 1000
    galileo = (diameter / 1000) ** 3 * rho * (gravity * 1000 - rho) * 9.80665 / mu**2
    porosity = 1 - (1 - 0.42) / 1.3
    reynolds = brentq(
        lambda r: 18 * r + 2.7 * r**1.687 - porosity**4.7 * galileo, 1e-9, 1e6, xtol=1e-12
    )
    theirs = reynolds * mu / (rho * diameter / 1000) * 3600
    assert rate_for_expansion_m_h(diameter, gravity, 0.42, 0.3, 10) == pytest.approx(
        theirs, rel=1e-8
    )
    assert minimum_fluidization_m_h(diameter, gravity, 10) < theirs
