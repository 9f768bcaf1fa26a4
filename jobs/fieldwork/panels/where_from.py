"""Where the figures of the panels come from when one place is not enough."""

from __future__ import annotations

import math

from equipment.engineering.beds.lift import free_height_in
from equipment.engineering.beds.softening import IRON_LIMIT
from equipment.engineering.beds.vessel import shell_gal
from equipment.engineering.disinfection.chlorine import DRY
from equipment.engineering.names import Oxidant, PartKind, Side
from equipment.engineering.oxidant.label import AVAILABLE
from equipment.engineering.plumbing.demand import USE_PER_PERSON_GPD, household_use_gal
from equipment.quantities import Known, PlaceName, SettingName
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.keys import LineKey, PanelName
from jobs.fieldwork.pump import plate, stands_at, typed_setting

from .kinds import Bench
from .sources import line, reading, result, setting

FEEDER = PartKind.FEEDER


def static_level(bench: Bench) -> Known | None:
    """The static level, or the full depth where the well may not be opened."""
    for source in (line(LineKey.STATIC_LEVEL), reading("static_level")):
        found = source(bench)
        if found:
            return found
    return Known("unknown", "static level not known: the full depth is used, which errs high")


def shock_strength(bench: Bench) -> Known | None:
    return line(LineKey.CHLORINE_STRENGTH)(bench)


def people_in(bench: Bench) -> Known | None:
    return line(LineKey.PEOPLE)(bench) or reading("people")(bench)


def daily_use(bench: Bench) -> Known | None:
    counted = reading("daily_use")(bench)
    if counted:
        return counted
    people = people_in(bench)
    if people is None or people.value is None:
        return None
    use = household_use_gal(people.value)
    return Known.of(use, "gal", f"{people.value:g} people, {USE_PER_PERSON_GPD:g} gal a day each")


def use_per_person(bench: Bench) -> Known | None:
    """The day's water shared among the people in the house, counted where it was counted."""
    use, people = daily_use(bench), people_in(bench)
    if use is None or use.value is None or people is None or not people.value:
        return None
    return Known.of(use.value / people.value, "gpd", use.origin)


def turning_volume(bench: Bench) -> Known | None:
    """Water between the injection point and the tap: retention tank and tanks of media."""
    volumes = [
        stage.retention_tank.volume_gal
        for stage in bench.asked.stages
        if stage.kind == PartKind.RETENTION and stage.retention_tank
    ]
    volumes += [
        water
        for stage in bench.asked.stages
        if stage.vessel and (water := vessel_water_gal(stage)) is not None
    ]
    if not volumes:
        return None
    return Known.of(math.fsum(volumes), "gal", "contact tank and water in the other tanks")


def vessel_water_gal(stage: Stage) -> float | None:
    """Gross water of the vessels of a part, errs high: media solids are not taken off."""
    if stage.vessel is None:
        return None
    return shell_gal(stage.vessel.diameter_in, stage.vessel.height_in) * stage.parallel_count


def room_above_bed(bench: Bench) -> Known | None:
    """Height of the vessel above the bed, by its size and the depth of the bed on file."""
    stage = bench.stage
    if stage is None or stage.vessel is None or stage.bed_depth_in is None:
        return None
    free = free_height_in(stage.vessel.diameter_in, stage.vessel.height_in, stage.bed_depth_in)
    return Known.of(free, "in", "vessel less domes and bed") if free > 0 else None


def setting_now(bench: Bench) -> Known | None:
    final = bench.asked.final_step or (bench.asked.steps[-1] if bench.asked.steps else None)
    if final:
        return Known.of(final.setting_percent, "percent", f"step {final.number}")
    typed = typed_setting(bench.asked)
    if typed:
        return Known.of(typed.percent, "percent", "answered here")
    return setting(SettingName.OUTPUT, FEEDER)(bench)


def setting_as_drawn(bench: Bench) -> Known | None:
    """At which setting the solution was drawn: what was set since then did not feed it."""
    item = bench.asked.item(LineKey.FEED_DRAWN, bench.stage) or bench.asked.item(LineKey.FEED_DRAWN)
    drawn = item.deciding if item else None
    steps = bench.asked.steps
    if drawn is None or not steps:
        return setting_now(bench)
    stood = [step for step in steps if step.set_at <= drawn.read_at] or steps[:1]
    return Known.of(stood[-1].setting_percent, "percent", f"step {stood[-1].number}")


def cycle_now(bench: Bench) -> Known | None:
    """The cycle of the timer as it stands; not known where only its share was written down."""
    at = stands_at(bench.asked)
    if at is None or not at.cycle_s:
        return None
    origin = "from the catalog" if at.cycle_from_catalog else "as it is set"
    return Known.of(at.cycle_s, "s", origin)


def usual_run(bench: Bench) -> Known | None:
    """From cut-in to cut-out with no tap open: the shortest run that is usual."""
    timed = reading("refill_time")(bench)
    if timed:
        return timed
    water, flow = drawdown(bench), pump_flow(bench)
    if not water or not water.value or not flow or not flow.value:
        return None
    seconds = max(1.0, 60 * water.value / flow.value)
    return Known.of(seconds, "s", "water between cut-out and cut-in over the flow of the well pump")


def restart(bench: Bench) -> Known | None:
    """What the timer does as the well pump starts, by the catalog."""
    pump = plate(bench.asked)
    return Known(pump.restart, "from the catalog") if pump and pump.restart else None


def run_of_a_restart(bench: Bench) -> Known | None:
    """A run says something only where it is known what the timer does when it begins."""
    return usual_run(bench) if restart(bench) else None


def restart_of_a_run(bench: Bench) -> Known | None:
    return restart(bench) if usual_run(bench) else None


def mixing_volume(bench: Bench) -> Known | None:
    """Water behind the injector that evens the dose out; none where there is no retention tank."""
    part = bench.asked.stage(PartKind.RETENTION)
    if part is None:
        return Known.of(0.0, "gal", "no contact tank")
    tank = part.retention_tank
    return Known.of(tank.volume_gal, "gal", "from the catalog") if tank else None


def contact_flow(bench: Bench) -> Known | None:
    """Pump flow before the pressure tank, else the peak draw of the house."""
    train = bench.asked.train
    if train and train.retention_side == Side.AFTER:
        return peak_draw(bench)
    return pump_flow(bench)


def peak_draw(bench: Bench) -> Known | None:
    """What was measured or told, else what the bathrooms can ask for and pump and tank give."""
    told = reading("peak_flow")(bench)
    return told or result(PanelName.PEAK_DEMAND, "deliverable_flow")(bench)


def drawdown(bench: Bench) -> Known | None:
    return line(LineKey.DRAWDOWN)(bench) or reading("drawdown_volume")(bench)


def pump_flow(bench: Bench) -> Known | None:
    return line(LineKey.PUMP_FLOW)(bench) or reading("pump_flow")(bench)


def shelf_life(bench: Bench) -> Known | None:
    feeder = bench.asked.feeder
    days = feeder.product.shelf_life_days if feeder and feeder.product else None
    return Known.of(days, "day", "product on file") if days else None


def maximum_use(bench: Bench) -> Known | None:
    feeder = bench.asked.feeder
    level = feeder.product.maximum_use_level_mg_l if feeder and feeder.product else None
    return Known.of(level, "mg/L", "product on file") if level else None


def oxidant_fed(bench: Bench) -> Known | None:
    return Known(bench.asked.oxidant, "product on file") if bench.asked.oxidant else None


def product_fed(bench: Bench) -> Known | None:
    """The oxidant as solutions are named: chlorine is fed as hypochlorite."""
    fed = "hypochlorite" if bench.asked.oxidant == Oxidant.CHLORINE else bench.asked.oxidant
    return Known(fed, "product on file") if fed else None


def shock_basis(bench: Bench) -> Known | None:
    """A dry label gives available chlorine; a liquid one says which percent it is."""
    if bench.asked.text(LineKey.CHLORINE_PRODUCT) == DRY:
        return Known(AVAILABLE, "dry product")
    return line(LineKey.CHLORINE_BASIS)(bench)


def residual_aim(bench: Bench) -> Known | None:
    aim = bench.asked.aim
    return Known.of(math.fsum(aim) / 2, "mg/L", "middle of the company's aim") if aim else None


def hardness_seen(bench: Bench) -> Known | None:
    return line(LineKey.RAW_HARDNESS)(bench) or reading("hardness", PlaceName.RAW)(bench)


def iron_at_softener(bench: Bench) -> Known | None:
    """The raw iron; behind a filter no more than one that works lets through.

    Counting the raw iron there would program iron twice that the filter has taken.
    """
    raw = line(LineKey.RAW_IRON)(bench) or reading("iron", PlaceName.RAW)(bench)
    softener = bench.stage
    ahead = softener and any(
        stage.kind == PartKind.FILTER and stage.position < softener.position
        for stage in bench.asked.stages
    )
    if raw is None or raw.value is None or not ahead or raw.value <= IRON_LIMIT:
        return raw
    return Known.of(IRON_LIMIT, "mg/L", "as much as a filter ahead lets through when it works")
