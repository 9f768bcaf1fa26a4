"""Water itself: density, viscosity, oxygen saturation, pressure at altitude.

Contents: water_properties, oxygen_saturation; water_density_kg_m3, water_viscosity_mpa_s,
standard_pressure, oxygen_at_saturation as plain figures for other modules.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.factors import KELVIN_AT_0_C, METRES_PER_FOOT
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, ranged

DEGC = "degC"
ATM = "atm"
FOOT = "ft"
PROPERTY_RANGE_C = (0.0, 60.0)
OXYGEN_RANGE_C = (0.0, 40.0)
SALINITY_RANGE = (0.0, 40.0)
PRESSURE_RANGE_ATM = (0.5, 1.1)
ALTITUDE_RANGE_FT = (-1000.0, 18000.0)

#: Kell, J. Chem. Eng. Data 20 (1975) 97, density at 1 atm, kg/m3 (MEMORY)
KELL_ABOVE = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
KELL_BELOW = 16.879850e-3
#: IAPWS Supplementary Release SR6-08 (2008), liquid water at 0.1 MPa, micropascal seconds:
#: sum of a (T / 300 K)^b (MEMORY)
VISCOSITY_TERMS = ((280.68, -1.9), (511.45, -7.7), (61.131, -19.6), (0.45903, -40.0))
#: Benson and Krause 1980, 1984 as adopted by USGS memorandum 2011.03
OXYGEN_TERMS = (-139.34411, 1.575701e5, -6.642308e7, 1.243800e10, -8.621949e11)
SALT_TERMS = (0.017674, -10.754, 2140.7)
THETA_TERMS = (0.000975, -1.426e-5, 6.436e-8)
#: vapour pressure of fresh water, atm, of the same memorandum (MEMORY)
VAPOUR_TERMS = (11.8571, -3840.70, -216961.0)
#: standard atmosphere: P = (1 - k h)^n, h in metres (MEMORY, ICAO)
ATMOSPHERE_K, ATMOSPHERE_N = 2.25577e-5, 5.25588


class WaterProperties(Answer):
    method: ClassVar[str] = "water/1"

    density: Quantity = result("kg/m3", "at 1 atm")
    viscosity: Quantity = result("mPa*s", "dynamic, at 1 atm")
    kinematic_viscosity: Quantity = result("mm2/s", "viscosity over density")


def water_properties(*, temperature: Quantity) -> WaterProperties:
    """Density and viscosity of pure water at 1 atm.

    rho = (a0 + a1 t + ... + a5 t^5) / (1 + b t);  mu = sum a_i (T / 300)^b_i;  nu = mu / rho

    temperature  t degC, T kelvin  [degC]  0 to 60
    returns      density kg/m3, viscosity mPa*s, kinematic_viscosity mm2/s

    Raises OutOfRange outside 0 to 60 degC. Sources: Kell, J. Chem. Eng. Data 20 (1975) 97;
    IAPWS SR6-08 (2008) (both MEMORY, checked against IAPWS-95 values).
    """
    celsius = ranged("temperature", temperature, DEGC, *PROPERTY_RANGE_C)
    rho, mu = water_density_kg_m3(celsius), water_viscosity_mpa_s(celsius)
    return WaterProperties(
        density=q(rho, "kg/m3"),
        viscosity=q(mu, "mPa*s"),
        kinematic_viscosity=q(1000 * mu / rho, "mm2/s"),
        sources=(
            "Density: Kell, J. Chem. Eng. Data 20 (1975) 97.",
            "Viscosity: IAPWS supplementary release SR6-08 (2008), liquid at 0.1 MPa.",
        ),
        working=(f"viscosity / density = {mu:.4g} mPa s / {rho:.5g} kg/m3 x 1000",),
    )


def water_density_kg_m3(celsius: float) -> float:
    """kg/m3 of pure water at 1 atm, 0 to 60 degC (not checked here)."""
    above = math.fsum(term * celsius**power for power, term in enumerate(KELL_ABOVE))
    return above / (1 + KELL_BELOW * celsius)


def water_viscosity_mpa_s(celsius: float) -> float:
    """mPa s of pure water at 1 atm, 0 to 60 degC (not checked here)."""
    reduced = (celsius + KELVIN_AT_0_C) / 300
    return math.fsum(term * reduced**power for term, power in VISCOSITY_TERMS) / 1000


class OxygenSaturation(Answer):
    method: ClassVar[str] = "oxygen/1"

    saturation: Quantity = result("mg/L", "oxygen dissolved at balance with air")
    pressure: Quantity = result(ATM, "air pressure taken")


def oxygen_saturation(
    *,
    temperature: Quantity,
    altitude: Quantity | None = None,
    pressure: Quantity | None = None,
    salinity: float = 0.0,
) -> OxygenSaturation:
    """Dissolved oxygen in balance with moist air.

    ln C0 = -139.34411 + 1.575701e5/T - 6.642308e7/T^2 + 1.243800e10/T^3 - 8.621949e11/T^4
    Fs = exp(-S (0.017674 - 10.754/T + 2140.7/T^2))
    Fp = (P - u)(1 - theta P) / ((1 - u)(1 - theta));  C = C0 Fs Fp

    temperature  t, kelvin T in the formula                [degC]  0 to 40
    altitude     gives P = (1 - 2.25577e-5 h)^5.25588      [ft]    -1000 to 18000
    pressure     P, instead of altitude; 1 when neither    [atm]   0.5 to 1.1
    salinity     S, practical salinity, default 0          [bare]  0 to 40
    returns      saturation mg/L, pressure atm

    Raises OutOfRange outside those limits, WrongInput when altitude and pressure are given.
    Source: Benson and Krause 1980, 1984 as adopted by USGS Office of Water Quality memorandum
    2011.03 (coefficients SEEN, vapour pressure u and atmosphere MEMORY).
    """
    celsius = ranged("temperature", temperature, DEGC, *OXYGEN_RANGE_C)
    if not SALINITY_RANGE[0] <= salinity <= SALINITY_RANGE[1]:
        raise OutOfRange("salinity", f"must be 0 to 40, got {salinity:g}")
    if altitude is not None and pressure is not None:
        raise WrongInput("pressure", "give altitude or pressure, not both")
    atmospheres = 1.0
    if pressure is not None:
        atmospheres = ranged("pressure", pressure, ATM, *PRESSURE_RANGE_ATM)
    elif altitude is not None:
        feet = ranged("altitude", altitude, FOOT, *ALTITUDE_RANGE_FT)
        atmospheres = standard_pressure(feet)
    saturation = oxygen_at_saturation(celsius, atmospheres, salinity)
    return OxygenSaturation(
        saturation=q(saturation, "mg/L"),
        pressure=q(atmospheres, ATM),
        sources=("Benson and Krause 1980, 1984; USGS memorandum 2011.03.",),
        working=(
            f"oxygen at {celsius:g} degC, {atmospheres:.4g} atm, salinity {salinity:g}"
            f" = {saturation:.4g} mg/L",
        ),
    )


def standard_pressure(feet: float) -> float:
    """Pressure of the standard atmosphere at an altitude, atm."""
    return float((1 - ATMOSPHERE_K * feet * METRES_PER_FOOT) ** ATMOSPHERE_N)


def oxygen_at_saturation(celsius: float, atmospheres: float = 1.0, salinity: float = 0.0) -> float:
    """mg/L of oxygen in balance with moist air (range not checked here)."""
    kelvin = celsius + KELVIN_AT_0_C
    at_one_atm = math.exp(math.fsum(a / kelvin**power for power, a in enumerate(OXYGEN_TERMS)))
    salt = math.exp(-salinity * math.fsum(a / kelvin**power for power, a in enumerate(SALT_TERMS)))
    vapour = math.exp(math.fsum(a / kelvin**power for power, a in enumerate(VAPOUR_TERMS)))
    theta = math.fsum(a * celsius**power for power, a in enumerate(THETA_TERMS))
    by_pressure = ((atmospheres - vapour) * (1 - theta * atmospheres)) / (
        (1 - vapour) * (1 - theta)
    )
    return at_one_atm * salt * by_pressure


register(
    Calculation(
        name="water-properties",
        title="Density and viscosity of water",
        function=water_properties,
        answer=WaterProperties,
        keys=(
            Key(
                name="temperature",
                unit=DEGC,
                required=True,
                low=0,
                high=60,
                help="temperature of the water",
            ),
        ),
    )
)
register(
    Calculation(
        name="oxygen-saturation",
        title="Dissolved oxygen in balance with air",
        function=oxygen_saturation,
        answer=OxygenSaturation,
        keys=(
            Key(
                name="temperature",
                unit=DEGC,
                required=True,
                low=0,
                high=40,
                help="temperature of the water",
            ),
            Key(name="altitude", unit=FOOT, low=-1000, high=18000, help="gives the air pressure"),
            Key(
                name="pressure",
                unit=ATM,
                low=0.5,
                high=1.1,
                help="air pressure, instead of altitude",
            ),
            Key(
                name="salinity",
                kind="number",
                low=0,
                high=40,
                default="0",
                help="practical salinity",
            ),
        ),
    )
)
