"""Of which parts of a system a line is asked."""

from __future__ import annotations

from dataclasses import replace

from equipment.engineering.names import PartKind, PumpHead

from .facts import Stage

#: subjects of lines that are asked once for each fitted part of these kinds
STAGE_SUBJECTS: dict[str, tuple[str, ...]] = {
    "feeder": (PartKind.FEEDER,),
    "filter": (PartKind.FILTER,),
    "softener": (PartKind.SOFTENER,),
    "washing": (PartKind.FILTER, PartKind.SOFTENER),
    "vessel": (PartKind.FILTER, PartKind.SOFTENER, PartKind.NEUTRALIZER),
    "filter-tank": (PartKind.FILTER,),
    "softener-tank": (PartKind.SOFTENER,),
    "washing-tank": (PartKind.FILTER, PartKind.SOFTENER),
    "vessel-tank": (PartKind.FILTER, PartKind.SOFTENER, PartKind.NEUTRALIZER),
    "each": tuple(PartKind),
}
#: what a condition may ask of the dosing pump: by which figures it is set
PUMP_HEADS: dict[str, tuple[str, ...]] = {
    "timer_pump": (PumpHead.TIMER,),
    "stroke_pump": (PumpHead.STROKE, PumpHead.METERED),
    "speed_pump": (PumpHead.STROKE,),
    "metered_pump": (PumpHead.METERED,),
}
#: of these, each tank is asked by itself where two or more stand side by side
OF_EACH_TANK = ("filter-tank", "softener-tank", "washing-tank", "vessel-tank")


def tanks_of(stage: Stage) -> tuple[Stage, ...]:
    """The tanks of a part, each by its number; the part itself where it has one."""
    count = stage.parallel_count
    if count < 2:
        return (stage,)
    return tuple(
        replace(stage, tank=number, name=f"{stage.name}, tank {number} of {count}")
        for number in range(1, count + 1)
    )


def is_of(mine: Stage | None, wanted: Stage) -> bool:
    """Whether what is asked of one part or tank speaks of another: a part of all its tanks."""
    if mine is None or mine.pk != wanted.pk:
        return False
    return mine.tank == wanted.tank or 0 in (mine.tank, wanted.tank)
