"""Inputs that several panels share."""

from __future__ import annotations

from equipment.engineering.names import PartKind
from equipment.quantities import PlaceName, SettingName
from jobs.fieldwork.keys import LineKey, PanelName
from jobs.fieldwork.kinds import Source as Standing

from .kinds import Input
from .sources import catalog, line, reading, result, setting
from .standing import casing_diameter, second_column, second_diameter, static, total_depth
from .where_from import daily_use, pump_flow

FEEDER = PartKind.FEEDER

RAW = {
    key: Input(key, label, (line(asked), reading(key, PlaceName.RAW)), optional=True)
    for key, label, asked in (
        ("iron", "Iron, raw", LineKey.RAW_IRON),
        ("manganese", "Manganese, raw", LineKey.RAW_MANGANESE),
        ("sulfide", "Hydrogen sulfide, raw", LineKey.RAW_SULFIDE),
        ("ammonia", "Ammonia, raw", LineKey.RAW_AMMONIA),
    )
}
TEMPERATURE = Input(
    "temperature",
    "Water temperature",
    (line(LineKey.RAW_TEMPERATURE), reading("temperature", PlaceName.RAW), reading("temperature")),
)
#: what the water of a bore is worked out from, of one diameter or two
OF_BORE = tuple(
    Input(key, label, (source,), optional=optional, source=Standing.BORE)
    for key, label, source, optional in (
        ("casing_diameter", "Casing diameter", casing_diameter, False),
        ("total_depth", "Total depth", total_depth, False),
        ("static_level", "Static level", static, False),
        ("casing_2_diameter", "Diameter below the casing", second_diameter, True),
        ("casing_2_column", "Water below the casing", second_column, True),
    )
)
STRENGTH = Input(
    "strength",
    "Strength of the solution",
    (line(LineKey.SOLUTION_STRENGTH), setting(SettingName.STRENGTH, FEEDER)),
)
PUMP_FLOW = Input("flow", "Well pump flow while running", (pump_flow,))
OUTPUT = Input(
    "feeder_output",
    "Output of the dosing pump at 100 percent",
    (
        result(PanelName.FEEDER_CALIBRATION, "output"),
        catalog(lambda s: s.feed_pump.nameplate_output_gpd if s.feed_pump else None, "gpd", FEEDER),
    ),
)
DIAMETER = Input(
    "diameter",
    "Diameter of the tank",
    (catalog(lambda s: s.vessel.diameter_in if s.vessel else None, "in"),),
)
DAILY_USE = Input("daily_use", "Water used in a day", (daily_use,), optional=True)
