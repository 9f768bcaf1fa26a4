"""Of which parts of a system a line is asked."""

from __future__ import annotations

from equipment.engineering.names import PartKind

#: subjects of lines that are asked once for each fitted part of these kinds
STAGE_SUBJECTS: dict[str, tuple[str, ...]] = {
    "feeder": (PartKind.FEEDER,),
    "filter": (PartKind.FILTER,),
    "softener": (PartKind.SOFTENER,),
    "washing": (PartKind.FILTER, PartKind.SOFTENER),
    "vessel": (PartKind.FILTER, PartKind.SOFTENER, PartKind.NEUTRALIZER),
    "each": tuple(PartKind),
}
