"""Panels about dose, dosing pump and retention."""

from __future__ import annotations

from equipment.engineering.names import Oxidant, PartKind
from jobs.fieldwork.keys import BlockKey, LineKey, PanelName

from .inputs import (
    DAILY_USE,
    OUTPUT,
    PUMP_FLOW,
    RAW,
    STRENGTH,
)
from .kinds import Input, Panel
from .sources import catalog, company, fixed, line, reading, result
from .where_from import (
    contact_flow,
    cycle_now,
    maximum_use,
    mixing_volume,
    oxidant_fed,
    product_fed,
    residual_aim,
    restart,
    restart_of_a_run,
    run_of_a_restart,
    setting_as_drawn,
    setting_now,
    shelf_life,
    turning_volume,
    usual_run,
)

FEEDER = PartKind.FEEDER
SOLUTION_TANK = Input(
    "tank_volume",
    "Solution tank",
    (
        line(LineKey.SOLUTION_LEVEL),
        catalog(lambda s: s.solution_tank_gal, "gal", FEEDER),
    ),
    optional=True,
)
LABEL = Input(
    "mass_fraction",
    "Strength on the label",
    (
        line(LineKey.LABEL_STRENGTH),
        catalog(
            lambda s: s.product.label_strength_percent if s.product else None, "percent", FEEDER
        ),
    ),
)

MIXING = Input("mixing_volume", "Contact tank", (mixing_volume,))
AS_IT_STARTS = "The timer, as the well pump starts"

FEED_PANELS = (
    Panel(
        name=PanelName.SOLUTION_STRENGTH,
        title="Strength of the mixed solution",
        blocks=(BlockKey.DIAL_BACK,),
        has="feeder",
        oxidants=(Oxidant.PEROXIDE, Oxidant.CHLORINE),
        answer="strength",
        inputs=(
            LABEL,
            Input(
                "density",
                "Density",
                (catalog(lambda s: s.product.density_g_ml if s.product else None, "g/mL", FEEDER),),
                optional=True,
            ),
            Input(
                "strength_basis",
                "The label's percent is",
                (catalog(lambda s: s.product.strength_basis if s.product else None, "", FEEDER),),
                typed=False,
            ),
            Input("product", "Product", (product_fed,), typed=False),
            Input("parts_solution", "Parts of product", (fixed("1"),)),
            Input("parts_water", "Parts of water", (fixed("0"),)),
        ),
        rows=(("mass_fraction", "By weight"),),
        echo=LineKey.LABEL_STRENGTH,
        gives=(LineKey.SOLUTION_STRENGTH,),
        is_kept=False,
        is_printed=False,
    ),
    Panel(
        name=PanelName.DRY_MIX,
        title="Strength of what was mixed dry",
        blocks=(BlockKey.DIAL_BACK,),
        has="feeder",
        oxidants=(Oxidant.PERMANGANATE,),
        answer="strength",
        inputs=(
            Input("mass", "Dry product", (line(LineKey.DRY_MASS),)),
            LABEL,
            Input("volume", "Solution mixed", (line(LineKey.MIX_WATER),)),
        ),
        echo=LineKey.MIX_WATER,
        gives=(LineKey.SOLUTION_STRENGTH,),
        is_kept=False,
        is_printed=False,
    ),
    Panel(
        name=PanelName.FEEDER_CALIBRATION,
        title="Output of the dosing pump at 100 percent",
        has="feeder",
        blocks=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        answer="output",
        inputs=(
            Input("drawn", "Drawn from the cylinder", (line(LineKey.FEED_DRAWN),)),
            Input("time", "In this time", (line(LineKey.FEED_TIME),)),
            Input("setting", "Dosing pump setting", (setting_as_drawn,)),
            Input(
                "nameplate_output",
                "Output on its plate",
                (
                    catalog(
                        lambda s: s.feed_pump.nameplate_output_gpd if s.feed_pump else None,
                        "gpd",
                        FEEDER,
                    ),
                ),
                optional=True,
            ),
        ),
        rows=(("feed_rate", "Feed"), ("share_of_nameplate", "Share of its plate")),
        echo=LineKey.FEED_TIME,
    ),
    Panel(
        name=PanelName.OXIDANT_DEMAND,
        folded_on=(BlockKey.DIAL_BACK,),
        title="Oxidant this water asks for",
        has="feeder",
        blocks=(BlockKey.DIAL_BACK,),
        answer="dose",
        alt="demand, allowance and the residual aimed at",
        inputs=(
            Input("oxidant", "Oxidant", (oxidant_fed,), typed=False),
            RAW["iron"],
            RAW["manganese"],
            RAW["sulfide"],
            RAW["ammonia"],
            Input("residual", "Residual aimed at", (residual_aim,), optional=True),
        ),
        rows=(("demand", "Demand"), ("demand_iron", "of iron"), ("demand_sulfide", "of sulfide")),
    ),
    Panel(
        name=PanelName.FEED_SETTING,
        title="Dosing pump setting worked out",
        has="feeder",
        blocks=(BlockKey.DIAL_BACK,),
        answer="setting",
        inputs=(
            PUMP_FLOW,
            Input("dose", "Dose", (result(PanelName.OXIDANT_DEMAND, "dose"),)),
            STRENGTH,
            OUTPUT,
            SOLUTION_TANK,
            DAILY_USE,
            Input("shelf_life", "Solution keeps", (shelf_life,), optional=True),
            Input("maximum_use_level", "Maximum use level", (maximum_use,), optional=True),
        ),
        rows=(
            ("feed_rate", "Feed"),
            ("suggested_strength", "Better strength"),
        ),
        echo=LineKey.SOLUTION_STRENGTH,
    ),
    Panel(
        name=PanelName.TURNOVER,
        title="Three turnovers at the running tap",
        has="feeder",
        blocks=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        answer="time",
        inputs=(
            Input("volume", "Water between dosing pump and tap", (turning_volume,)),
            Input("flow", "Flow of the running tap", (line(LineKey.TAP_FLOW), reading("tap_flow"))),
        ),
        rows=(("water", "Water run to waste"), ("old_water_left", "Old water left")),
        echo=LineKey.TAP_FLOW,
        is_printed=False,
    ),
    Panel(
        name=PanelName.DOSE_FROM_SETTING,
        title="Dose at this setting",
        has="feeder",
        blocks=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        answer="dose",
        inputs=(
            PUMP_FLOW,
            STRENGTH,
            OUTPUT,
            Input("setting", "Dosing pump setting", (setting_now,)),
            SOLUTION_TANK,
            DAILY_USE,
        ),
        rows=(
            ("feed_rate", "Feed"),
            ("solution_per_day", "Solution in a day"),
            ("days_of_supply", "Lasts at this setting"),
        ),
    ),
    Panel(
        name=PanelName.DOSE_RIPPLE,
        title="Swing of the dose in the contact tank",
        has="timer_pump",
        blocks=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        answer="peak_ratio",
        alt="highest dose over the mean dose",
        inputs=(
            Input("cycle_length", "Cycle of the timer", (cycle_now,)),
            Input("on_share", "Share of it that it feeds", (setting_now,)),
            PUMP_FLOW,
            MIXING,
            Input("run_time", "Usual run of the well pump", (run_of_a_restart,), optional=True),
            Input("restart", AS_IT_STARTS, (restart_of_a_run,), optional=True),
        ),
        rows=(
            ("trough_ratio", "Lowest dose over the mean"),
            ("mean_ratio", "Dose of a run over the dose as set"),
        ),
    ),
    Panel(
        name=PanelName.TIMER_CYCLE,
        title="Longest cycle for this share",
        has="timer_pump",
        blocks=(BlockKey.DIAL_BACK, BlockKey.RECHECK_SETTING),
        answer="cycle",
        inputs=(
            Input("on_share", "Share of it that it feeds", (setting_now,)),
            PUMP_FLOW,
            MIXING,
            Input(
                "longest_cycle",
                "Longest cycle of the timer",
                (catalog(lambda s: s.feed_pump.cycle_s if s.feed_pump else None, "s", FEEDER),),
            ),
            Input(
                "cycle_step",
                "One mark of the cycle",
                (
                    catalog(
                        lambda s: s.feed_pump.cycle_step_s if s.feed_pump else None, "s", FEEDER
                    ),
                ),
            ),
            Input("largest_swing", "Largest swing", (company("dose_swing_percent", "percent"),)),
            Input("usual_run", "Usual run of the well pump", (usual_run,), optional=True),
            Input("restart", AS_IT_STARTS, (restart,), optional=True),
        ),
        rows=(
            ("swing", "Swing of the dose at it"),
            ("swing_at_longest", "Swing at the longest cycle"),
        ),
    ),
    Panel(
        name=PanelName.CONTACT,
        folded_on=(BlockKey.DIAL_BACK,),
        title="Time in the contact tank",
        has="retention",
        blocks=(BlockKey.DIAL_BACK,),
        answer="t10",
        inputs=(
            Input(
                "volume",
                "Contact tank",
                (
                    catalog(
                        lambda s: s.retention_tank.volume_gal if s.retention_tank else None,
                        "gal",
                        PartKind.RETENTION,
                    ),
                ),
            ),
            Input(
                "baffling_factor",
                "Baffling factor",
                (
                    catalog(
                        lambda s: s.retention_tank.baffling_factor if s.retention_tank else None,
                        "",
                        PartKind.RETENTION,
                    ),
                ),
            ),
            Input("flow", "Flow through it", (contact_flow,)),
        ),
        rows=(("detention", "Volume over flow"),),
    ),
)
