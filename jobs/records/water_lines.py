"""The water before and after, as the customer reads it: figure, guideline and whose, and words."""

from __future__ import annotations

import re
from dataclasses import dataclass

from equipment.engineering.spans import ends_typed
from equipment.engineering.water.standards import (
    CHLORINE_MG_L,
    IRON_MG_L,
    MANGANESE_MG_L,
    PH_RANGE,
    SULFIDE_MG_L,
)
from equipment.quantities import MEASURED, NOT_FOUND, PlaceName, in_unit
from jobs.fieldwork.asked import Item
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.values import ReadAnswer
from jobs.wording.figures import sig, unit

TASTE = "EPA guideline for taste and stains"
#: health lines for manganese, the higher first: Minnesota Department of Health
MANGANESE_HEALTH = (
    (0.3, "the health line for everyone: ask your doctor before you drink it"),
    (0.1, "the health line for infants: no infant formula with it"),
)
HEALTH_SAID = "health: 0.1 for infants, 0.3 for others (Minnesota)"
GRAINS = "gpg"
_NUMBER = re.compile(r"\d+(?:[.,]\d+)?")
#: a test cannot find none of it
NEVER_NONE = ("ph",)


@dataclass(frozen=True)
class Limit:
    """What a figure at the kitchen tap is compared with."""

    text: str
    whose: str
    low: float | None = None
    high: float | None = None
    #: what it means above, where it can be said
    above: str = "above it"
    #: lines above it that are about health, the highest first, and what they say
    health: tuple[tuple[float, str], ...] = ()

    def is_beyond(self, value: float) -> bool:
        is_high = self.high is not None and value > self.high
        return is_high or (self.low is not None and value < self.low)


def limits(sheet: Sheet) -> dict[str, Limit]:
    """Each quantity of the table with its limit, in the order they are printed."""
    peroxide = sheet.company["peroxide_after_carbon_mg_l"]
    low, high = PH_RANGE
    return {
        "iron": Limit(f"{IRON_MG_L:g}", TASTE, high=IRON_MG_L, above="above: stains are possible"),
        "sulfide": Limit(
            f"{SULFIDE_MG_L:g}", "for smell; not from EPA", high=SULFIDE_MG_L, above="above: smell"
        ),
        "manganese": Limit(
            f"{MANGANESE_MG_L:g}",
            f"{TASTE}; {HEALTH_SAID}",
            high=MANGANESE_MG_L,
            above="above: stains are possible",
            health=MANGANESE_HEALTH,
        ),
        "ph": Limit(f"{low:g} to {high:g}", TASTE, low, high, above="outside it"),
        "hardness": Limit("none", "counted for the softener"),
        "peroxide": Limit(f"{peroxide:g}", "our own, after the carbon", high=peroxide),
        "chlorine": Limit(
            f"{CHLORINE_MG_L:g}", "EPA limit for public supplies", high=CHLORINE_MG_L
        ),
    }


def water_lines(sheet: Sheet) -> list[dict[str, object]]:
    """A row for each quantity that this record asks for at the raw tap or in the kitchen."""
    rows: list[dict[str, object]] = []
    for key, limit in limits(sheet).items():
        before, after = _asked(sheet, key, PlaceName.RAW), _asked(sheet, key, PlaceName.TAP)
        if before is None and after is None:
            continue
        kind = MEASURED[key]
        rows.append(
            {
                "name": kind.label.split(",")[0],
                "unit": units_of(key),
                "before": _cell(before, limit),
                "after": _cell(after, limit),
                "limit": limit.text,
                "whose": limit.whose,
                "says": _says(after, limit),
            }
        )
    return rows


def units_of(key: str) -> str:
    """The unit as a household reads it."""
    return "grains" if key == "hardness" else unit(MEASURED[key].unit)


def _asked(sheet: Sheet, key: str, place: str) -> Item | None:
    found = [i for i in sheet.items if i.line.quantity_key == key and i.line.place == place]
    return next((item for item in found if item.text), found[0] if found else None)


def figure(item: Item) -> str:
    """The digits as they were typed, with the sign; hardness in grains."""
    read = item.read()
    if read is None or read.value is None:
        return ""
    answer, kind = item.deciding, MEASURED[item.line.quantity_key]
    sign = f"{read.comparator} " if read.comparator in "<>" else ""
    ends = [read.value] if read.other is None else sorted((read.value, read.other))
    if kind.key == "hardness":
        figures = [sig(in_unit(kind.key, end, GRAINS), 2) for end in ends]
    elif answer and answer.dilution == 1 and (answer.unit or kind.unit) == kind.unit:
        typed = ends_typed(item.text.replace(",", "."))
        sign = "" if typed else sign
        found = [_NUMBER.match(text) for text in typed or (item.text.strip().lstrip("<> "),)]
        figures = [number[0] for number in found if number]
    else:
        figures = [f"{end:g}" for end in ends]
    return f"{sign}{' to '.join(figures)}"


def is_missed(item: Item) -> bool:
    """The test found none of it."""
    read = item.read()
    if read is None or read.value is None or item.line.quantity_key in NEVER_NONE:
        return False
    return read.comparator == NOT_FOUND


def is_above(item: Item, limit: Limit) -> bool:
    """Some of what the kit says is beyond: the worse end of a range."""
    read = item.read()
    return read is not None and not is_missed(item) and True in _beyond(read, limit)


def _is_in_doubt(item: Item, limit: Limit) -> bool:
    """A range with one end beyond and one not."""
    read = item.read()
    return read is not None and len(_beyond(read, limit)) > 1


def _beyond(read: ReadAnswer, limit: Limit) -> set[bool]:
    return {limit.is_beyond(end) for end in (read.value, read.other) if end is not None}


def _above(read: ReadAnswer, limit: Limit) -> str:
    """By the worse end of a range, as whether it is above at all."""
    worst = max(end for end in (read.value, read.other) if end is not None)
    for line, said in limit.health:
        if worst > line:
            return f"{limit.above}; above {line:g}, {said}"
    return limit.above


def _cell(item: Item | None, limit: Limit) -> dict[str, object]:
    if item is None:
        return {"text": "not asked", "quiet": True, "above": False}
    if not figure(item):
        return {"text": "not taken", "quiet": True, "above": False}
    return {"text": figure(item), "quiet": is_missed(item), "above": is_above(item, limit)}


def _says(item: Item | None, limit: Limit) -> str:
    """What the figure at the kitchen tap is beside its limit; never a verdict on the water."""
    if item is None or not figure(item):
        reason = item.deciding.skip_reason if item and item.deciding else ""
        return f"not taken: {reason}" if reason else ""
    if is_missed(item):
        return f"not found above {figure(item).split(' to ')[-1].lstrip('< ')}"
    if _is_in_doubt(item, limit):
        return "may be beyond it: read between two values"
    read = item.read()
    if read is not None and is_above(item, limit):
        return _above(read, limit)
    if limit.low is not None:
        return "inside it"
    return "not above it" if limit.high is not None else ""


def lead(sheet: Sheet) -> list[str]:
    """What the field kits said at the kitchen tap, the figures that are above first."""
    above, missed, below = [], [], []
    for key, limit in limits(sheet).items():
        item = _asked(sheet, key, PlaceName.TAP)
        if item is None or not figure(item):
            continue
        name = MEASURED[key].label.split(",")[0]
        name = name if key == "ph" else name.lower()
        if is_above(item, limit) and not _is_in_doubt(item, limit):
            above.append(f"{name} {figure(item)} {units_of(key)}".strip())
        elif is_missed(item):
            missed.append(name)
        else:
            below.append(name)
    said = []
    if above:
        said.append(f"Beyond its guideline: {', '.join(above)}.")
    if missed:
        said.append(f"Not found: {', '.join(missed)}.")
    if below:
        said.append(f"Measured, figures below: {', '.join(below)}.")
    return said
