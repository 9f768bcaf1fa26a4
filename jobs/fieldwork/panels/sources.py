"""Where figures come from: an answer, the files, the catalog, the company, another panel."""

from __future__ import annotations

from collections.abc import Callable

from equipment.quantities import MEASURED, Known, SettingName, counted, counted_words
from jobs.fieldwork.asked import Item
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.keys import LineKey, PanelName

from .kinds import Bench, Source


def line(key: LineKey, unit: str = "") -> Source:
    """The draft answer of a line; of this part if the line is asked of each."""

    def find(bench: Bench) -> Known | None:
        item = bench.asked.item(key, bench.stage) or _of_house(bench, key)
        read = item.read() if item else None
        if item is None or read is None:
            return None
        if read.value is None:
            return Known(read.text, "answered here")
        kind = MEASURED.get(item.line.quantity_key)
        what = item.line.quantity_key
        value = counted(what, read.value, read.comparator)
        said = counted_words(what, read.comparator, read.other, item.shown)
        origin = f"answered here, {said}" if said else "answered here"
        return Known.of(value, unit or (kind.unit if kind else ""), origin)

    return find


def _of_house(bench: Bench, key: LineKey) -> Item | None:
    """A line that is asked once; what was answered of another part is not this part's."""
    item = bench.asked.item(key)
    return item if item and item.stage is None else None


def reading(quantity: str, place: str = "") -> Source:
    """The newest reading on file."""
    return lambda bench: bench.asked.on_file.reading(quantity, place)


def catalog(pick: Callable[[Stage], float | str | None], unit: str = "", kind: str = "") -> Source:
    """From the description of the fitted part: the panel's own, or the first of a kind."""

    def find(bench: Bench) -> Known | None:
        stage = bench.part(kind)
        value = pick(stage) if stage else None
        if value is None or value == "":
            return None
        if isinstance(value, str):
            return Known(value, "from the catalog")
        return Known.of(value, unit, "from the catalog")

    return find


def setting(name: SettingName, kind: str = "") -> Source:
    def find(bench: Bench) -> Known | None:
        stage = bench.part(kind)
        return bench.asked.on_file.setting(stage, name)

    return find


def company(name: str, unit: str) -> Source:
    def find(bench: Bench) -> Known | None:
        return Known.of(bench.asked.company[name], unit, "company value")

    return find


def result(name: PanelName, key: str) -> Source:
    """The answer of another panel of the same record."""
    return lambda bench: bench.others.result(name, key, bench.stage)


def fixed(text: str, origin: str = "usual") -> Source:
    return lambda bench: Known(text, origin)
