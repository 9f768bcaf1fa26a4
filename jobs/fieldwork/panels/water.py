"""Panels about the well, disinfection, beds and softeners."""

from __future__ import annotations

from dataclasses import replace

from equipment.engineering.names import PartKind
from jobs.fieldwork.keys import BlockKey, LineKey, PanelName
from jobs.fieldwork.kinds import Source as Standing

from .in_line import plumbing_volume
from .inputs import (
    DIAMETER,
    OF_BORE,
    RAW,
    TEMPERATURE,
)
from .kinds import Input, Panel
from .sources import catalog, company, fixed, line, reading, result
from .standing import box_diameter, box_length, box_width, standing_volume, water_depth
from .where_from import (
    daily_use,
    drawdown,
    hardness_seen,
    iron_at_softener,
    peak_draw,
    people_in,
    pump_flow,
    room_above_bed,
    shock_basis,
    shock_strength,
    use_per_person,
)

FILTER = PartKind.FILTER
SOFTENER = PartKind.SOFTENER

WASH_MINUTES = (line(LineKey.WASH_MINUTES), line(LineKey.CLEAR_MINUTES))
RINSE_MINUTES = Input(
    "rinse_minutes", "Minutes of the rinse", (line(LineKey.RINSE_MINUTES),), optional=True
)

WATER_PANELS = (
    Panel(
        name=PanelName.WELL_VOLUME,
        title="Water in the well",
        blocks=(BlockKey.DISINFECT, BlockKey.WELL_HEAD),
        answer="volume",
        source=Standing.BORE,
        inputs=OF_BORE,
        rows=(("volume_per_length", "In each foot"), ("water_column", "Water column")),
        echo=LineKey.STATIC_LEVEL,
    ),
    Panel(
        name=PanelName.OPEN_WATER,
        title="Water in spring box or cistern",
        blocks=(BlockKey.DISINFECT, BlockKey.WELL_HEAD),
        answer="volume",
        source=Standing.OPEN,
        inputs=(
            Input("length", "Length inside", (box_length,), optional=True),
            Input("width", "Width inside", (box_width,), optional=True),
            Input("diameter", "Diameter of a round one", (box_diameter,), optional=True),
            Input("depth", "Depth of the water", (water_depth,)),
        ),
        rows=(("volume_per_length", "In each foot"),),
        echo=LineKey.WATER_DEPTH,
    ),
    Panel(
        name=PanelName.PIPE_VOLUME,
        folded_on=(BlockKey.DISINFECT,),
        title="Water in a pipe",
        blocks=(BlockKey.DISINFECT,),
        answer="volume",
        inputs=(
            Input("material", "Pipe", (fixed("copper-m"),)),
            Input("nominal_size", "Nominal size", (fixed("3/4 in"),)),
            Input("length", "Length"),
            Input(
                "flow",
                "Flow through it",
                (line(LineKey.TAP_FLOW), reading("tap_flow")),
                optional=True,
            ),
        ),
        rows=(("flush_time", "To flush it once"),),
        is_kept=False,
        is_printed=False,
    ),
    Panel(
        name=PanelName.SHOCK_CHLORINATION,
        title="Product to pour in",
        blocks=(BlockKey.DISINFECT,),
        answer="product_volume",
        or_else=("product_mass",),
        inputs=(
            Input(
                "volume",
                "Water in spring box or cistern",
                (standing_volume,),
                source=Standing.OPEN,
            ),
            *OF_BORE,
            Input(
                "plumbing_volume",
                "Water in tanks, heater and pipe",
                (plumbing_volume,),
                optional=True,
            ),
            Input("target", "Chlorine aimed at", (company("shock_target_mg_l", "mg/L"),)),
            Input("product", "Product", (line(LineKey.CHLORINE_PRODUCT),)),
            Input("strength", "Strength on the label", (shock_strength,)),
            Input("strength_basis", "The label's percent is", (shock_basis,), optional=True),
            RAW["iron"],
            RAW["manganese"],
            RAW["sulfide"],
            RAW["ammonia"],
            Input("minimum_contact", "Shortest contact time", (company("contact_minimum_h", "h"),)),
        ),
        rows=(
            ("contact_time", "Leave it in for at least"),
            ("treated_volume", "Water treated"),
            ("dose", "Dose with the demand of this water"),
            ("chlorine", "Available chlorine"),
        ),
        echo=LineKey.CHLORINE_STRENGTH,
    ),
    Panel(
        name=PanelName.BUCKET_FLOW,
        folded_on=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        title="Flow by bucket and seconds",
        blocks=(
            BlockKey.RAW_WATER,
            BlockKey.BACKWASH,
            BlockKey.DIAL_BACK,
            BlockKey.RECHECK_SETTING,
        ),
        answer="flow",
        inputs=(Input("volume", "Bucket"), Input("time", "Time to fill it")),
        gives=(
            LineKey.PUMP_FLOW,
            LineKey.TAP_FLOW,
            LineKey.BACKWASH_FLOW,
            LineKey.RESIN_FLOW,
        ),
        is_kept=False,
        is_printed=False,
    ),
    Panel(
        name=PanelName.BACKWASH,
        title="Flow this bed needs to backwash",
        blocks=(BlockKey.BACKWASH,),
        each=(FILTER,),
        answer="required_flow_low",
        alt="at the temperature of this water",
        inputs=(
            DIAMETER,
            Input(
                "rate",
                "Backwash rate of the medium",
                (
                    catalog(
                        lambda s: s.medium.backwash_low_gpm_ft2 if s.medium else None, "gpm/ft2"
                    ),
                ),
            ),
            Input(
                "rate_high",
                "Highest backwash rate of the medium",
                (
                    catalog(
                        lambda s: s.medium.backwash_high_gpm_ft2 if s.medium else None, "gpm/ft2"
                    ),
                ),
                optional=True,
            ),
            Input(
                "bed_depth", "Bed depth", (catalog(lambda s: s.bed_depth_in, "in"),), optional=True
            ),
            Input("freeboard", "Room above the bed", (room_above_bed,), optional=True),
            Input(
                "rate_temperature",
                "Rate holds at",
                (catalog(lambda s: s.medium.rate_temperature_c if s.medium else None, "degC"),),
            ),
            replace(TEMPERATURE, optional=True),
            Input("pump_flow", "Well pump flow while running", (pump_flow,), optional=True),
            Input("minutes", "Minutes of the backwash", WASH_MINUTES, optional=True),
            RINSE_MINUTES,
            Input(
                "vessels",
                "Tanks side by side",
                (catalog(lambda s: float(s.parallel_count)),),
                optional=True,
            ),
            Input("well_yield", "Yield of the well", (reading("well_yield"),), optional=True),
        ),
        rows=(
            ("most_flow", "Not above"),
            ("temperature_factor", "Factor for the temperature"),
            ("limited_by", "Limited by"),
        ),
        echo=LineKey.BACKWASH_FLOW,
    ),
    Panel(
        name=PanelName.WASH_CYCLE,
        title="Water for one backwash",
        blocks=(BlockKey.BACKWASH,),
        each=(FILTER, SOFTENER),
        answer="water",
        inputs=(
            Input(
                "flow",
                "Flow of the backwash",
                (
                    line(LineKey.BACKWASH_FLOW),
                    line(LineKey.RESIN_FLOW),
                    result(PanelName.BACKWASH, "wash_flow"),
                ),
            ),
            Input("minutes", "Minutes of the backwash", WASH_MINUTES),
            RINSE_MINUTES,
            Input("well_yield", "Yield of the well", (reading("well_yield"),), optional=True),
        ),
        rows=(
            ("time", "It runs for"),
            ("flow", "Flow counted for the water"),
            ("recovery", "Well makes it again in"),
            ("pause", "Wait before the next"),
        ),
        echo=LineKey.RINSE_MINUTES,
    ),
    Panel(
        name=PanelName.BED,
        folded_on=(BlockKey.BACKWASH,),
        title="Time in the bed",
        blocks=(BlockKey.BACKWASH,),
        each=(FILTER,),
        answer="ebct",
        inputs=(
            DIAMETER,
            Input("bed_depth", "Bed depth", (catalog(lambda s: s.bed_depth_in, "in"),)),
            Input("flow", "Peak draw of the house", (peak_draw, pump_flow)),
            Input(
                "parallel_count",
                "Tanks side by side",
                (catalog(lambda s: float(s.parallel_count)),),
                optional=True,
            ),
        ),
        rows=(("service_rate", "Service rate"), ("bed_volume", "Media")),
    ),
    Panel(
        name=PanelName.FILTER_INTERVAL,
        title="Days between backwashes",
        blocks=(BlockKey.PROGRAM, BlockKey.RECHECK_PROGRAM),
        each=(FILTER,),
        answer="days",
        inputs=(
            DIAMETER,
            Input("iron", "Iron, raw", RAW["iron"].sources),
            RAW["manganese"],
            RAW["sulfide"],
            Input("daily_use", "Water used in a day", (daily_use,)),
            Input(
                "loading_limit",
                "Load the bed takes",
                (
                    catalog(
                        lambda s: s.medium.loading_limit_grain_ft2 if s.medium else None,
                        "grain/ft2",
                    ),
                ),
                optional=True,
            ),
            Input(
                "maximum_days",
                "Longest interval of the medium",
                (
                    catalog(
                        lambda s: float(s.medium.interval_max_days) if s.medium else None, "day"
                    ),
                ),
            ),
        ),
        rows=(
            ("load_per_day", "Load in a day"),
            ("limited_by", "Limited by"),
            ("area_needed", "Bed area it takes"),
        ),
        echo=LineKey.WASH_INTERVAL,
    ),
    Panel(
        name=PanelName.SOFTENER,
        title="Days between regenerations",
        blocks=(BlockKey.PROGRAM, BlockKey.RECHECK_PROGRAM),
        each=(SOFTENER,),
        answer="days",
        inputs=(
            Input("hardness", "Hardness, raw", (hardness_seen,)),
            Input("iron", "Iron that reaches it", (iron_at_softener,), optional=True),
            RAW["manganese"],
            Input("people", "People in the house", (people_in,)),
            Input("use_per_person", "Water for each in a day", (use_per_person,), optional=True),
            Input("resin_volume", "Resin", (catalog(lambda s: s.media_volume_ft3, "ft3"),)),
            Input(
                "salt_dose",
                "Salt for each cubic foot",
                (catalog(lambda s: s.salt_dose_lb_ft3, "lb/ft3"), fixed("8 lb/ft3")),
            ),
            Input(
                "maximum_days",
                "Longest interval",
                (catalog(lambda s: float(s.resin.interval_max_days) if s.resin else None, "day"),),
                optional=True,
            ),
        ),
        rows=(
            ("compensated_hardness", "Hardness to program"),
            ("gallons_between", "Water between"),
            ("salt_per_regeneration", "Salt each time"),
            ("salt_per_month", "Salt in a month"),
        ),
        echo=LineKey.HARDNESS_SET,
    ),
    Panel(
        name=PanelName.PEAK_DEMAND,
        title="Flow the house can ask for at once",
        blocks=(BlockKey.HOUSE,),
        answer="flow",
        alt="by the plumbing code; most houses ask for less",
        inputs=(
            Input("bathrooms", "Bathrooms", (line(LineKey.BATHROOMS), reading("bathrooms"))),
            Input("pump_flow", "Well pump flow while running", (pump_flow,), optional=True),
            Input("drawdown", "Water drawn between cut-out and cut-in", (drawdown,), optional=True),
        ),
        rows=(
            ("likely_flow", "99 of 100 moments stay below"),
            ("deliverable_flow", "Well pump and tank can give"),
            ("sustained", "They hold the peak for"),
        ),
        echo=LineKey.BATHROOMS,
    ),
    Panel(
        name=PanelName.WELL_FLOW,
        folded_on=(BlockKey.DIAL_BACK,),
        title="Well pump flow by tank and seconds",
        blocks=(BlockKey.PRESSURE, BlockKey.RAW_WATER, BlockKey.DIAL_BACK),
        answer="flow",
        inputs=(
            Input(
                "drawdown",
                "Water drawn between cut-out and cut-in",
                (drawdown,),
            ),
            Input(
                "refill_time",
                "From cut-in to cut-out",
                (line(LineKey.REFILL), reading("refill_time")),
            ),
        ),
        echo=LineKey.REFILL,
        gives=(LineKey.PUMP_FLOW,),
    ),
    Panel(
        name=PanelName.PRESSURE_TANK,
        title="Water the tank gives between cut-out and cut-in",
        blocks=(BlockKey.PRESSURE,),
        answer="drawdown",
        inputs=(
            Input(
                "volume",
                "Pressure tank",
                (line(LineKey.TANK_VOLUME), reading("pressure_tank_volume")),
            ),
            Input("precharge", "Pre-charge", (line(LineKey.PRECHARGE), reading("precharge"))),
            Input("cut_in", "Cut-in", (line(LineKey.CUT_IN), reading("cut_in"))),
            Input("cut_out", "Cut-out", (line(LineKey.CUT_OUT), reading("cut_out"))),
            Input("pump_flow", "Well pump flow while running", (pump_flow,), optional=True),
        ),
        rows=(
            ("acceptance", "Share of the tank"),
            ("pump_run", "Well pump runs"),
            ("precharge_wanted", "Pre-charge wanted"),
        ),
        echo=LineKey.PRECHARGE,
    ),
)
