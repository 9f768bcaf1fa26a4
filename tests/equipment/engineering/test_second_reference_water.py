"""Water properties and oxygen against other libraries."""

import pytest

from equipment.engineering.registry import compute
from equipment.engineering.water.properties import (
    oxygen_at_saturation,
    water_density_kg_m3,
    water_viscosity_mpa_s,
)

pytestmark = pytest.mark.second_reference


@pytest.mark.parametrize("celsius", [0.5, 4, 10, 15, 20, 25, 30, 40, 50, 60])
def test_density_and_viscosity_against_iapws(celsius):
    # IAPWS-95 density within 0.01 kg/m3; the fit SR6-08 within 0.1 percent of the formulation
    from iapws import IAPWS95

    water = IAPWS95(T=celsius + 273.15, P=0.101325)
    assert water_density_kg_m3(celsius) == pytest.approx(water.rho, abs=0.01)
    assert water_viscosity_mpa_s(celsius) == pytest.approx(water.mu * 1000, rel=1e-3)


@pytest.mark.parametrize("celsius", [0, 5, 10, 15, 20, 25, 30])
@pytest.mark.parametrize("salinity", [0, 5, 35])
def test_oxygen_against_another_fit(celsius, salinity):
    # Garcia and Gordon's fit of the same data, micromole per kg of sea water. With salt the two
    # fits differ by up to 0.02 mg/L.
    import gsw

    per_kg = gsw.O2sol_SP_pt(salinity, celsius)
    density = gsw.rho(gsw.SA_from_SP(salinity, 0, 0, 45), celsius, 0)
    theirs = float(per_kg * 31.9988e-3 * density / 1000)
    tolerance = 0.004 if salinity == 0 else 0.03
    assert oxygen_at_saturation(celsius, 1.0, salinity) == pytest.approx(theirs, abs=tolerance)


def test_casing_volume_against_another_geometry():
    from fluids.geometry import V_from_h

    theirs = V_from_h(h=30.48, D=0.1524, L=30.48, horizontal=False)
    _, answer = compute("well-volume", casing_diameter="6 in", water_column="100 ft")
    assert answer.volume.m_as("m**3") == pytest.approx(theirs, rel=1e-9)
