"""The setting of a feeder for a dose, and how long its solution lasts.

Contents: feed_setting, suggested_strength. The flow is the one that passes the injector while
the feeder runs. Strength and dose are grams of active oxidant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.factors import GRAMS_PER_POUND, MG_PER_G, MINUTES_PER_DAY, ML_PER_GALLON
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .feeding import (
    DAILY_USE,
    DOSE,
    FEED_SOURCE,
    FEEDER_CAUTION,
    FEEDER_OUTPUT,
    FLOW,
    G_L,
    GPD,
    GPM,
    HIGHEST_SETTING,
    LOWEST_SETTING,
    MG_L,
    PERCENT,
    STRENGTH,
    TANK_VOLUME,
    dose_per_percent,
    large_flow,
)

GAL = "gal"
LB_DAY = "lb/day"
#: common practice, no source: where a changed solution strength should bring the setting
MIDDLE_SETTING = 45.0
STRONG_SETTING = 60.0
#: common practice, no source: refill when this share of the tank is left
REFILL_SHARE = 0.2
#: common practice, no source: a tank that lasts longer than this is mixed too strong
LONG_SUPPLY_DAYS = 90.0
#: common practice, no source: flow at cut-in over flow at cut-out that a fixed feed can follow
STEADY_FLOW_RATIO = 2.0

RANGE_SOURCE = "Settings 10 to 90 percent, refill at 20 percent: common practice, no source."
LEVEL_UNKNOWN = (
    "No maximum use level of the product on file: look it up in the product's drinking-water "
    "certification before this dose goes to a house."
)
FLOW_LOW = Key(
    name="flow_low", unit=GPM, low=0.1, high=5000, help="lowest flow, at cut-out (highest dose)"
)
FLOW_HIGH = Key(
    name="flow_high", unit=GPM, low=0.1, high=5000, help="highest flow, at cut-in (lowest dose)"
)
WASH_USE = Key(
    name="wash_use",
    unit=GAL,
    low=0,
    high=100000,
    help="backwash and regeneration water in a day, if it passes the injector",
)
SHELF_LIFE = Key(
    name="shelf_life", unit="day", low=1, high=730, help="time after which the solution is renewed"
)
MAXIMUM_USE_LEVEL = Key(
    name="maximum_use_level",
    unit=MG_L,
    low=0.01,
    high=500,
    help="product's certified maximum, as active oxidant (a listing in mg/L of product times "
    "its strength by weight)",
)


class FeedSetting(Answer):
    method: ClassVar[str] = "feed/1"

    feed_rate: Quantity = result("mL/min", "solution fed while running")
    feed_rate_day: Quantity = result(GPD, "the same as gallons in a day of running")
    setting: Quantity = result(PERCENT, "setting of the dosing pump; above 100 it cannot be set")
    active_rate: Quantity = result(LB_DAY, "active oxidant fed in a day of running")
    dose_at_flow_low: Quantity | None = result(MG_L, "dose at the lowest flow")
    dose_at_flow_high: Quantity | None = result(MG_L, "dose at the highest flow")
    solution_per_day: Quantity | None = result(GAL, "solution used in a day")
    days_of_supply: Quantity | None = result("day", "days from a full tank to an empty one")
    pump_run_per_day: Quantity | None = result("min", "time the well pump runs in a day")
    suggested_strength: Quantity | None = result(
        G_L, "strength that brings setting and supply into range"
    )


def feed_setting(
    *,
    flow: Quantity,
    dose: Quantity,
    strength: Quantity,
    feeder_output: Quantity,
    flow_low: Quantity | None = None,
    flow_high: Quantity | None = None,
    tank_volume: Quantity | None = None,
    daily_use: Quantity | None = None,
    wash_use: Quantity | None = None,
    shelf_life: Quantity | None = None,
    maximum_use_level: Quantity | None = None,
) -> FeedSetting:
    """Setting of a feeder for a dose, and how long the solution lasts.

    F = Q D / C,  setting = F / F100 x 100,  solution a day = (use + wash) D / C

    flow                Q, past the injector while the feeder runs  [flow]  0.1 to 5000 gpm
    dose                D  [concentration]  0.01 to 500 mg/L; above the product's maximum refused
    strength            C  [concentration]  0.1 to 1500 g/L of active oxidant
    feeder_output       F100  [flow]  0.1 to 5000 gpd at 100 percent, measured if possible
    flow_low, flow_high [flow]  at cut-out and cut-in, around flow
    tank_volume         [volume]  0.5 to 1000 gal of solution
    daily_use, wash_use [volume]  a day; wash water that passes the injector uses solution too
    shelf_life          [time]    1 to 730 days
    maximum_use_level   [concentration]  of the product as active oxidant
    returns             see FeedSetting

    Raises OutOfRange outside those limits. The setting does not rest on daily_use: without it
    nothing is forecast, and a warning says so where tank_volume is given.
    Source: Water Treatment Mathematics (Skill Development Series) sec. 4 (pump setting in
    mL/min and percent of maximum). Ranges of the setting are common practice, no source.
    """
    gpm, mg_l = FLOW.amount(flow), DOSE.amount(dose)
    g_l, output = STRENGTH.amount(strength), FEEDER_OUTPUT.amount(feeder_output)
    level = None if maximum_use_level is None else MAXIMUM_USE_LEVEL.amount(maximum_use_level)
    if level is not None and mg_l > level:
        raise OutOfRange(
            "dose", f"{mg_l:g} mg/L is above the product's maximum use level of {level:g} mg/L"
        )
    low, high = _flow_ends(gpm, flow_low, flow_high)
    rate_gpm = gpm * mg_l / (g_l * MG_PER_G)
    percent = mg_l / dose_per_percent(gpm, g_l, output)
    supply = _supply(mg_l / (g_l * MG_PER_G), gpm, daily_use, wash_use, tank_volume)
    shelf = None if shelf_life is None else SHELF_LIFE.amount(shelf_life)
    suggested = suggested_strength(g_l, percent, supply.days, shelf)
    dose_low = None if low is None else mg_l * gpm / low
    dose_high = None if high is None else mg_l * gpm / high
    return FeedSetting(
        feed_rate=q(rate_gpm * ML_PER_GALLON, "mL/min"),
        feed_rate_day=q(rate_gpm * MINUTES_PER_DAY, GPD),
        setting=q(percent, PERCENT),
        active_rate=q(_pounds_a_day(gpm, mg_l), LB_DAY),
        dose_at_flow_low=q(dose_low, MG_L),
        dose_at_flow_high=q(dose_high, MG_L),
        solution_per_day=q(supply.per_day, GAL),
        days_of_supply=q(supply.days, "day"),
        pump_run_per_day=q(supply.run, "min"),
        suggested_strength=q(suggested, G_L),
        warnings=(
            *large_flow(gpm),
            *_setting_warnings(percent, suggested, output, g_l),
            *_flow_warnings(dose_low, dose_high, level),
            *_supply_warnings(supply, shelf, suggested),
        ),
        cautions=(FEEDER_CAUTION,) if level is not None else (LEVEL_UNKNOWN, FEEDER_CAUTION),
        sources=(FEED_SOURCE, RANGE_SOURCE),
        working=_feed_working(gpm, mg_l, g_l, output, percent, supply),
    )


def _pounds_a_day(gpm: float, mg_l: float) -> float:
    liters = gpm * MINUTES_PER_DAY * ML_PER_GALLON / 1000
    return liters * mg_l / MG_PER_G / GRAMS_PER_POUND


def _flow_ends(
    gpm: float, flow_low: Quantity | None, flow_high: Quantity | None
) -> tuple[float | None, float | None]:
    low = None if flow_low is None else FLOW_LOW.amount(flow_low)
    high = None if flow_high is None else FLOW_HIGH.amount(flow_high)
    if low is not None and low > gpm:
        raise WrongInput("flow_low", f"{low:g} gpm is above the flow of {gpm:g} gpm")
    if high is not None and high < gpm:
        raise WrongInput("flow_high", f"{high:g} gpm is below the flow of {gpm:g} gpm")
    return low, high


@dataclass(frozen=True)
class _Supply:
    """Forecast for a day; None where nothing was given to forecast from."""

    per_day: float | None = None
    days: float | None = None
    run: float | None = None
    wash_given: bool = False
    #: a tank was named and nothing was said of the water it is for
    is_asked: bool = False


def _supply(
    share: float,
    gpm: float,
    daily_use: Quantity | None,
    wash_use: Quantity | None,
    tank_volume: Quantity | None,
) -> _Supply:
    """`share` is gallons of solution for a gallon of water."""
    tank = None if tank_volume is None else TANK_VOLUME.amount(tank_volume)
    wash = 0.0 if wash_use is None else WASH_USE.amount(wash_use)
    if daily_use is None:
        return _Supply(wash_given=wash_use is not None, is_asked=tank is not None)
    water = DAILY_USE.amount(daily_use) + wash
    per_day = water * share
    days = None if tank is None else tank / per_day
    return _Supply(per_day=per_day, days=days, run=water / gpm, wash_given=wash_use is not None)


def suggested_strength(
    strength: float, percent: float, days: float | None, shelf_life: float | None
) -> float | None:
    """Strength in g/L that brings setting and supply into range; None when both are."""
    suggested = strength
    if percent < LOWEST_SETTING:
        suggested = strength * percent / MIDDLE_SETTING
    elif percent > HIGHEST_SETTING:
        suggested = strength * percent / STRONG_SETTING
    if days is not None and shelf_life is not None and days * suggested / strength > shelf_life:
        weakest = strength * percent / HIGHEST_SETTING
        middle = strength * percent / MIDDLE_SETTING
        kept = strength * shelf_life / days
        suggested = max(weakest, min(suggested, middle, kept))
    return None if suggested == strength else suggested


def _setting_warnings(
    percent: float, suggested: float | None, output: float, strength: float
) -> list[str]:
    if percent < LOWEST_SETTING:
        return [
            f"Setting {percent:.3g} percent is below 10: dilute the solution from {strength:.4g} "
            f"to about {suggested:.3g} g/L, or use a smaller dosing pump."
        ]
    if percent > HIGHEST_SETTING:
        start = "cannot be set" if percent > 100 else "leaves no reserve"
        return [
            f"Setting {percent:.4g} percent {start}: use a stronger solution (about "
            f"{suggested:.3g} g/L) or a larger dosing pump (at least "
            f"{output * percent / 85:.3g} gpd)."
        ]
    return []


def _flow_warnings(low: float | None, high: float | None, level: float | None) -> list[str]:
    """`low` and `high` are the doses at the lowest and the highest flow."""
    warnings = []
    if low is not None and high is not None and low / high > STEADY_FLOW_RATIO:
        warnings.append(
            f"The dose swings from {high:.3g} to {low:.3g} mg/L with the flow: a fixed feed does "
            "not hold, the dosing pump must follow a water meter."
        )
    if low is not None and level is not None and low > level:
        warnings.append(
            f"At the lowest flow the dose is {low:.3g} mg/L, above the product's maximum use "
            f"level of {level:g} mg/L: lower the dose or pace the dosing pump by a meter."
        )
    if high is not None:
        warnings.append(f"The demand must be met at the highest flow, with {high:.3g} mg/L.")
    return warnings


def _supply_warnings(
    supply: _Supply, shelf_life: float | None, suggested: float | None
) -> list[str]:
    warnings = []
    if supply.is_asked:
        warnings.append("How long the tank lasts needs the gallons used in a day (daily_use).")
    if supply.per_day is not None and not supply.wash_given:
        warnings.append(
            "The forecast counts house water only; backwash and regeneration water that passes "
            "the injector uses solution too (wash_use)."
        )
    if supply.days is None:
        return warnings
    if shelf_life is not None and supply.days > shelf_life:
        warnings.append(
            f"A full tank lasts {supply.days:.0f} days, longer than the solution keeps "
            f"({shelf_life:g} days): {_weaker(supply.days, shelf_life, suggested)}."
        )
    elif shelf_life is None and supply.days > LONG_SUPPLY_DAYS:
        warnings.append(
            f"A full tank lasts {supply.days:.0f} days: check that the solution keeps that long, "
            "or mix it weaker or less of it."
        )
    return warnings


def _weaker(days: float, shelf_life: float, suggested: float | None) -> str:
    less = f"fill the tank only to {shelf_life / days:.0%}"
    return less if suggested is None else f"mix it at about {suggested:.3g} g/L, or {less}"


def _feed_working(
    gpm: float, dose: float, strength: float, output: float, percent: float, supply: _Supply
) -> tuple[str, ...]:
    rate = gpm * dose / strength / MG_PER_G
    lines = [
        f"feed rate = {gpm:g} gpm x 3785.41 mL/gal x {dose:g} mg/L / ({strength:g} g/L x 1000) "
        f"= {rate * ML_PER_GALLON:.4g} mL/min",
        f"feed rate = {gpm:g} x {dose:g} x 1440 / {strength * MG_PER_G:g} "
        f"= {rate * MINUTES_PER_DAY:.4g} gpd while running",
        f"setting = {rate * MINUTES_PER_DAY:.4g} / {output:g} gpd x 100 = {percent:.4g} percent",
    ]
    if supply.days is not None:
        lines.append(
            f"tank / {supply.per_day:.4g} gal a day = {supply.days:.4g} days to empty, "
            f"{supply.days * (1 - REFILL_SHARE):.4g} days to the refill mark of 20 percent"
        )
    return tuple(lines)


register(
    Calculation(
        name="feed-setting",
        title="Dosing pump setting for a dose, and supply",
        function=feed_setting,
        answer=FeedSetting,
        keys=(
            FLOW,
            DOSE,
            STRENGTH,
            FEEDER_OUTPUT,
            FLOW_LOW,
            FLOW_HIGH,
            TANK_VOLUME,
            DAILY_USE,
            WASH_USE,
            SHELF_LIFE,
            MAXIMUM_USE_LEVEL,
        ),
    )
)
