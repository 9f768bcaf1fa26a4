"""Pressure tank and pump: drawdown of the tank, and pump flow from its cycle.

Contents: pressure_tank, well_flow, atmosphere_psi.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import OutOfRange
from equipment.engineering.factors import PSI_PER_ATM, SECONDS_PER_MINUTE
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

#: standard atmosphere at sea level, psi, and its fall with height in ft (US Standard Atmosphere
#: 1976, MEMORY): p = p0 (1 - 6.8756e-6 h)^5.2559
LAPSE_PER_FT, LAPSE_POWER = 6.8756e-6, 5.2559
#: psi below cut-in: Water Systems Council sheet, January 2007 (SEEN, reprint)
PRECHARGE_BELOW_CUT_IN = 2.0
#: psi off that figure that is worth a sentence (PRACTICE)
PRECHARGE_SLACK = 2.0
#: shortest run of the well pump, min: 1 up to 1 hp, 2 above (PRACTICE)
SHORTEST_RUN_MIN, SHORTEST_RUN_LARGE_MIN = 1.0, 2.0

VOLUME = Key(
    name="volume",
    unit="gal",
    required=True,
    low=1,
    high=2000,
    help="total volume on the tank's plate",
)
PRECHARGE = Key(
    name="precharge",
    unit="psi",
    required=True,
    low=0,
    high=150,
    help="air pressure with the tank drained",
)
CUT_IN = Key(
    name="cut_in",
    unit="psi",
    required=True,
    low=1,
    high=150,
    help="pressure at which the well pump starts",
)
CUT_OUT = Key(
    name="cut_out",
    unit="psi",
    required=True,
    low=2,
    high=200,
    help="pressure at which the well pump stops",
)
ALTITUDE = Key(
    name="altitude", unit="ft", low=-1500, high=15000, default="0 ft", help="height above the sea"
)
PUMP_FLOW = Key(
    name="pump_flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="average flow of the well pump between cut-in and cut-out",
)


class PressureTank(Answer):
    method: ClassVar[str] = "tank/1"

    acceptance: float = result("", "share of the tank volume the house can draw")
    drawdown: Quantity = result("gal", "water between cut-out and the start of the well pump")
    pump_run: Quantity | None = result("min", "shortest run of the well pump, no tap open")
    precharge_wanted: Quantity = result("psi", "2 psi below cut-in")


def pressure_tank(
    *,
    volume: Quantity,
    precharge: Quantity,
    cut_in: Quantity,
    cut_out: Quantity,
    altitude: Quantity | None = None,
    pump_flow: Quantity | None = None,
) -> PressureTank:
    """Water a pressure tank gives between cut-out and cut-in.

    d = V (Pc + Pa) [1 / (Pin + Pa) - 1 / (Pout + Pa)];  run = d / Q

    volume     V, total                             [volume]    1 to 2000 gal
    precharge  Pc, as found, tank drained           [pressure]  0 to 150 psi
    cut_in     Pin                                  [pressure]  1 to 150 psi
    cut_out    Pout                                 [pressure]  2 to 200 psi, above cut_in
    altitude   sets the air pressure Pa, default 0  [length]    -1500 to 15000 ft
    pump_flow  Q                                    [flow]      above 0, at most 500 gpm
    returns    acceptance d / V, drawdown gal, pump_run min, precharge_wanted psi

    With a precharge at or above cut-in the tank is empty at the precharge, before the pump
    starts: d then counts from the precharge upward (Pc in place of Pin), and is 0 at or above
    cut-out. Raises OutOfRange. Source: Boyle's law; worked example The Driller, February 2006
    (SEEN); precharge Water Systems Council, January 2007 (SEEN, reprint).
    """
    gallons, air = VOLUME.amount(volume), PRECHARGE.amount(precharge)
    start, stop = CUT_IN.amount(cut_in), CUT_OUT.amount(cut_out)
    if start >= stop:
        raise OutOfRange("cut_in", f"must be below cut_out ({stop:g} psi), got {start:g} psi")
    outside = atmosphere_psi(ALTITUDE.optional(altitude) or 0.0)
    gpm = PUMP_FLOW.optional(pump_flow)
    share = acceptance(air, max(start, air), stop, outside)
    drawn = gallons * share
    run = drawn / gpm if gpm else None
    return PressureTank(
        acceptance=share,
        drawdown=q(drawn, "gal"),
        pump_run=q(run, "min"),
        precharge_wanted=q(max(0.0, start - PRECHARGE_BELOW_CUT_IN), "psi"),
        warnings=tuple(_warnings(air, start, stop, run)),
        cautions=(
            "Switch the well pump off, lock it, and open a tap until the gauge reads 0 before "
            "you read"
            " or change the precharge.",
            "Never above the pressure on the tank's plate; a relief valve must be in place.",
        ),
        sources=(
            "Boyle's law with absolute pressures; The Driller, February 2006.",
            "Precharge 2 psi below cut-in: Water Systems Council, January 2007.",
        ),
        working=(
            f"acceptance = ({air:g} + {outside:.2f}) x (1 / ({max(start, air):g} + {outside:.2f})"
            f" - 1 / ({stop:g} + {outside:.2f})) = {share:.4f}",
            f"drawdown = {gallons:g} gal x {share:.4f} = {drawn:.3g} gal",
        ),
    )


def atmosphere_psi(feet: float) -> float:
    """Air pressure of the standard atmosphere at a height above the sea."""
    return float(PSI_PER_ATM * (1 - LAPSE_PER_FT * feet) ** LAPSE_POWER)


def acceptance(precharge: float, low: float, high: float, outside: float) -> float:
    """Share of a tank's volume between two gauge pressures; 0 when low is not below high."""
    return max(0.0, (precharge + outside) * (1 / (low + outside) - 1 / (high + outside)))


def _warnings(air: float, start: float, stop: float, run: float | None) -> list[str]:
    found = []
    if air >= stop:
        found.append(
            "Precharge at or above cut-out: the tank takes no water and the well pump starts "
            "and stops"
            " with every draw. Let air out."
        )
    elif air == start:
        found.append(
            "Precharge at cut-in: the tank is empty at the moment the well pump starts. Set it "
            "2 psi"
            " lower."
        )
    elif air > start:
        found.append(
            f"Precharge above cut-in: the tank empties at {air:g} psi, before the well pump"
            f" starts at {start:g} psi, and the flow drops to nothing in between. Set it to"
            f" {max(0.0, start - PRECHARGE_BELOW_CUT_IN):g} psi."
        )
    elif abs(start - PRECHARGE_BELOW_CUT_IN - air) > PRECHARGE_SLACK:
        found.append(
            f"Precharge is {start - air:.3g} psi below cut-in; 2 psi below is usual. A low one"
            " wears the bladder and shortens the draw."
        )
    if run is not None and run < SHORTEST_RUN_MIN:
        found.append(
            f"The well pump runs {run * SECONDS_PER_MINUTE:.0f} s at a time: below 1 min it "
            "wears out"
            " early. A larger tank or a wider switch is needed."
        )
    elif run is not None and run < SHORTEST_RUN_LARGE_MIN:
        found.append("A run of 1 to 2 min is enough for a well pump up to 1 hp, not above.")
    return found


register(
    Calculation(
        name="pressure-tank",
        title="Pressure tank drawdown",
        function=pressure_tank,
        answer=PressureTank,
        keys=(VOLUME, PRECHARGE, CUT_IN, CUT_OUT, ALTITUDE, PUMP_FLOW),
    )
)


DRAWDOWN = Key(
    name="drawdown",
    unit="gal",
    required=True,
    low=0,
    low_open=True,
    high=2000,
    help="water between cut-out and cut-in, measured in buckets or computed",
)
REFILL_TIME = Key(
    name="refill_time", unit="s", required=True, low=1, high=14400, help="from cut-in to cut-out"
)
DRAWN_MEANWHILE = Key(
    name="drawn_meanwhile",
    unit="gal",
    low=0,
    high=2000,
    default="0 gal",
    help="water measured at a tap during the refill",
)


class WellFlow(Answer):
    method: ClassVar[str] = "well-flow/1"

    flow: Quantity = result("gpm", "well pump flow, average between cut-in and cut-out")


def well_flow(
    *, drawdown: Quantity, refill_time: Quantity, drawn_meanwhile: Quantity | None = None
) -> WellFlow:
    """Well pump flow from the refill of the pressure tank.

    Q = (d + w) / t

    drawdown         d, cut-out to cut-in        [volume]  above 0, at most 2000 gal
    refill_time      t, cut-in to cut-out        [time]    1 to 14400 s
    drawn_meanwhile  w, measured during refill   [volume]  0 to 2000 gal
    returns          flow gpm

    An average over the pressure band: less at cut-out, more at cut-in. It is the pump's flow, not
    what the well gives for hours. Raises OutOfRange.
    Source: definition of flow; common practice, no source.
    """
    gallons, seconds = DRAWDOWN.amount(drawdown), REFILL_TIME.amount(refill_time)
    meanwhile = DRAWN_MEANWHILE.optional(drawn_meanwhile) or 0.0
    flow = (gallons + meanwhile) / seconds * SECONDS_PER_MINUTE
    notes = [
        "Average between cut-in and cut-out; the well pump gives less near cut-out. Not the well's"
        " yield."
    ]
    if not meanwhile:
        notes.insert(0, "Holds only if no tap was open during the refill.")
    if seconds < SHORTEST_RUN_MIN * SECONDS_PER_MINUTE:
        notes.append(f"The well pump runs only {seconds:g} s at a time; 1 min or more is wanted.")
    return WellFlow(
        flow=q(flow, "gpm"),
        warnings=tuple(notes),
        sources=("Definition of flow (volume by time).",),
        working=(
            f"flow = ({gallons:g} + {meanwhile:g}) gal / {seconds:g} s x 60 = {flow:.3g} gpm",
        ),
    )


register(
    Calculation(
        name="well-flow",
        title="Well pump flow from the tank's refill",
        function=well_flow,
        answer=WellFlow,
        keys=(DRAWDOWN, REFILL_TIME, DRAWN_MEANWHILE),
    )
)
