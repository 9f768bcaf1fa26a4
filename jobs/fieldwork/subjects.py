"""Of which parts of a system a line is asked."""

from __future__ import annotations

from equipment.engineering.names import PartKind, PumpHead

#: subjects of lines that are asked once for each fitted part of these kinds
STAGE_SUBJECTS: dict[str, tuple[str, ...]] = {
    "feeder": (PartKind.FEEDER,),
    "filter": (PartKind.FILTER,),
    "softener": (PartKind.SOFTENER,),
    "washing": (PartKind.FILTER, PartKind.SOFTENER),
    "vessel": (PartKind.FILTER, PartKind.SOFTENER, PartKind.NEUTRALIZER),
    "each": tuple(PartKind),
}
#: what a condition may ask of the dosing pump: by which figures it is set
PUMP_HEADS: dict[str, tuple[str, ...]] = {
    "timer_pump": (PumpHead.TIMER,),
    "stroke_pump": (PumpHead.STROKE, PumpHead.METERED),
    "speed_pump": (PumpHead.STROKE,),
    "metered_pump": (PumpHead.METERED,),
}
