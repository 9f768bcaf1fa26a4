"""Lines that one press answers, each of them still there to be read and answered by itself.

What is usual is said of several at once by whoever has looked at each. No stop that is read by
name and no tick of isolation is among them.
"""

from __future__ import annotations

from collections.abc import Iterator

from equipment.engineering.names import PartKind

from .asked import Item
from .glass import Offer, Put
from .keys import LineKey
from .sheet import Sheet

#: how a tank is filled, in this order
FILLING = (LineKey.TANK_CRACKED, LineKey.TANK_AIR, LineKey.TANK_STEADY, LineKey.TANK_OPEN)
SEEN = "yes"
#: chlorine is kept from media
BYPASSED = "bypassed"
#: how parts usually stand while chlorine is in; common practice, no source
USUALLY: dict[str, str] = {
    PartKind.RETENTION: "in_line",
    PartKind.FEEDER: "off",
    PartKind.FILTER: BYPASSED,
    PartKind.SOFTENER: BYPASSED,
    PartKind.NEUTRALIZER: BYPASSED,
}
#: how the dosing pump and tanks are disinfected, as it is printed; of tanks the first is usual
RINSED = "tube and injection point rinsed with the chlorinated water"
SANITISED = ("filled through its bypass for the same time", "as its maker's sheet says")
#: one alone is answered at its line
SEVERAL = 2


def of_filling(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """All steps of one tank, where none of them was answered yet."""
    steps = [each for key in FILLING if (each := sheet.item(key, item.stage))]
    if len(steps) < len(FILLING) or any(step.text for step in steps):
        return
    said = f"All {len(steps)} seen at {item.stage}, in this order"
    source = "opened a tenth, air out, steady flow, then opened fully; look at each"
    yield Offer(said, source, tuple((step.box(), SEEN, "") for step in steps))


def _asked_from(sheet: Sheet, item: Item) -> list[Item]:
    """Every part that is asked the same, at the first of them and while none is answered."""
    parts = [each for each in sheet.items if each.line.key == item.line.key]
    if parts[0].key != item.key or any(each.text for each in parts):
        return []
    return parts


def of_bypasses(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Every part as it usually stands while chlorine is in, at the first of them."""
    parts = _asked_from(sheet, item)
    words = dict(item.line.choices)
    stands = [(each, stand) for each in parts if (stand := _stand(each)) in words]
    if len(stands) < SEVERAL:
        return
    puts: list[Put] = [(each.box(), stand, "") for each, stand in stands]
    source = ", ".join(f"{each.stage} {words[stand]}" for each, stand in stands)
    yield Offer(f"All {len(puts)} stand so", f"as is usual: {source}", tuple(puts))


def of_sanitising(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Every part as it is usually disinfected, at the first of them."""
    parts = _asked_from(sheet, item)
    if len(parts) < SEVERAL:
        return
    said = [(each, RINSED if is_pump(each) else SANITISED[0]) for each in parts]
    source = "; ".join(f"{each.stage}: {words}" for each, words in said)
    puts = tuple((each.box(), words, "") for each, words in said)
    yield Offer(f"all {len(puts)} as is usual", source, puts)


def is_pump(item: Item) -> bool:
    return item.stage is not None and item.stage.kind == PartKind.FEEDER


def _stand(item: Item) -> str:
    return USUALLY.get(item.stage.kind, "") if item.stage else ""
