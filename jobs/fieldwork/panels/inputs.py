"""Inputs that several panels share."""

from __future__ import annotations

from equipment.engineering.names import PartKind

from .kinds import Input
from .sources import catalog, line, reading, result, setting
from .where_from import daily_use, pump_flow, static_level

FEEDER = PartKind.FEEDER

RAW = {
    key: Input(key, label, (line(f"raw-{key}"), reading(key, "raw")), optional=True)
    for key, label in {
        "iron": "Iron, raw",
        "manganese": "Manganese, raw",
        "sulfide": "Hydrogen sulfide, raw",
        "ammonia": "Ammonia, raw",
    }.items()
}
TEMPERATURE = Input(
    "temperature",
    "Water temperature",
    (line("raw-temperature"), reading("temperature", "raw"), reading("temperature")),
)
CASING = Input(
    "casing_diameter", "Casing diameter", (line("casing-diameter"), reading("casing_diameter"))
)
DEPTH = Input("total_depth", "Total depth", (line("total-depth"), reading("total_depth")))
STATIC = Input("static_level", "Static level", (static_level,))
STRENGTH = Input(
    "strength",
    "Strength of the solution",
    (line("solution-strength"), setting("solution_strength_g_l", "g/L", FEEDER)),
)
PUMP_FLOW = Input("flow", "Pump flow while running", (pump_flow,))
OUTPUT = Input(
    "feeder_output",
    "Output of the dosing pump at 100 percent",
    (
        result("feeder-calibration", "output"),
        catalog(lambda s: s.feed_pump.nameplate_output_gpd if s.feed_pump else None, "gpd", FEEDER),
    ),
)
DIAMETER = Input(
    "diameter",
    "Diameter of the tank",
    (catalog(lambda s: s.vessel.diameter_in if s.vessel else None, "in"),),
)
DAILY_USE = Input("daily_use", "Water used in a day", (daily_use,), optional=True)
