"""Water that stands in the source: a bore of one or two diameters, a spring box, a cistern."""

from __future__ import annotations

from equipment.quantities import Known
from jobs.fieldwork.keys import BOX_KNOWN, BOX_ROUND, ONE_CASING, LineKey, PanelName
from jobs.fieldwork.kinds import Source as Standing

from .kinds import Bench, Source
from .sources import line, reading, result
from .where_from import static_level


def _of(standing: Standing, find: Source) -> Source:
    """A figure of a bore, or of an open box; none where the water stands otherwise."""
    return lambda bench: find(bench) if bench.asked.source == standing else None


def _told(key: LineKey, quantity: str) -> Source:
    return lambda bench: line(key)(bench) or reading(quantity)(bench)


casing_diameter = _of(Standing.BORE, _told(LineKey.CASING_DIAMETER, "casing_diameter"))
total_depth = _of(Standing.BORE, _told(LineKey.TOTAL_DEPTH, "total_depth"))
static = _of(Standing.BORE, static_level)


def second_diameter(bench: Bench) -> Known | None:
    """Below the casing, where the bore goes on with another diameter and it is known where."""
    return _second(bench)[0]


def second_column(bench: Bench) -> Known | None:
    """The part of the water that stands below the casing."""
    return _second(bench)[1]


def _second(bench: Bench) -> tuple[Known | None, Known | None]:
    if bench.asked.text(LineKey.CASINGS) == ONE_CASING:
        return None, None
    diameter = _of(Standing.BORE, _told(LineKey.CASING_2_DIAMETER, "casing_2_diameter"))(bench)
    begins = _told(LineKey.CASING_DEPTH, "casing_depth")(bench)
    depth, level = total_depth(bench), static(bench)
    if not (diameter and begins and depth) or begins.value is None or depth.value is None:
        return None, None
    above = max(begins.value, (level.value if level else None) or 0.0)
    feet = depth.value - above
    if feet <= 0:
        return None, None
    return diameter, Known.of(feet, "ft", f"below {above:.4g} ft, to the bottom")


def box_length(bench: Bench) -> Known | None:
    return None if _is_round(bench) else _told(LineKey.BOX_LENGTH, "box_length")(bench)


def box_width(bench: Bench) -> Known | None:
    return None if _is_round(bench) else _told(LineKey.BOX_WIDTH, "box_width")(bench)


def box_diameter(bench: Bench) -> Known | None:
    """Only where it is round: sides and a diameter are never counted together."""
    found = _told(LineKey.BOX_DIAMETER, "box_diameter")(bench)
    return found if _is_round(bench) else None


def _is_round(bench: Bench) -> bool:
    told = bench.asked.text(LineKey.BOX_SHAPE)
    if told:
        return told == BOX_ROUND
    return reading("box_length")(bench) is None and reading("box_diameter")(bench) is not None


water_depth = _told(LineKey.WATER_DEPTH, "water_depth")


def standing_volume(bench: Bench) -> Known | None:
    """What a spring box or cistern holds: as known, or from its sides and the depth of water."""
    if bench.asked.source != Standing.OPEN:
        return None
    known = _told(LineKey.STORED_WATER, "stored_water")
    measured = result(PanelName.OPEN_WATER, "volume")
    if bench.asked.text(LineKey.BOX_SHAPE) == BOX_KNOWN:
        return known(bench)
    return measured(bench) or known(bench)
