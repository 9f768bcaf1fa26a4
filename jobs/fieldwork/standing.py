"""What stands already and is no reading: on the plan, on file, or worked out from this record.

It is offered at its line like any figure that the record holds, with its source, and one press
takes all of a page as it stands. What an eye or a kit must read today is never among it.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from equipment.quantities import MEASURED, SettingName
from jobs.wording.figures import unit

from .asked import Item
from .glass import Offer, Put
from .keys import LineKey, PanelName
from .sheet import Block, Sheet

Finder = Callable[[Sheet, Item], Iterator[Offer]]


@dataclass(frozen=True)
class Standing:
    """All of a page that one press takes: lines with their figures, and what goes into boxes."""

    rows: tuple[tuple[Item, Offer], ...]

    @property
    def whole(self) -> Offer:
        puts: list[Put] = [put for _, offer in self.rows for put in offer.puts]
        return Offer(f"all {len(puts)} as they stand", "", tuple(puts))


#: one alone is taken at its line
SEVERAL = 2
#: another product in the container would be fed too strong: its label is read, not passed by
ONE_BY_ONE = (LineKey.LABEL_STRENGTH,)


def standing_on(page: Block, offered: Sequence[tuple[Item, tuple[Offer, ...]]]) -> Standing | None:
    """The first offer of each line of the page whose figure stands; None where one alone does."""
    here = {item.key for item in page.items if item.line.key not in ONE_BY_ONE}
    found = [
        (item, offers[0])
        for item, offers in offered
        if offers and item.key in here and item.line.key in STANDS
    ]
    return Standing(tuple(found)) if len(found) >= SEVERAL else None


# --- where it stands -----------------------------------------------------------------------------


def _label(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """The product that the plan feeds; whoever takes it has compared it with the container.

    Who feeds it as it comes says that by the same press.
    """
    product = item.stage.product if item.stage else None
    if product is None:
        return
    source = f"on the plan: {product.name}; take it if the container says the same"
    label = _offer(item, product.label_strength_percent, source)
    yield label
    mixed = sheet.item(LineKey.SOLUTION_STRENGTH, item.stage)
    for known in _strength(sheet, mixed) if mixed and not mixed.text else ():
        said = f"{label.said}, fed undiluted: {known.said}"
        yield Offer(said, "where nothing is mixed in", (*label.puts, *known.puts), label.side)


def _strength(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """Fed as it comes from the container, where nobody has typed how it was mixed."""
    known = sheet.outcomes.result(PanelName.SOLUTION_STRENGTH, "strength", None)
    if known and known.value is not None and known.unit == "g/L":
        yield _offer(item, float(f"{known.value:.3g}"), "worked out below, undiluted")


def _of_part(sheet: Sheet, item: Item) -> Iterator[Offer]:
    """How the controller ran when it was last looked at."""
    known = sheet.on_file.of_part(item.line.quantity_key, item.stage)
    if known and known.value is not None:
        yield _offer(item, known.value, known.origin)


def _of_house(sheet: Sheet, item: Item) -> Iterator[Offer]:
    known = sheet.on_file.reading(item.line.quantity_key)
    if known and known.value is not None:
        yield _offer(item, known.value, known.origin)


def _left(name: SettingName) -> Finder:
    """As it was left here before."""

    def find(sheet: Sheet, item: Item) -> Iterator[Offer]:
        known = sheet.on_file.setting(item.stage, name) if sheet.is_startup else None
        if known and known.value is not None:
            yield _offer(item, known.value, known.origin)

    return find


def _worked_out(
    results: Sequence[tuple[PanelName, str]], whole: Callable[[float], float]
) -> Finder:
    """A controller takes whole days and grains: days are rounded down, hardness up."""

    def find(sheet: Sheet, item: Item) -> Iterator[Offer]:
        for panel, key in results if sheet.is_startup else ():
            if item.stage and item.stage.kind in sheet.outcomes.panels[panel].each:
                known = sheet.outcomes.result(panel, key, item.stage)
                if known and known.value is not None:
                    yield _offer(item, whole(known.value), "worked out below")

    return find


def _offer(item: Item, value: float, source: str) -> Offer:
    measured = MEASURED.get(item.line.quantity_key)
    name = measured.unit if measured else ""
    text, side = f"{value:.4g}", item.sides[-1]
    put = (item.box(side), text, name)
    return Offer(f"{text} {unit(name)}".strip(), source, (put,), side)


#: which lines hold what stands, and where it is looked for
STANDS: dict[LineKey, Finder] = {
    LineKey.LABEL_STRENGTH: _label,
    LineKey.SOLUTION_STRENGTH: _strength,
    LineKey.HEATER_VOLUME: _of_house,
    LineKey.WASH_MINUTES: _of_part,
    LineKey.RINSE_MINUTES: _of_part,
    LineKey.WASH_INTERVAL: _worked_out(
        ((PanelName.FILTER_INTERVAL, "days"), (PanelName.SOFTENER, "days")), math.floor
    ),
    LineKey.WASH_HOUR: _left(SettingName.WASH_HOUR),
    LineKey.HARDNESS_SET: _worked_out(((PanelName.SOFTENER, "compensated_hardness"),), math.ceil),
    LineKey.SALT_SET: _worked_out(
        ((PanelName.SOFTENER, "salt_per_regeneration"),), lambda value: round(value, 1)
    ),
}
