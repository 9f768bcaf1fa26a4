"""How a washed bed expands: bed-expansion, and the model behind the wash rate's temperature.

Contents: bed_expansion; in plain numbers archimedes, reynolds, velocity_m_h, expanded_porosity,
minimum_fluidization_m_h, rate_for_expansion_m_h.

Source: Hendricks, Fundamentals of Water Treatment Unit Processes, CRC, eq 12.53 to 12.58, p. 366
to 368 (SEEN).
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import SECONDS_PER_HOUR
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity
from equipment.engineering.water.properties import water_density_kg_m3, water_viscosity_mpa_s

GRAVITY = 9.80665
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


GRAIN_DIAMETER = Key(
    name="grain_diameter",
    unit="mm",
    required=True,
    low=0.1,
    high=6,
    help="d60 for the expansion; for minimum fluidization the book means d90",
)
SPECIFIC_GRAVITY = Key(
    name="specific_gravity",
    kind="number",
    required=True,
    low=1.05,
    high=6,
    help="density of the wet grain by that of water",
)
POROSITY = Key(
    name="porosity",
    kind="number",
    required=True,
    low=0.3,
    high=0.7,
    help="void share of the bed at rest",
)
GRAIN_BED_DEPTH = Key(
    name="bed_depth", unit="mm", required=True, low=25, high=3000, help="depth of the bed at rest"
)
TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    required=True,
    low=0,
    high=40,
    help="temperature of the backwash water",
)
VELOCITY = Key(
    name="velocity",
    unit="m/h",
    required=True,
    low=0,
    low_open=True,
    high=300,
    help="upflow by bed area",
)


class BedExpansion(Answer):
    method: ClassVar[str] = "expansion/1"

    expanded_depth: Quantity = result("mm", "depth of the backwashed bed")
    expansion: float = result("", "rise by the depth at rest")
    expanded_porosity: float = result("", "void share of the backwashed bed")
    minimum_fluidization: Quantity = result("m/h", "upflow at which the grains just float")


def bed_expansion(
    *,
    grain_diameter: Quantity,
    specific_gravity: float,
    porosity: float,
    bed_depth: Quantity,
    velocity: Quantity,
    temperature: Quantity,
) -> BedExpansion:
    """Depth of a washed bed of one grain size.

    eps^4.7 Ga = 18 R + 2.7 R^1.687;  (h - h0) / h0 = (eps - eps0) / (1 - eps);
    R_mf = sqrt(33.7^2 + 0.0408 Ga) - 33.7;  Ga = d^3 rho (rho_s - rho) g / mu^2;  R = rho v d / mu

    grain_diameter    d             [length]    0.1 to 6 mm
    specific_gravity  rho_s / 1000  [bare]      1.05 to 6
    porosity          eps0          [bare]      0.3 to 0.7
    bed_depth         h0            [length]    25 to 3000 mm
    velocity          v             [velocity]  above 0, at most 300 m/h
    temperature       water         [degC]      0 to 40
    returns           expanded_depth mm, expansion and porosity bare, minimum_fluidization m/h

    Below the bed's own porosity nothing rises and the expansion is 0. Raises OutOfRange when the
    model has no bed left (eps above 0.95). Source: Hendricks, Fundamentals of Water Treatment
    Unit Processes, CRC, eq 12.53 to 12.58 (SEEN).
    """
    diameter = GRAIN_DIAMETER.amount(grain_diameter)
    gravity = SPECIFIC_GRAVITY.amount(specific_gravity)
    resting = POROSITY.amount(porosity)
    depth = GRAIN_BED_DEPTH.amount(bed_depth)
    upflow = VELOCITY.amount(velocity)
    celsius = TEMPERATURE.amount(temperature)
    lifted = expanded_porosity(diameter, gravity, upflow, celsius)
    if lifted > 0.95:
        raise OutOfRange("velocity", f"{upflow:g} m/h would carry this grain out of the vessel")
    share = max(0.0, (lifted - resting) / (1 - lifted))
    slowest = minimum_fluidization_m_h(diameter, gravity, celsius)
    return BedExpansion(
        expanded_depth=q(depth * (1 + share), "mm"),
        expansion=share,
        expanded_porosity=max(lifted, resting),
        minimum_fluidization=q(slowest, "m/h"),
        warnings=("This upflow does not lift the bed.",) if share == 0 else (),
        sources=("Hendricks, Water Treatment Unit Processes, CRC, eq 12.53 to 12.58.",),
        working=(
            f"porosity = {max(lifted, resting):.3f} at {upflow:g} m/h, {resting:g} at rest",
            f"rise = ({lifted:.3f} - {resting:g}) / (1 - {lifted:.3f}) = {share:.3f}",
        ),
    )


register(
    Calculation(
        name="bed-expansion",
        title="Bed expansion in a backwash",
        function=bed_expansion,
        answer=BedExpansion,
        keys=(GRAIN_DIAMETER, SPECIFIC_GRAVITY, POROSITY, GRAIN_BED_DEPTH, VELOCITY, TEMPERATURE),
    )
)
