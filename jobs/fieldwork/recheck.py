"""The second visit beside the first: today against the start-up, use against expectation."""

from __future__ import annotations

from dataclasses import dataclass, replace

from equipment.engineering.spans import span_words
from equipment.quantities import MEASURED

from .asked import Asked, Item
from .facts import Before
from .glass import Glass
from .keys import LineKey

#: use off by more than this share of what was expected is said
USE_DIFFERS = 0.25
SECONDS_PER_DAY = 86400


@dataclass(frozen=True)
class Compared:
    """One reading, then and now."""

    label: str
    unit: str
    before: str
    before_on: str
    today: str


def compare(asked: Asked, block: str) -> list[Compared]:
    """The figures of one page beside those of the start-up."""
    if asked.facts.earlier is None:
        return []
    rows = {(r.quantity, r.place, r.stage, r.tank): r for r in asked.facts.earlier.figures}
    found = []
    for item in asked.items:
        line = item.line
        if line.block != block or not line.quantity_key:
            continue
        place, _ = asked.tap(line)
        part = (item.stage.pk, item.stage.tank) if item.stage else (None, 0)
        row = rows.get((line.quantity_key, place, *part))
        if row is not None:
            found.append(_compared(item, row))
    return found


def _compared(item: Item, row: Before) -> Compared:
    read = item.read()
    return Compared(
        label=item.label,
        unit=MEASURED[item.line.quantity_key].unit,
        before=row.figure,
        before_on=row.on,
        today=figure(read.comparator, read.value, read.other) if read else "",
    )


def figure(comparator: str, value: float | None, other: float | None = None) -> str:
    """In the canonical unit, so that both columns can be compared."""
    if value is None:
        return ""
    if other is not None:
        return span_words(*sorted((value, other)))
    return f"{value:g}" if comparator == "=" else f"{comparator} {value:g}"


def consumption(asked: Asked) -> Glass | None:
    """The glass of solution used since the last fill, against what was worked out."""
    level = asked.item(LineKey.LEVEL_FOUND)
    if asked.feeder is None or level is None:
        return None
    glass = Glass("Solution used since the last fill", "consumption")
    earlier = asked.facts.earlier
    if earlier is None or earlier.last_fill is None:
        return replace(glass, waiting="needs a fill with its level on file")
    if level.value is None or level.deciding is None:
        return replace(glass, waiting="needs: solution in the tank, found")
    fill = earlier.last_fill
    days = (level.deciding.read_at - fill.at).total_seconds() / SECONDS_PER_DAY
    used = fill.level_gal - level.value
    rows: list[tuple[str, str, str]] = [("Days since then", f"{days:.1f}", "day")]
    if earlier.solution_per_day_gal is not None and days > 0:
        expected = earlier.solution_per_day_gal * days
        rows.append(("Worked out for that time", f"{expected:.2f}", "gal"))
    return replace(
        glass,
        answer=f"{used:.2f}",
        unit="gal",
        alt=f"{fill.level_gal:g} gal on {fill.on}, {level.value:g} gal today",
        rows=rows,
        warnings=_remarks(used, earlier.solution_per_day_gal, days),
    )


def _remarks(used: float, per_day: float | None, days: float) -> list[str]:
    said = []
    if used < 0:
        said.append("There is more than after the last fill: somebody filled it.")
    if per_day and days > 0 and abs(used / (per_day * days) - 1) > USE_DIFFERS:
        said.append(
            "Off by more than a quarter: look at the prime, the tube, the strength, the "
            "counted days and the water used."
        )
    return said
