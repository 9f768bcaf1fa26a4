"""Pipes: inside diameters, water in a length, velocity, and pressure lost to friction.

Contents: INSIDE_DIAMETER_IN, inside_diameter_in, pipe_volume, friction.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.factors import (
    CUBIC_INCHES_PER_GALLON,
    INCHES_PER_FOOT,
    METRES_PER_FOOT,
    METRES_PER_INCH,
    PASCALS_PER_PSI,
    SECONDS_PER_MINUTE,
    cylinder_gal,
)
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, number
from equipment.engineering.water.properties import water_density_kg_m3, water_viscosity_mpa_s

#: inside diameter in inches by nominal size in inches (MEMORY: copper ASTM B88, cross-linked
#: polyethylene ASTM F876/F877 SDR 9, CPVC ASTM D2846 SDR 11, PVC ASTM D1785 schedule 40).
#: Copper L and PEX agree with the published volumes of 2009 IPC Table E202.1 (SEEN).
INSIDE_DIAMETER_IN: dict[str, dict[float, float]] = {
    "copper-k": {
        0.375: 0.402,
        0.5: 0.527,
        0.75: 0.745,
        1: 0.995,
        1.25: 1.245,
        1.5: 1.481,
        2: 1.959,
    },
    "copper-l": {
        0.375: 0.430,
        0.5: 0.545,
        0.75: 0.785,
        1: 1.025,
        1.25: 1.265,
        1.5: 1.505,
        2: 1.985,
    },
    "copper-m": {
        0.375: 0.450,
        0.5: 0.569,
        0.75: 0.811,
        1: 1.055,
        1.25: 1.291,
        1.5: 1.527,
        2: 2.009,
    },
    "pex": {0.375: 0.350, 0.5: 0.475, 0.75: 0.671, 1: 0.862, 1.25: 1.054, 1.5: 1.244, 2: 1.629},
    "cpvc": {0.5: 0.489, 0.75: 0.715, 1: 0.921, 1.25: 1.125, 1.5: 1.329, 2: 1.739},
    "pvc-40": {0.5: 0.622, 0.75: 0.824, 1: 1.049, 1.25: 1.380, 1.5: 1.610, 2: 2.067},
}
SIZE_NAMES = {0.375: "3/8", 0.5: "1/2", 0.75: "3/4", 1: "1", 1.25: "1 1/4", 1.5: "1 1/2", 2: "2"}
#: ft/s for a gpm in a square inch of diameter: 231 / (60 x 12 x pi / 4)
VELOCITY_FACTOR = CUBIC_INCHES_PER_GALLON / (SECONDS_PER_MINUTE * INCHES_PER_FOOT * math.pi / 4)
#: above this copper wears and pipes are heard: cold, hot, and above 140 degF (Copper Tube Handbook,
#: as quoted, SEEN-2nd), by the water's degC
FAST_FT_S, FAST_HOT_FT_S, FAST_HOTTER_FT_S = 8.0, 5.0, 3.0
HOT_FROM_C, HOTTER_FROM_C = 40.0, 60.0
#: no pipe of a house is meant to carry more, ft/s (PRACTICE)
ABSURD_FT_S = 15.0
#: Hazen-Williams for psi, gpm, in, ft; C = 150 for plastic and copper (SEEN, exam practice pages)
HAZEN_WILLIAMS, SMOOTH_C, FLOW_POWER, DIAMETER_POWER = 4.52, 150.0, 1.85, 4.87
#: mm, drawn tube and plastic (MEMORY, handbooks)
ROUGHNESS_MM = 0.0015
#: Re between which the flow is neither: a single number there is false exactness
LAMINAR_UNTIL, TURBULENT_FROM = 2000.0, 4000.0

UNSETTLED = (
    "Between smooth and turbulent flow the loss is not settled: it lies between the two figures."
)

MATERIAL = Key(
    name="material",
    kind="choice",
    choices=tuple(INSIDE_DIAMETER_IN),
    required=True,
    help="pipe material and wall",
)
SIZE = Key(name="nominal_size", kind="size", required=True, help='as printed on it, "3/4 in"')
LENGTH = Key(
    name="length", unit="ft", required=True, low=0, low_open=True, high=5000, help="length of pipe"
)
FLOW = Key(name="flow", unit="gpm", low=0, low_open=True, high=200, help="running tap flow")
FRICTION_FLOW = Key(
    name="flow",
    unit="gpm",
    required=True,
    low=0,
    low_open=True,
    high=200,
    help="flow through the pipe",
)
TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    low=0,
    high=90,
    help="of the water; given: Darcy-Weisbach, else Hazen-Williams",
)


def inside_diameter_in(material: str, nominal_size: str) -> float:
    """Inside diameter of a nominal size such as "3/4 in" or "1-1/4 in"."""
    if material not in INSIDE_DIAMETER_IN:
        raise WrongInput(
            "material", f"{material[:30]!r} is not one of {', '.join(INSIDE_DIAMETER_IN)}"
        )
    size = number("nominal_size", nominal_size.removesuffix("in").strip())
    sizes = INSIDE_DIAMETER_IN[material]
    if size not in sizes:
        known = ", ".join(f"{SIZE_NAMES[each]} in" for each in sizes)
        raise WrongInput("nominal_size", f"{material} is made in {known}")
    return sizes[size]


def velocity_ft_s(inches: float, gpm: float) -> float:
    return VELOCITY_FACTOR * gpm / inches**2


def _speed_warning(speed: float | None, celsius: float | None = None) -> tuple[str, ...]:
    """Refuses a speed that no pipe of a house is meant for."""
    if speed is not None and speed > ABSURD_FT_S:
        raise OutOfRange(
            "flow", f"makes {speed:.0f} ft/s, above {ABSURD_FT_S:g} ft/s: a larger pipe is needed"
        )
    limit, water = FAST_FT_S, ""
    if celsius is not None and celsius >= HOT_FROM_C:
        limit = FAST_HOTTER_FT_S if celsius > HOTTER_FROM_C else FAST_HOT_FT_S
        water = " of hot water"
    if speed is None or speed <= limit:
        return ()
    return (f"{speed:.1f} ft/s{water} is above {limit:g} ft/s: noise, wear and water hammer.",)


class PipeVolume(Answer):
    method: ClassVar[str] = "pipe-volume/2"

    volume: Quantity = result("gal", "water in this length")
    velocity: Quantity | None = result("ft/s", "speed of the water")
    flush_time: Quantity | None = result("s", "time for one volume to run out")


def pipe_volume(
    *, material: str, nominal_size: str, length: Quantity, flow: Quantity | None = None
) -> PipeVolume:
    """Water in a length of pipe, and the time until it has run out.

    V = pi d^2 / 4 L;  v = 0.4085 Q / d^2;  t = V / Q

    material      copper-k, copper-l, copper-m, pex, cpvc or pvc-40
    nominal_size  3/8 to 2 in as the material has it
    length        L              [length]  above 0, at most 5000 ft
    flow          Q, running     [flow]    above 0, at most 200 gpm
    returns       volume gal, velocity ft/s, flush_time s

    Raises WrongInput for a material or size not in the table, OutOfRange. Run 2 to 3 volumes
    before a sample (common practice, no source). Source: inside diameters from memory of the
    standards; copper L and PEX agree with 2009 IPC Table E202.1 (SEEN).
    """
    inches = inside_diameter_in(material, nominal_size)
    feet, gpm = LENGTH.amount(length), FLOW.optional(flow)
    gallons = cylinder_gal(inches, feet)
    speed = gpm and velocity_ft_s(inches, gpm)
    lines = [f"volume = pi / 4 x ({inches:g} in)^2 x {feet:g} ft = {gallons:.3g} gal"]
    if gpm:
        lines.append(f"time = {gallons:.3g} gal / {gpm:g} gpm = {gallons / gpm * 60:.0f} s")
    return PipeVolume(
        volume=q(gallons, "gal"),
        velocity=q(speed, "ft/s"),
        flush_time=q(gpm and gallons / gpm * 60, "s"),
        warnings=_speed_warning(speed),
        sources=(
            "Inside diameters of the pipe standards, from memory; copper L and PEX as in 2009 IPC"
            " Table E202.1.",
            "Run 2 to 3 volumes before a sample: common practice, no source.",
        ),
        working=tuple(lines),
    )


register(
    Calculation(
        name="pipe-volume",
        title="Water in a pipe and flush time",
        function=pipe_volume,
        answer=PipeVolume,
        keys=(MATERIAL, SIZE, LENGTH, FLOW),
    )
)


class Friction(Answer):
    method: ClassVar[str] = "friction/2"

    pressure_drop: Quantity = result("psi", "pressure lost in straight pipe, fittings not counted")
    pressure_drop_low: Quantity | None = result(
        "psi", "least pressure lost, where the flow is neither smooth nor turbulent"
    )
    velocity: Quantity = result("ft/s", "speed of the water")
    formula: str = result("", "Hazen-Williams or Darcy-Weisbach")


def friction(
    *,
    material: str,
    nominal_size: str,
    length: Quantity,
    flow: Quantity,
    temperature: Quantity | None = None,
) -> Friction:
    """Pressure lost to friction in straight pipe.

    Without a temperature p = 4.52 L Q^1.85 / (C^1.85 d^4.87), C = 150;
    with one p = f (L / d) rho v^2 / 2, f by Colebrook, 64 / Re below Re 2000; between 2000 and
    4000 both: Colebrook's is the most, 64 / Re the least

    material      copper-k, copper-l, copper-m, pex, cpvc or pvc-40
    nominal_size  3/8 to 2 in as the material has it
    length        L              [length]  above 0, at most 5000 ft
    flow          Q              [flow]    above 0, at most 200 gpm
    temperature   of the water   [degC]    0 to 90
    returns       pressure_drop psi, pressure_drop_low psi where unsettled, velocity ft/s

    Hazen-Williams reads 30 percent low at 1 gpm and 8 percent at 10 gpm in 3/4 in at 10 degC; give
    the temperature there. Above 15 ft/s it is refused (PRACTICE).
    Raises WrongInput, OutOfRange. Source: Hazen-Williams with the coefficient for psi (SEEN, exam
    practice pages); Darcy-Weisbach, roughness 0.0015 mm, from memory of the handbooks.
    """
    inches = inside_diameter_in(material, nominal_size)
    feet, gpm = LENGTH.amount(length), FRICTION_FLOW.amount(flow)
    celsius = TEMPERATURE.optional(temperature)
    speed = velocity_ft_s(inches, gpm)
    low: float | None = None
    warnings: tuple[str, ...] = ()
    if celsius is None:
        drop, formula = hazen_williams_psi(inches, feet, gpm), "Hazen-Williams"
        warnings = (
            "Cold water in small pipe loses 8 percent more at 10 gpm and 30 at 1 gpm; give the"
            " temperature.",
        )
    else:
        (low, drop), formula = darcy_range_psi(inches, feet, speed, celsius), "Darcy-Weisbach"
        warnings = () if low is None else (UNSETTLED,)
    return Friction(
        pressure_drop=q(drop, "psi"),
        pressure_drop_low=q(low, "psi"),
        velocity=q(speed, "ft/s"),
        formula=formula,
        warnings=warnings + _speed_warning(speed, celsius),
        sources=(
            f"{formula} for smooth pipe; inside diameters of the pipe standards, from memory.",
        ),
        working=(
            f"velocity = 0.4085 x {gpm:g} gpm / ({inches:g} in)^2 = {speed:.3g} ft/s",
            f"{formula}: {'' if low is None else f'{low:.3g} to '}{drop:.3g} psi in {feet:g} ft",
        ),
    )


def hazen_williams_psi(
    inches: float, feet: float, gpm: float, roughness: float = SMOOTH_C
) -> float:
    """4.52 gives psi; a page that calls it feet is wrong."""
    return float(HAZEN_WILLIAMS * feet * (gpm / roughness) ** FLOW_POWER / inches**DIAMETER_POWER)


def darcy_range_psi(
    inches: float, feet: float, speed_ft_s: float, celsius: float
) -> tuple[float | None, float]:
    """Least and most; the least only where the flow is neither smooth nor turbulent."""
    most = darcy_psi(inches, feet, speed_ft_s, celsius)
    number = reynolds_number(inches, speed_ft_s, celsius)
    if not LAMINAR_UNTIL <= number < TURBULENT_FROM:
        return None, most
    rough = ROUGHNESS_MM / 1000 / (inches * METRES_PER_INCH)
    return most * 64 / number / friction_factor(number, rough), most


def reynolds_number(inches: float, speed_ft_s: float, celsius: float) -> float:
    diameter, speed = inches * METRES_PER_INCH, speed_ft_s * METRES_PER_FOOT
    viscosity = water_viscosity_mpa_s(celsius) / 1000
    return water_density_kg_m3(celsius) * speed * diameter / viscosity


def darcy_psi(inches: float, feet: float, speed_ft_s: float, celsius: float) -> float:
    diameter, speed = inches * METRES_PER_INCH, speed_ft_s * METRES_PER_FOOT
    density = water_density_kg_m3(celsius)
    reynolds = reynolds_number(inches, speed_ft_s, celsius)
    factor = friction_factor(reynolds, ROUGHNESS_MM / 1000 / diameter)
    loss = factor * feet * METRES_PER_FOOT / diameter * density * speed**2 / 2
    return loss / PASCALS_PER_PSI


def friction_factor(reynolds: float, relative_roughness: float) -> float:
    """Darcy factor: 64 / Re below 2000, above it Colebrook by repetition."""
    if reynolds < LAMINAR_UNTIL:
        return 64 / reynolds
    root = 7.0
    for _ in range(50):
        last, root = root, -2 * math.log10(relative_roughness / 3.7 + 2.51 * root / reynolds)
        if abs(root - last) < 1e-12:
            break
    return 1 / root**2


register(
    Calculation(
        name="friction",
        title="Pressure lost in a pipe",
        function=friction,
        answer=Friction,
        keys=(MATERIAL, SIZE, LENGTH, FRICTION_FLOW, TEMPERATURE),
    )
)
