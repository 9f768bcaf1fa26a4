"""What a well and its pump give: specific capacity, recovery, and flow at a pressure.

Contents: well_yield, pump_curve.
"""

from __future__ import annotations

import math
from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange
from equipment.engineering.factors import cylinder_gal
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

#: feet of water that stay above the pump, and minutes of a supply (common practice, no source)
ABOVE_PUMP_FT, SUPPLY_MIN = 10.0, 120.0
#: gallons in two hours: New Hampshire Water Well Board, as quoted (SEEN-2nd)
SUGGESTED_GAL = 600.0
#: a test shorter than this says little (common practice, no source)
SHORT_TEST_MIN = 30.0
FEET_PER_PSI = 2.31

FLOW = Key(
    name="flow", unit="gpm", required=True, low=0.1, high=100, help="pumped when it was read"
)
STATIC = Key(name="static_level", unit="ft", required=True, low=0, high=1500, help="before pumping")
PUMPING = Key(
    name="pumping_level", unit="ft", required=True, low=0, high=1500, help="at the end of the test"
)
MINUTES = Key(name="minutes", unit="min", low=1, high=1440, help="length of the test")
CASING = Key(
    name="casing_diameter", unit="in", low=1, high=144, default="6 in", help="inside diameter"
)
PUMP_DEPTH = Key(
    name="pump_depth", unit="ft", low=0, high=1500, help="for the water stored above the well pump"
)
RISE = Key(
    name="rise", unit="ft", low=0, low_open=True, high=500, help="of the level, well pump off"
)
RISE_TIME = Key(name="rise_time", unit="min", low=0.5, high=1440, help="in which it rose")


class WellYield(Answer):
    method: ClassVar[str] = "well-yield/1"

    specific_capacity: float = result("", "gpm for each foot that the level falls")
    recovery: Quantity | None = result("gpm", "flow into the well while the level rose")
    two_hour_supply: Quantity | None = result("gal", "water of two hours, stored and coming in")


def well_yield(
    *,
    flow: Quantity,
    static_level: Quantity,
    pumping_level: Quantity,
    minutes: Quantity | None = None,
    casing_diameter: Quantity | None = None,
    pump_depth: Quantity | None = None,
    rise: Quantity | None = None,
    rise_time: Quantity | None = None,
) -> WellYield:
    """Specific capacity of a well, its recovery, and the water of two hours.

    Sc = Q / (pumping - static);  q = 0.0408 d^2 dh / dt;
    supply = casing above (pump less 10 ft) + q or Q x 120 min

    flow             Q, while pumped        [flow]    0.1 to 100 gpm
    static_level, pumping_level             [length]  0 to 1500 ft, pumping below static
    minutes          of the test            [time]    1 to 1440 min
    casing_diameter  d, default 6           [length]  1 to 144 in
    pump_depth       for the stored water   [length]  0 to 1500 ft, below static
    rise, rise_time  dh, dt, pump off       [length], [time]  both or none
    returns          specific_capacity gpm/ft, recovery gpm, two_hour_supply gal

    Falls with flow and hours: compare like with like; a fall to three quarters of the first test
    asks for a look (common practice, no source). Raises OutOfRange, MissingInput.
    Source: definition; geometry of the casing; 600 gal in two hours New Hampshire Water Well Board,
    as quoted (SEEN-2nd).
    """
    gpm, static = FLOW.amount(flow), STATIC.amount(static_level)
    pumping = PUMPING.amount(pumping_level)
    if pumping <= static:
        raise OutOfRange("pumping_level", f"must be below static_level ({static:g} ft)")
    inches = CASING.optional(casing_diameter) or 6.0
    back = _recovery(inches, RISE.optional(rise), RISE_TIME.optional(rise_time))
    supply = _supply(inches, static, PUMP_DEPTH.optional(pump_depth), gpm if back is None else back)
    capacity = gpm / (pumping - static)
    length = MINUTES.optional(minutes)
    notes = ["Compare with a test of the same flow and length: it falls with both."]
    if length is None or length < SHORT_TEST_MIN:
        notes.append("A test below 30 min says little of what the well gives for hours.")
    if supply is not None and supply < SUGGESTED_GAL:
        notes.append(f"Below {SUGGESTED_GAL:g} gal in two hours: storage or less use at once.")
    return WellYield(
        specific_capacity=capacity,
        recovery=q(back, "gpm"),
        two_hour_supply=q(supply, "gal"),
        warnings=tuple(notes),
        sources=(
            "Definition of specific capacity; geometry of the casing.",
            "600 gal in two hours: New Hampshire Water Well Board, as quoted.",
        ),
        working=(f"{gpm:g} gpm / ({pumping:g} - {static:g}) ft = {capacity:.3g} gpm/ft",),
    )


def _recovery(inches: float, feet: float | None, minutes: float | None) -> float | None:
    if (feet is None) != (minutes is None):
        missing = "rise" if feet is None else "rise_time"
        raise MissingInput(missing, "is missing; rise and rise_time go together")
    return None if feet is None or minutes is None else cylinder_gal(inches, feet) / minutes


def _supply(inches: float, static: float, pump: float | None, gpm: float) -> float | None:
    if pump is None:
        return None
    if pump <= static:
        raise OutOfRange("pump_depth", f"must be below static_level ({static:g} ft)")
    stored = cylinder_gal(inches, max(0.0, pump - ABOVE_PUMP_FT - static))
    return stored + gpm * SUPPLY_MIN


def _pressure(name: str, text: str) -> Key:
    return Key(name=name, unit="psi", required=True, low=0, high=150, help=text)


def _flow(name: str, text: str) -> Key:
    return Key(name=name, unit="gpm", required=True, low=0.1, high=200, help=text)


LOW_PSI = _pressure("pressure_low", "middle of a timed refill at low pressure")
LOW_FLOW = _flow("flow_low_pressure", "well pump flow at it")
HIGH_PSI = _pressure("pressure_high", "middle of a timed refill at high pressure")
HIGH_FLOW = _flow("flow_high_pressure", "well pump flow at it")
WANTED = _pressure("pressure", "pressure to know the flow at")


class PumpCurve(Answer):
    method: ClassVar[str] = "pump-curve/1"

    flow: Quantity = result("gpm", "well pump flow at the pressure asked")
    shut_off: Quantity = result("psi", "pressure at which the well pump gives nothing")


def pump_curve(
    *,
    pressure_low: Quantity,
    flow_low_pressure: Quantity,
    pressure_high: Quantity,
    flow_high_pressure: Quantity,
    pressure: Quantity,
) -> PumpCurve:
    """Flow of the well pump at a pressure, from two timed refills.

    c = 2.31 (P2 - P1) / (Q1^2 - Q2^2);  Q(P) = sqrt(Q1^2 - 2.31 (P - P1) / c)

    pressure_low, flow_low_pressure    P1, Q1  [pressure], [flow]  0 to 150 psi, 0.1 to 200 gpm
    pressure_high, flow_high_pressure  P2, Q2  the same, P2 above P1, Q2 below Q1
    pressure                           P, asked                    [pressure]  0 to 150 psi
    returns                            flow gpm, shut_off psi

    Holds near the two pressures, with the water level of that day. Raises OutOfRange, also at a
    pressure the pump does not reach. Source: parabola of a centrifugal pump (any pump text).
    """
    p1, q1 = LOW_PSI.amount(pressure_low), LOW_FLOW.amount(flow_low_pressure)
    p2, q2 = HIGH_PSI.amount(pressure_high), HIGH_FLOW.amount(flow_high_pressure)
    wanted = WANTED.amount(pressure)
    if p2 <= p1:
        raise OutOfRange("pressure_high", f"must be above pressure_low ({p1:g} psi)")
    if q2 >= q1:
        raise OutOfRange("flow_high_pressure", f"must be below flow_low_pressure ({q1:g} gpm)")
    curve = FEET_PER_PSI * (p2 - p1) / (q1**2 - q2**2)
    shut_off = p1 + curve * q1**2 / FEET_PER_PSI
    if wanted >= shut_off:
        raise OutOfRange("pressure", f"is above what the well pump reaches, {shut_off:.3g} psi")
    gpm = math.sqrt(q1**2 - FEET_PER_PSI * (wanted - p1) / curve)
    outside = not p1 <= wanted <= p2
    return PumpCurve(
        flow=q(gpm, "gpm"),
        shut_off=q(shut_off, "psi"),
        warnings=("Outside the two pressures that were read: a guess.",) if outside else (),
        sources=("Parabola through two readings; 2.31 ft of water in a psi.",),
        working=(
            f"c = 2.31 x ({p2:g} - {p1:g}) / ({q1:g}^2 - {q2:g}^2) = {curve:.3g}",
            f"flow at {wanted:g} psi = {gpm:.3g} gpm; none at {shut_off:.3g} psi",
        ),
    )


register(
    Calculation(
        name="well-yield",
        title="Yield and recovery of a well",
        function=well_yield,
        answer=WellYield,
        keys=(FLOW, STATIC, PUMPING, MINUTES, CASING, PUMP_DEPTH, RISE, RISE_TIME),
    )
)
register(
    Calculation(
        name="pump-curve",
        title="Well pump flow at a pressure",
        function=pump_curve,
        answer=PumpCurve,
        keys=(LOW_PSI, LOW_FLOW, HIGH_PSI, HIGH_FLOW, WANTED),
    )
)
