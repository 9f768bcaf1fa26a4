"""What pump, pressure tank and well can give for a wash.

Contents: PUMP_SHARE, Supply, wash_water, figures_of, judged, well_is_short, pump_warnings.
"""

from __future__ import annotations

from dataclasses import dataclass

#: a wash needs at most this share of the measured pump flow (PRACTICE)
PUMP_SHARE = 0.9
#: shortest run of a pump that is stronger than the wash and cycles (PRACTICE)
SHORTEST_PUMP_RUN_MIN = 1.0
FLOW, WATER, NOTHING = "flow", "water", "none"
UNSETTLED = "temperature not known"


@dataclass(frozen=True)
class Supply:
    """What pump, tank and well can give, as plain numbers; None is not known."""

    pump: float | None
    minutes: float | None
    vessels: int
    well_yield: float | None
    stored: float
    drawdown: float | None


def wash_water(gpm: float, minutes: float) -> float:
    """Gallons of a wash that runs so long at one flow."""
    return gpm * minutes


def figures_of(required: tuple[float, float], supply: Supply) -> dict[str, float]:
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
    found["water"] = wash_water(flow, supply.minutes)
    found["water_all_vessels"] = found["water"] * supply.vessels
    if supply.well_yield is not None:
        found["recovery"] = found["water"] / supply.well_yield
        if supply.vessels > 1:
            found["gap"] = max(found["recovery"], supply.minutes)
    return found


def judged(
    low: tuple[float, float], figures: dict[str, float], supply: Supply
) -> tuple[bool | None, str | None]:
    """Whether flow and water suffice and what limits, as far as that can be told.

    `low` is the flow that lifts the bed in the coldest and in the warmest water to be expected.
    """
    short, given = [], PUMP_SHARE * (supply.pump or 0.0)
    if supply.pump is not None and low[0] > given:
        short.append(FLOW)
    elif supply.pump is not None and low[1] > given:
        return None, UNSETTLED
    if well_is_short(figures, supply):
        short.append(WATER)
    known = supply.pump is not None and "recovery" in figures
    if short or known:
        return not short, " and ".join(short) or NOTHING
    return None, None


def well_is_short(figures: dict[str, float], supply: Supply) -> bool:
    if "water" not in figures or supply.well_yield is None or supply.minutes is None:
        return False
    return figures["water"] > supply.stored + supply.well_yield * supply.minutes


def pump_warnings(
    required: tuple[float, float], figures: dict[str, float], supply: Supply
) -> list[str]:
    low, _ = required
    if supply.pump is None:
        return []
    if low > supply.pump:
        cover = figures.get("tank_cover")
        lasts = f" The pressure tank hides it for {cover:.1f} min." if cover is not None else ""
        return [
            f"The backwash needs {low:.3g} gpm, the well pump gives {supply.pump:.3g} gpm.{lasts}"
        ]
    if low > PUMP_SHARE * supply.pump:
        return [
            f"The backwash needs {low:.3g} gpm, more than 0.9 of the well pump's "
            f"{supply.pump:.3g} gpm:"
            " no margin for a tired well pump."
        ]
    if figures.get("pump_run", SHORTEST_PUMP_RUN_MIN) < SHORTEST_PUMP_RUN_MIN:
        return [
            "The well pump is stronger than the backwash and runs only "
            f"{figures['pump_run']:.1f} min at"
            " a time; 1 min or more is wanted."
        ]
    return []
