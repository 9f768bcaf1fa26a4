"""How a washed bed expands: the fluidization model behind bed-expansion and the wash rate.

Contents: archimedes, expanded_porosity, minimum_fluidization_m_h, rate_for_expansion_m_h. Plain
numbers throughout; the public functions stand in backwash.py.

Source: Hendricks, Fundamentals of Water Treatment Unit Processes, CRC, eq 12.53 to 12.58, p. 366
to 368 (SEEN).
"""

from __future__ import annotations

import math

from .water import water_density_kg_m3, water_viscosity_mpa_s

GRAVITY = 9.80665
SECONDS_PER_HOUR = 3600.0
#: density that a specific gravity refers to, water at 4 degC
REFERENCE_DENSITY = 1000.0
#: eps^4.7 Ga = 18 R + 2.7 R^1.687
POROSITY_POWER, LINEAR, TURBULENT, TURBULENT_POWER = 4.7, 18.0, 2.7, 1.687
#: Wen & Yu: R = sqrt(33.7^2 + 0.0408 Ga) - 33.7
WEN_YU, WEN_YU_FACTOR = 33.7, 0.0408


def archimedes(diameter_mm: float, gravity: float, temp_c: float) -> float:
    """Ga = d^3 rho (rhos - rho) g / mu^2."""
    density, viscosity = water_density_kg_m3(temp_c), water_viscosity_mpa_s(temp_c) / 1000
    heavier = gravity * REFERENCE_DENSITY - density
    return float((diameter_mm / 1000) ** 3 * density * heavier * GRAVITY / viscosity**2)


def reynolds(diameter_mm: float, velocity_m_h: float, temp_c: float) -> float:
    """R = rho v d / mu."""
    viscosity = water_viscosity_mpa_s(temp_c) / 1000
    speed = velocity_m_h / SECONDS_PER_HOUR
    return water_density_kg_m3(temp_c) * speed * diameter_mm / 1000 / viscosity


def velocity_m_h(diameter_mm: float, reynolds_number: float, temp_c: float) -> float:
    return reynolds_number / reynolds(diameter_mm, 1.0, temp_c)


def expanded_porosity(
    diameter_mm: float, gravity: float, upflow_m_h: float, temp_c: float
) -> float:
    """eps of the washed bed; 1 or more means that the grains leave."""
    number = reynolds(diameter_mm, upflow_m_h, temp_c)
    drag = LINEAR * number + TURBULENT * number**TURBULENT_POWER
    return float((drag / archimedes(diameter_mm, gravity, temp_c)) ** (1 / POROSITY_POWER))


def minimum_fluidization_m_h(diameter_mm: float, gravity: float, temp_c: float) -> float:
    """Wen & Yu; the diameter meant there is d90."""
    ga = archimedes(diameter_mm, gravity, temp_c)
    return velocity_m_h(diameter_mm, math.sqrt(WEN_YU**2 + WEN_YU_FACTOR * ga) - WEN_YU, temp_c)


def rate_for_expansion_m_h(
    diameter_mm: float, gravity: float, porosity: float, expansion: float, temp_c: float
) -> float:
    """Upflow velocity that expands a bed by this share of its depth (Newton on R)."""
    expanded = 1 - (1 - porosity) / (1 + expansion)
    drag = expanded**POROSITY_POWER * archimedes(diameter_mm, gravity, temp_c)
    number = drag / LINEAR
    for _ in range(60):
        over = LINEAR * number + TURBULENT * number**TURBULENT_POWER - drag
        slope = LINEAR + TURBULENT * TURBULENT_POWER * number ** (TURBULENT_POWER - 1)
        number -= over / slope
        if abs(over) <= 1e-9 * drag:
            break
    return velocity_m_h(diameter_mm, number, temp_c)
