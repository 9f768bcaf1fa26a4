"""Chemical feeders: calibration by drawdown, and the dose of a setting.

Contents: feeder_calibration, dose_from_setting, Feed, dose_moved_percent, and the keys that
feed_setting shares. The flow is the one that passes the injector while the feeder runs. Strength
and dose are active oxidant.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.factors import (
    GRAMS_PER_KG,
    LITRES_PER_GALLON,
    MG_PER_G,
    MINUTES_PER_DAY,
    ML_PER_GALLON,
)
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

GPM = "gpm"
GPD = "gpd"
MG_L = "mg/L"
G_L = "g/L"
PERCENT = "percent"
#: common practice, no source: more than a private well gives, likely a typing slip
LARGE_FLOW = 100.0
#: common practice, no source: the part of the range in which a feeder is set
LOWEST_SETTING = 10.0
HIGHEST_SETTING = 90.0
#: common practice, no source: a dose moved by more is a new setting and asks for a recheck
DOSE_MOVED_PERCENT = 10.0

FEED_SOURCE = (
    "Mass balance; the form flow x dose x 3.785 / (strength x 1440) of Water Treatment "
    "Mathematics (Skill Development Series), section 4."
)
FEEDER_CAUTION = (
    "Unplug the dosing pump and relieve the pressure before opening its tubing; wear goggles and "
    "gloves and follow the product label."
)

FLOW = Key(
    name="flow",
    unit=GPM,
    required=True,
    low=0.1,
    high=5000,
    help="flow past the injector while the dosing pump runs: the well pump flow, or the "
    "metered flow",
)
FEEDER_OUTPUT = Key(
    name="feeder_output",
    unit=GPD,
    required=True,
    low=0.1,
    high=5000,
    help="output at 100 percent, measured (feeder-calibration) rather than from the nameplate",
)
DOSE = Key(name="dose", unit=MG_L, required=True, low=0.01, high=500, help="dose of active oxidant")
STRENGTH = Key(
    name="strength",
    unit=G_L,
    required=True,
    low=0.1,
    high=1500,
    help="active oxidant in the solution (solution-strength gives it)",
)
SETTING = Key(
    name="setting",
    unit=PERCENT,
    required=True,
    low=0,
    low_open=True,
    high=100,
    help="setting of the dosing pump",
)
DRAWN = Key(
    name="drawn",
    unit="mL",
    required=True,
    low=0,
    low_open=True,
    high=20000,
    help="solution drawn from the measuring column",
)
TIME = Key(name="time", unit="s", required=True, low=10, high=3600, help="time it was drawn in")
NAMEPLATE = Key(
    name="nameplate_output", unit=GPD, low=0.1, high=500, help="output printed on the dosing pump"
)


class FeederCalibration(Answer):
    method: ClassVar[str] = "calibration/1"

    output: Quantity = result(GPD, "output at 100 percent")
    feed_rate: Quantity = result("mL/min", "output at the setting it was measured at")
    share_of_nameplate: float | None = result("", "measured output over the printed one")


TANK_VOLUME = Key(
    name="tank_volume", unit="gal", low=0.5, high=1000, help="solution in the full tank"
)
DAILY_USE = Key(
    name="daily_use", unit="gal", low=1, high=100000, help="water the house uses in a day"
)


class DoseFromSetting(Answer):
    method: ClassVar[str] = "feed/1"

    dose: Quantity = result(MG_L, "dose of active oxidant")
    feed_rate: Quantity = result("mL/min", "solution fed while running")
    solution_per_day: Quantity | None = result("gal", "solution used in a day")
    days_of_supply: Quantity | None = result("day", "days from a full tank to an empty one")


def dose_per_percent(flow_gpm: float, strength_g_l: float, output_gpd: float) -> float:
    """mg/L of active oxidant for each percent of setting, from the feeder's own calibration."""
    return output_gpd / MINUTES_PER_DAY / flow_gpm * strength_g_l * MG_PER_G / 100


def oxidant_in_kg(solution_gal: float, strength_g_l: float) -> float:
    """Active oxidant in so much solution: volume times strength."""
    return solution_gal * LITRES_PER_GALLON * strength_g_l / GRAMS_PER_KG


def oxidant_used_kg(water_gal: float, dose_mg_l: float) -> float:
    """Active oxidant that a dose takes for so much water: the pounds formula, in kilograms.

    Source: Water Treatment Mathematics (Skill Development Series), section 4: MGD x mg/L x 8.34.
    """
    return water_gal * LITRES_PER_GALLON * dose_mg_l / MG_PER_G / GRAMS_PER_KG


@dataclass(frozen=True)
class Feed:
    """What the applied dose follows: setting in percent and strength in g/L, None if not known."""

    setting: float | None = None
    strength: float | None = None


def dose_moved_percent(before: Feed, after: Feed) -> float:
    """By how many percent setting times strength has moved; 100 where nothing was fed before.

    A strength that is known on one side only counts as unchanged; without a setting nothing moved.
    """
    if after.setting is None:
        return 0.0
    if not before.setting:
        return 100.0 if after.setting else 0.0
    ratio = after.setting / before.setting
    if before.strength and after.strength:
        ratio *= after.strength / before.strength
    return round(abs(ratio - 1) * 100, 9)


def dose_has_moved(before: Feed, after: Feed) -> bool:
    return dose_moved_percent(before, after) > DOSE_MOVED_PERCENT


def same_dose_setting(before: Feed, strength: float) -> float | None:
    """The setting, percent, that feeds the same dose from a solution of another strength, g/L.

    Setting times strength stays what it was (mass balance at one flow; common practice, no
    source). None where setting or strength is not known or is zero. May be above 100: then the
    dose cannot be fed from that solution.
    """
    if not before.setting or not before.strength or strength <= 0:
        return None
    return before.setting * before.strength / strength


def large_flow(flow_gpm: float) -> list[str]:
    """A warning when the flow is larger than that of a private well."""
    if flow_gpm <= LARGE_FLOW:
        return []
    return [f"{flow_gpm:g} gpm is more than a private well gives: check number and unit."]


def _far_setting(percent: float) -> list[str]:
    if LOWEST_SETTING <= percent <= HIGHEST_SETTING:
        return []
    return ["Outside 10 to 90 percent the output need not follow the setting: measure it there."]


def feeder_calibration(
    *, drawn: Quantity, time: Quantity, setting: Quantity, nameplate_output: Quantity | None = None
) -> FeederCalibration:
    """Output of a feeder at 100 percent from a drawdown test.

    output = V / t x 100 / s

    drawn              V, solution drawn       [volume]  above 0, at most 20,000 mL
    time               t                       [time]    10 to 3600 s
    setting            s                       percent   above 0, at most 100
    nameplate_output   [flow]  0.1 to 500 gpd, for the share only
    returns            gpd at 100 percent, mL/min at the setting, share of the nameplate

    Raises OutOfRange outside those limits. Source: drawdown of a calibration column over one
    minute (operator training texts); warnings below 30 s, and under 80 or over 120 percent of
    the nameplate, are common practice, no source.
    """
    volume, seconds, percent = DRAWN.amount(drawn), TIME.amount(time), SETTING.amount(setting)
    rate = volume / seconds * 60
    output = rate * MINUTES_PER_DAY / ML_PER_GALLON * 100 / percent
    plate = None if nameplate_output is None else NAMEPLATE.amount(nameplate_output)
    share = None if plate is None else output / plate
    return FeederCalibration(
        output=q(output, GPD),
        feed_rate=q(rate, "mL/min"),
        share_of_nameplate=share,
        warnings=_calibration_warnings(volume, seconds, percent, share),
        cautions=(FEEDER_CAUTION,),
        sources=("Definition of flow; the output is taken as proportional to the setting.",),
        working=(
            f"feed rate = {volume:g} mL / {seconds:g} s x 60 = {rate:.4g} mL/min",
            f"output = {rate:.4g} mL/min x 1440 / 3785.41 x 100 / {percent:g} = {output:.4g} gpd",
        ),
    )


def _calibration_warnings(
    volume: float, seconds: float, percent: float, share: float | None
) -> tuple[str, ...]:
    warnings = []
    if seconds < 30 or volume < 5:
        warnings.append("Short test: draw for at least a minute, and at least 5 mL.")
    if percent < LOWEST_SETTING:
        warnings.append(
            "Measured below 10 percent: the output need not follow the setting down to zero; "
            "measure again near the setting that will be used."
        )
    if share is not None and share < 0.8:
        warnings.append(
            f"Only {share:.0%} of the nameplate: look for a worn tube, air, a blocked foot valve "
            "or injector; back pressure lowers the output too."
        )
    if share is not None and share > 1.2:
        warnings.append(f"{share:.0%} of the nameplate: check setting, time and column again.")
    return tuple(warnings)


def dose_from_setting(
    *,
    flow: Quantity,
    strength: Quantity,
    feeder_output: Quantity,
    setting: Quantity,
    tank_volume: Quantity | None = None,
    daily_use: Quantity | None = None,
) -> DoseFromSetting:
    """Dose that a setting gives: the inverse of feed_setting.

    D = s / 100 x F100 C / Q;  solution a day = use D / C;  supply = tank / solution a day

    flow            Q, past the injector while the feeder runs  [flow]  0.1 to 5000 gpm
    strength        C     [concentration]  0.1 to 1500 g/L of active oxidant
    feeder_output   F100  [flow]  0.1 to 5000 gpd at 100 percent
    setting         s     percent, above 0 and at most 100
    tank_volume, daily_use  [volume]  0.5 to 1000 gal of solution, 1 to 100000 gal of water a day
    returns         D in mg/L, feed rate in mL/min, solution a day in gal, supply in days

    Raises OutOfRange outside those limits. Source: California State Water Resources Control
    Board, Example Calculations of Chlorine Dosage (2018), equation 2A (mass balance).
    """
    gpm, g_l = FLOW.amount(flow), STRENGTH.amount(strength)
    output, percent = FEEDER_OUTPUT.amount(feeder_output), SETTING.amount(setting)
    dose = dose_per_percent(gpm, g_l, output) * percent
    rate = output * percent / 100 / MINUTES_PER_DAY * ML_PER_GALLON
    use, tank = DAILY_USE.optional(daily_use), TANK_VOLUME.optional(tank_volume)
    per_day = None if use is None else use * dose / (g_l * MG_PER_G)
    return DoseFromSetting(
        dose=q(dose, MG_L),
        feed_rate=q(rate, "mL/min"),
        solution_per_day=q(per_day, "gal"),
        days_of_supply=q(tank / per_day if tank and per_day else None, "day"),
        warnings=(*large_flow(gpm), *_far_setting(percent)),
        cautions=(FEEDER_CAUTION,),
        sources=(FEED_SOURCE,),
        working=(
            f"feed rate = {output:g} gpd x {percent:g} / 100 = {rate:.4g} mL/min",
            f"dose = {rate:.4g} mL/min x {g_l:g} g/L x 1000 / ({gpm:g} gpm x 3785.41 mL/gal) "
            f"= {dose:.4g} mg/L",
        ),
    )


FEEDER_CALIBRATION = "feeder-calibration"
register(
    Calculation(
        name=FEEDER_CALIBRATION,
        title="Dosing pump output from a drawdown test",
        function=feeder_calibration,
        answer=FeederCalibration,
        keys=(DRAWN, TIME, SETTING, NAMEPLATE),
    )
)
register(
    Calculation(
        name="dose-from-setting",
        title="Dose of a dosing pump setting",
        function=dose_from_setting,
        answer=DoseFromSetting,
        keys=(FLOW, STRENGTH, FEEDER_OUTPUT, SETTING, TANK_VOLUME, DAILY_USE),
    )
)
