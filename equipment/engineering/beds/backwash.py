"""Backwash: the flow a bed needs at the water's temperature, and whether pump and well give it.

Contents: backwash.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.errors import MissingInput, WrongInput
from equipment.engineering.factors import circle_ft2
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from . import expansion
from .media import (
    MEDIA,
    SAND_GRAIN,
    Grain,
    medium,
)
from .vessel import DIAMETER

#: a wash needs at most this share of the measured pump flow (PRACTICE)
PUMP_SHARE = 0.9
#: shortest run of a pump that is stronger than the wash and cycles (PRACTICE)
SHORTEST_PUMP_RUN_MIN = 1.0
#: temperature that printed rates are taken to hold for (PRACTICE)
RATE_TEMPERATURE_C = 15.0
#: a change of the rate beyond this is worth a sentence
NOTED_CHANGE = 0.05
FLOW, WATER, NOTHING = "flow", "water", "none"

MEDIA_SLUG = Key(name="media", kind="choice", choices=tuple(MEDIA), help="medium, or give rate")
RATE = Key(
    name="rate",
    unit="gpm/ft2",
    low=1,
    high=40,
    help="wash rate of the medium's own sheet, in place of the table",
)
TEMPERATURE = Key(
    name="temperature",
    unit="degC",
    required=True,
    low=0,
    high=40,
    help="temperature of the wash water",
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
    help="sustained pump flow at the lowest pressure during the wash",
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
    help="vessels washed in the same night",
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
    help="water in the bore above the pump, and in storage tanks",
)
DRAWDOWN = Key(
    name="drawdown",
    unit="gal",
    low=0,
    high=2000,
    help="pressure tank's water between cut-out and cut-in",
)


class Backwash(Answer):
    method: ClassVar[str] = "backwash/1"

    required_flow_low: Quantity = result(
        "gpm", "lowest flow that lifts the bed at this temperature"
    )
    required_flow_high: Quantity = result("gpm", "highest flow at this temperature")
    temperature_factor: float = result("", "wash rate here by the rate at its own temperature")
    wash_flow: Quantity | None = result(
        "gpm", "flow counted for the water: the highest the pump can give"
    )
    water: Quantity | None = result("gal", "water for one vessel, backwash and rinse")
    water_all_vessels: Quantity | None = result("gal", "water for all vessels of the night")
    recovery: Quantity | None = result("min", "time the well takes to make the water of one vessel")
    tank_cover: Quantity | None = result("min", "time the pressure tank covers what the pump lacks")
    pump_run: Quantity | None = result("min", "each run of a pump that is stronger than the wash")
    gap: Quantity | None = result(
        "min", "from the start of one vessel's wash to the start of the next"
    )
    adequate: bool | None = result("", "true when flow and water both suffice")
    limited_by: str | None = result("", "flow, water, flow and water, or none")


@dataclass(frozen=True)
class _Supply:
    """What pump, tank and well can give, as plain numbers; None is not known."""

    pump: float | None
    minutes: float | None
    vessels: int
    well_yield: float | None
    stored: float
    drawdown: float | None


def backwash(
    *,
    diameter: Quantity,
    temperature: Quantity,
    media: str | None = None,
    rate: Quantity | None = None,
    rate_temperature: Quantity | None = None,
    pump_flow: Quantity | None = None,
    minutes: Quantity | None = None,
    rinse_minutes: Quantity | None = None,
    vessels: float = 1,
    well_yield: Quantity | None = None,
    stored_volume: Quantity | None = None,
    drawdown: Quantity | None = None,
) -> Backwash:
    """Flow and water that a backwash needs, and whether pump and well give them.

    Q = A r f;  f = v(T) / v(T_r) for equal expansion;  W = Q (t + t_rinse);
    recovery = W / y;  tank_cover = d / (Q - Q_pump)

    diameter          of one vessel                     [length]   4 to 72 in
    temperature       T, of the wash water              [degC]     0 to 40
    media or rate     r, slug of the table or own rate  [gpm/ft2]  1 to 40
    rate_temperature  T_r, the rate holds at            [degC]     0 to 40, default 15 (PRACTICE)
    pump_flow         Q_pump, sustained                 [flow]     above 0, at most 500 gpm
    minutes           t, and rinse_minutes t_rinse      [time]     1 (0) to 120 min
    vessels           washed in one night               [bare]     1 to 8
    well_yield        y, and stored_volume, drawdown d  [flow], [volume]
    returns           required flows gpm, factor, water gal, times min, adequate, limited_by

    Cold water needs less flow for the same expansion. Adequate: lowest required flow at most
    0.9 x pump flow (PRACTICE), and one wash within stored_volume + yield x its length. The rinse
    counts at the wash flow, the gap leaves what is stored untouched: both err high.
    Raises OutOfRange, MissingInput (neither media nor rate), WrongInput.
    Source: rates as in media.py; expansion Hendricks eq 12.53 to 12.55 (SEEN).
    """
    low, high, grain, source = _rates(media, RATE.optional(rate))
    area = circle_ft2(DIAMETER.amount(diameter))
    factor = _temperature_factor(grain, temperature, rate_temperature)
    length = MINUTES.optional(minutes)
    rinse = RINSE_MINUTES.optional(rinse_minutes) or 0.0
    supply = _Supply(
        pump=PUMP_FLOW.optional(pump_flow),
        minutes=None if length is None else length + rinse,
        vessels=_whole("vessels", VESSELS.amount(vessels)),
        well_yield=WELL_YIELD.optional(well_yield),
        stored=STORED_VOLUME.optional(stored_volume) or 0.0,
        drawdown=DRAWDOWN.optional(drawdown),
    )
    required = area * low * factor, area * high * factor
    figures = _figures(required, supply)
    adequate, limited_by = _judged(required[0], figures, supply)
    return Backwash(
        required_flow_low=q(required[0], "gpm"),
        required_flow_high=q(required[1], "gpm"),
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
        warnings=tuple(_warnings(required, factor, figures, supply)),
        cautions=(
            "See the drain take the full wash flow once, from start to end, before you leave it"
            " to the timer.",
        ),
        sources=(source, "Hendricks, Water Treatment Unit Processes, CRC, eq 12.53 to 12.55."),
        working=_working((low, high), area, factor, required, figures, supply),
    )


def _rates(slug: str | None, rate: float | None) -> tuple[float, float, Grain, str]:
    """Lowest and highest rate, the grain that sets the temperature factor, and the source."""
    if slug is None and rate is None:
        raise MissingInput("media", "is missing; give media or rate")
    material = None if slug is None else medium("media", slug)
    grain = material.grain if material else SAND_GRAIN
    if rate is not None:
        return rate, rate, grain, "Wash rate as given."
    assert material is not None
    return *material.rate, grain, f"{material.title}: {material.rate_source}."


def _temperature_factor(
    grain: Grain, temperature: Quantity, rate_temperature: Quantity | None
) -> float:
    here = TEMPERATURE.amount(temperature)
    stated = RATE_TEMPERATURE.optional(rate_temperature)
    stated = RATE_TEMPERATURE_C if stated is None else stated
    shape = (grain.diameter_mm, grain.specific_gravity, grain.porosity, grain.expansion)
    return expansion.rate_for_expansion_m_h(*shape, here) / expansion.rate_for_expansion_m_h(
        *shape, stated
    )


def _whole(key: str, value: float) -> int:
    if value != int(value):
        raise WrongInput(key, f"must be a whole number, got {value:g}")
    return int(value)


def _figures(required: tuple[float, float], supply: _Supply) -> dict[str, float]:
    """Water and times, only those whose inputs are known."""
    low, high = required
    flow = high if supply.pump is None else min(high, max(low, supply.pump))
    found = {"wash_flow": flow}
    if supply.pump is not None and supply.drawdown is not None:
        if low > supply.pump:
            found["tank_cover"] = supply.drawdown / (low - supply.pump)
        elif supply.pump > flow:
            found["pump_run"] = supply.drawdown / (supply.pump - flow)
    if supply.minutes is None:
        return found
    found["water"] = flow * supply.minutes
    found["water_all_vessels"] = found["water"] * supply.vessels
    if supply.well_yield is not None:
        found["recovery"] = found["water"] / supply.well_yield
        if supply.vessels > 1:
            found["gap"] = max(found["recovery"], supply.minutes)
    return found


def _judged(
    low: float, figures: dict[str, float], supply: _Supply
) -> tuple[bool | None, str | None]:
    """Whether flow and water suffice and what limits, as far as that can be told."""
    short = []
    if supply.pump is not None and low > PUMP_SHARE * supply.pump:
        short.append(FLOW)
    if _well_is_short(figures, supply):
        short.append(WATER)
    known = supply.pump is not None and "recovery" in figures
    if short or known:
        return not short, " and ".join(short) or NOTHING
    return None, None


def _well_is_short(figures: dict[str, float], supply: _Supply) -> bool:
    if "water" not in figures or supply.well_yield is None or supply.minutes is None:
        return False
    return figures["water"] > supply.stored + supply.well_yield * supply.minutes


def _warnings(
    required: tuple[float, float], factor: float, figures: dict[str, float], supply: _Supply
) -> list[str]:
    found = []
    if factor < 1 - NOTED_CHANGE:
        found.append(
            "Colder water than the rate is stated for lifts the bed higher: the full rate can"
            " carry media out."
        )
    if factor > 1 + NOTED_CHANGE:
        found.append(
            "Warmer water than the rate is stated for lifts the bed less: it needs more flow."
        )
    found += _pump_warnings(required, figures, supply)
    if _well_is_short(figures, supply) and supply.minutes is not None:
        has = supply.stored + (supply.well_yield or 0) * supply.minutes
        found.append(
            f"One wash takes {figures['water']:.0f} gal, well and storage have {has:.0f} gal in"
            " that time: the pump can run dry."
        )
    if "gap" in figures:
        found.append(
            f"Start the vessels at least {figures['gap']:.0f} min apart, all after midnight."
        )
    if supply.pump is not None and "recovery" not in figures:
        found.append("The water is not judged: give minutes and well_yield.")
    return found


def _pump_warnings(
    required: tuple[float, float], figures: dict[str, float], supply: _Supply
) -> list[str]:
    low, _ = required
    if supply.pump is None:
        return []
    if low > supply.pump:
        cover = figures.get("tank_cover")
        lasts = f" The pressure tank hides it for {cover:.1f} min." if cover is not None else ""
        return [f"The wash needs {low:.3g} gpm, the pump gives {supply.pump:.3g} gpm.{lasts}"]
    if low > PUMP_SHARE * supply.pump:
        return [
            f"The wash needs {low:.3g} gpm, more than 0.9 of the pump's {supply.pump:.3g} gpm:"
            " no margin for a tired pump."
        ]
    if figures.get("pump_run", SHORTEST_PUMP_RUN_MIN) < SHORTEST_PUMP_RUN_MIN:
        return [
            f"The pump is stronger than the wash and runs only {figures['pump_run']:.1f} min at"
            " a time; 1 min or more is wanted."
        ]
    return []


def _working(
    rates: tuple[float, float],
    area: float,
    factor: float,
    required: tuple[float, float],
    figures: dict[str, float],
    supply: _Supply,
) -> tuple[str, ...]:
    lines = [
        f"flow = area x rate x factor = {area:.4g} ft2 x {rates[0]:g} to {rates[1]:g} gpm/ft2"
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
            TEMPERATURE,
            RATE_TEMPERATURE,
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
