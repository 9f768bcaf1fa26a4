"""Water beside the well that gets chlorine: pipes, and everything answered in line."""

from __future__ import annotations

import math
from collections.abc import Iterator

from equipment.engineering.disinfection.plumbing_water import tank_water_gal
from equipment.engineering.names import PartKind
from equipment.engineering.plumbing.tank import atmosphere_psi
from equipment.quantities import Known
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.keys import HEATER_TREATED, IN_LINE, LineKey

from .kinds import Bench
from .sources import line, reading
from .where_from import vessel_water_gal

#: parts that hold water worth counting
HOLDING = (PartKind.RETENTION, PartKind.FILTER, PartKind.SOFTENER, PartKind.NEUTRALIZER)


def plumbing_volume(bench: Bench) -> Known | None:
    """The sum, and in words what was counted and what nobody has answered yet."""
    counted = list(_counted(bench))
    if not counted:
        return None
    said = ", ".join(f"{name} {gallons:.0f}" for name, gallons in counted)
    missing = ", ".join(_unanswered(bench))
    lacks = f"; not counted, as not answered: {missing}" if missing else ""
    return Known.of(math.fsum(gallons for _, gallons in counted), "gal", f"{said}{lacks}")


def _counted(bench: Bench) -> Iterator[tuple[str, float]]:
    pipes = pipe_volume(bench)
    if pipes and pipes.value:
        yield "pipes", pipes.value
    tank = pressure_tank_water(bench)
    if tank:
        yield "pressure tank", tank
    if bench.asked.text(LineKey.HEATER) == HEATER_TREATED:
        heater = line(LineKey.HEATER_VOLUME)(bench) or reading("heater_volume")(bench)
        if heater and heater.value:
            yield "heater", heater.value
    for stage in bench.asked.stages:
        water = stage_water_gal(stage)
        if water and bench.asked.text(LineKey.BYPASS_LIST, stage) in IN_LINE:
            yield str(stage), water


def _unanswered(bench: Bench) -> Iterator[str]:
    if not bench.asked.item(LineKey.HEATER):
        return
    if not bench.asked.text(LineKey.HEATER):
        yield "heater"
    for stage in bench.asked.stages:
        if stage_water_gal(stage) and not bench.asked.text(LineKey.BYPASS_LIST, stage):
            yield str(stage)


def pipe_volume(bench: Bench) -> Known | None:
    train = bench.asked.train
    if train and train.plumbing_volume_gal:
        return Known.of(train.plumbing_volume_gal, "gal", "system on file")
    return reading("plumbing_volume")(bench)


def pressure_tank_water(bench: Bench) -> float | None:
    """Full at cut-out; None where its size or a pressure is not known."""
    figures = [
        found.value if (found := line(key)(bench) or reading(quantity)(bench)) else None
        for key, quantity in (
            (LineKey.TANK_VOLUME, "pressure_tank_volume"),
            (LineKey.PRECHARGE, "precharge"),
            (LineKey.CUT_OUT, "cut_out"),
        )
    ]
    volume, precharge, cut_out = figures
    if volume is None or precharge is None or cut_out is None:
        return None
    altitude = reading("altitude")(bench)
    feet = altitude.value if altitude and altitude.value is not None else 0.0
    return tank_water_gal(volume, precharge, cut_out, atmosphere_psi(feet))


def stage_water_gal(stage: Stage) -> float | None:
    if stage.kind not in HOLDING:
        return None
    if stage.retention_tank:
        return stage.retention_tank.volume_gal
    return vessel_water_gal(stage)
