"""Backwash: the flow a bed needs at the water's temperature, and whether pump and well give it.

Contents: backwash.
"""

from __future__ import annotations

from typing import ClassVar

from equipment.engineering.errors import WrongInput
from equipment.engineering.factors import circle_ft2
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .lift import FREEBOARD, RATE, RATE_HIGH, Sheet, lift, most_rate, room_of, sheet_of
from .media import MEDIA
from .supply import Supply, figures_of, judged, pump_warnings, well_is_short
from .vessel import BED_DEPTH, DIAMETER

#: groundwater where nobody measured it, degC (PRACTICE)
LIKELY_C = (5.0, 20.0)
#: flows nearer than this share are the same
SAME_FLOW = 0.01
#: temperature that printed rates are taken to hold for (PRACTICE)
RATE_TEMPERATURE_C = 15.0
#: a change of the rate beyond this is worth a sentence
NOTED_CHANGE = 0.05

MEDIA_SLUG = Key(name="media", kind="choice", choices=tuple(MEDIA), help="medium, or give rate")
TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    low=0,
    high=40,
    help="temperature of the backwash water; 5 to 20 degC is taken when not given",
)
RATE_TEMPERATURE = Key(
    name="rate_temperature",
    unit="degC",
    low=0,
    high=40,
    default="15 degC",
    help="temperature the rate is stated for",
)
PUMP_FLOW = Key(
    name="pump_flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="sustained flow of the well pump at the lowest pressure during the backwash",
)
MINUTES = Key(name="minutes", unit="min", low=1, high=120, help="length of the backwash")
RINSE_MINUTES = Key(
    name="rinse_minutes",
    unit="min",
    low=0,
    high=120,
    default="0 min",
    help="length of the rinse, counted at the same flow",
)
VESSELS = Key(
    name="vessels",
    kind="number",
    low=1,
    high=8,
    default="1",
    help="vessels backwashed in the same night",
)
WELL_YIELD = Key(
    name="well_yield",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="what the well gives for hours",
)
STORED_VOLUME = Key(
    name="stored_volume",
    unit="gal",
    low=0,
    high=20000,
    default="0 gal",
    help="water in the bore above the well pump, and in storage tanks",
)
DRAWDOWN = Key(
    name="drawdown",
    unit="gal",
    low=0,
    high=2000,
    help="pressure tank's water between cut-out and cut-in",
)


DRAIN_CAUTION = (
    "See the drain take the full backwash flow once, from start to end, before you leave it to the"
    " timer."
)
EXPANSION_SOURCE = "Hendricks, Water Treatment Unit Processes, CRC, eq 12.53 to 12.55."


class Backwash(Answer):
    method: ClassVar[str] = "backwash/2"

    required_flow_low: Quantity = result(
        "gpm", "lowest flow that lifts the bed at this temperature"
    )
    required_flow_high: Quantity = result("gpm", "highest flow at this temperature")
    most_flow: Quantity = result("gpm", "flow above which the bed can leave the vessel")
    temperature_factor: float = result("", "backwash rate here by the rate at its own temperature")
    wash_flow: Quantity | None = result(
        "gpm", "flow counted for the water: the highest the well pump can give"
    )
    water: Quantity | None = result("gal", "water for one vessel, backwash and rinse")
    water_all_vessels: Quantity | None = result("gal", "water for all vessels of the night")
    recovery: Quantity | None = result("min", "time the well takes to make the water of one vessel")
    tank_cover: Quantity | None = result(
        "min", "time the pressure tank covers what the well pump lacks"
    )
    pump_run: Quantity | None = result(
        "min", "each run of a well pump that is stronger than the backwash"
    )
    gap: Quantity | None = result(
        "min", "from the start of one vessel's backwash to the start of the next"
    )
    adequate: bool | None = result("", "true when flow and water both suffice")
    limited_by: str | None = result("", "flow, water, flow and water, or none")


def backwash(
    *,
    diameter: Quantity,
    temperature: Quantity | None = None,
    media: str | None = None,
    rate: Quantity | None = None,
    rate_high: Quantity | None = None,
    rate_temperature: Quantity | None = None,
    bed_depth: Quantity | None = None,
    freeboard: Quantity | None = None,
    pump_flow: Quantity | None = None,
    minutes: Quantity | None = None,
    rinse_minutes: Quantity | None = None,
    vessels: float = 1,
    well_yield: Quantity | None = None,
    stored_volume: Quantity | None = None,
    drawdown: Quantity | None = None,
) -> Backwash:
    """Flow and water that a backwash needs, the flow it must not pass, and whether both are there.

    Q = A r f;  f = v(T) / v(T_r) for equal expansion;  W = Q (t + t_rinse);
    recovery = W / y;  tank_cover = d / (Q - Q_pump);
    Q_most = A r_high v(T, e) / v(T_r, e_r),  e = 0.8 room / bed depth

    diameter          of one vessel                     [length]   4 to 72 in
    temperature       T, of the wash water              [degC]     0 to 40; not given: the least
                      flow for 20, the most for 5 degC
    media or rate     r, slug of the table or own rate  [gpm/ft2]  1 to 40, with rate_high
    rate_temperature  T_r, the rate holds at            [degC]     0 to 40, default 15 (PRACTICE)
    bed_depth, freeboard  bed and the room above it     [length]   not given: the medium's room
    pump_flow         Q_pump, sustained                 [flow]     above 0, at most 500 gpm
    minutes           t, and rinse_minutes t_rinse      [time]     1 (0) to 120 min
    vessels           washed in one night               [bare]     1 to 8
    well_yield        y, and stored_volume, drawdown d  [flow], [volume]
    returns           flows gpm, factor, water gal, times min, adequate, limited_by

    Cold water needs less flow for the same expansion, and carries media out sooner. Adequate:
    lowest required flow at most 0.9 x pump flow (PRACTICE), one wash within stored_volume + yield x
    its length. Only ratios are taken from the grain; a medium of the table without a rate of its
    own is held to its grain as well. The rinse counts at the wash flow, the gap leaves what is
    stored untouched: both err high. Raises OutOfRange, MissingInput, WrongInput.
    Source: rates as in media.py; expansion Hendricks eq 12.53 to 12.55 (SEEN).
    """
    sheet = sheet_of(media, RATE.optional(rate), RATE_HIGH.optional(rate_high))
    area = circle_ft2(DIAMETER.amount(diameter))
    here = TEMPERATURE.optional(temperature)
    cold, warm = LIKELY_C if here is None else (here, here)
    stated = RATE_TEMPERATURE.optional(rate_temperature)
    stated = RATE_TEMPERATURE_C if stated is None else stated
    slow, factor = (lift(sheet, t) / lift(sheet, stated) for t in (cold, warm))
    supply = Supply(
        pump=PUMP_FLOW.optional(pump_flow),
        minutes=_length(minutes, rinse_minutes),
        vessels=_whole("vessels", VESSELS.amount(vessels)),
        well_yield=WELL_YIELD.optional(well_yield),
        stored=STORED_VOLUME.optional(stored_volume) or 0.0,
        drawdown=DRAWDOWN.optional(drawdown),
    )
    room = room_of(sheet, bed_depth, freeboard)
    most = area * most_rate(sheet, room, cold, stated)
    least = area * sheet.low * factor
    highest = area * sheet.high * factor
    required = least, max(least, most if most < highest * (1 - SAME_FLOW) else highest)
    figures = figures_of(required, supply)
    adequate, limited_by = judged((area * sheet.low * slow, least), figures, supply)
    return Backwash(
        required_flow_low=q(required[0], "gpm"),
        required_flow_high=q(required[1], "gpm"),
        most_flow=q(most, "gpm"),
        temperature_factor=factor,
        wash_flow=q(figures.get("wash_flow"), "gpm"),
        water=q(figures.get("water"), "gal"),
        water_all_vessels=q(figures.get("water_all_vessels"), "gal"),
        recovery=q(figures.get("recovery"), "min"),
        tank_cover=q(figures.get("tank_cover"), "min"),
        pump_run=q(figures.get("pump_run"), "min"),
        gap=q(figures.get("gap"), "min"),
        adequate=adequate,
        limited_by=limited_by,
        warnings=(
            *_temperature_warnings(here, (area * sheet.low * slow, least), factor),
            *_room_warnings(least, highest, most, room),
            *_warnings(required, figures, supply),
        ),
        cautions=(DRAIN_CAUTION,),
        sources=(sheet.source, EXPANSION_SOURCE),
        working=_working(sheet, area, factor, required, figures, supply),
    )


def _length(minutes: Quantity | None, rinse_minutes: Quantity | None) -> float | None:
    length = MINUTES.optional(minutes)
    return None if length is None else length + (RINSE_MINUTES.optional(rinse_minutes) or 0.0)


def _whole(key: str, value: float) -> int:
    if value != int(value):
        raise WrongInput(key, f"must be a whole number, got {value:g}")
    return int(value)


def _temperature_warnings(
    here: float | None, least: tuple[float, float], factor: float
) -> list[str]:
    """`least` is the flow that lifts the bed in the coldest and in the warmest water."""
    if here is None:
        low, high = LIKELY_C
        return [
            f"Temperature not known: at {low:g} to {high:g} degC the bed needs {least[0]:.3g} to"
            f" {least[1]:.3g} gpm. Read it before you judge the backwash."
        ]
    if factor < 1 - NOTED_CHANGE:
        return [
            "Colder water than the rate is stated for lifts the bed higher: the full rate can"
            " carry media out."
        ]
    if factor > 1 + NOTED_CHANGE:
        return ["Warmer water than the rate is stated for lifts the bed less: it needs more flow."]
    return []


def _room_warnings(low: float, high: float, most: float, room: float) -> list[str]:
    if most < low * (1 - SAME_FLOW):
        return [
            f"The room above the bed is {room:.0%} of its depth: {low:.3g} gpm, the least that"
            f" backwashes it, lifts it beyond what is safe ({most:.3g} gpm). Less medium, or a "
            "taller"
            " vessel."
        ]
    if most < high * (1 - SAME_FLOW):
        return [
            f"Not above {most:.3g} gpm: the room above the bed is {room:.0%} of its depth, and more"
            " carries media out."
        ]
    return []


def _warnings(
    required: tuple[float, float], figures: dict[str, float], supply: Supply
) -> list[str]:
    found: list[str] = []
    found += pump_warnings(required, figures, supply)
    if well_is_short(figures, supply) and supply.minutes is not None:
        has = supply.stored + (supply.well_yield or 0) * supply.minutes
        found.append(
            f"One backwash takes {figures['water']:.0f} gal, well and storage have {has:.0f} gal in"
            " that time: the well pump can run dry."
        )
    if "gap" in figures:
        found.append(
            f"Start the vessels at least {figures['gap']:.0f} min apart, all after midnight."
        )
    if supply.pump is not None and "recovery" not in figures:
        found.append("The water is not judged: give minutes and well_yield.")
    return found


def _working(
    sheet: Sheet,
    area: float,
    factor: float,
    required: tuple[float, float],
    figures: dict[str, float],
    supply: Supply,
) -> tuple[str, ...]:
    lines = [
        f"flow = area x rate x factor = {area:.4g} ft2 x {sheet.low:g} to {sheet.high:g} gpm/ft2"
        f" x {factor:.3f} = {required[0]:.3g} to {required[1]:.3g} gpm"
    ]
    if "water" in figures:
        lines.append(
            f"water = {figures['wash_flow']:.3g} gpm x {supply.minutes:g} min"
            f" = {figures['water']:.0f} gal"
        )
    if "recovery" in figures:
        lines.append(
            f"recovery = {figures['water']:.0f} gal / {supply.well_yield:g} gpm"
            f" = {figures['recovery']:.0f} min"
        )
    return tuple(lines)


register(
    Calculation(
        name="backwash",
        title="Backwash flow and water",
        function=backwash,
        answer=Backwash,
        keys=(
            DIAMETER,
            MEDIA_SLUG,
            RATE,
            RATE_HIGH,
            TEMPERATURE,
            RATE_TEMPERATURE,
            BED_DEPTH,
            FREEBOARD,
            PUMP_FLOW,
            MINUTES,
            RINSE_MINUTES,
            VESSELS,
            WELL_YIELD,
            STORED_VOLUME,
            DRAWDOWN,
        ),
    )
)
