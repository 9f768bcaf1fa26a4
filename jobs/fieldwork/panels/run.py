"""Live panels: a calculation fed by what is typed, what is answered and what is on file.

A panel never stores. What is stored at closing is the same panel, fed by answers alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from equipment.engineering.errors import EngineeringError, MissingInput
from equipment.engineering.registry import calculation, compute
from equipment.engineering.results import Answer as Computed
from equipment.engineering.units import split_typed
from equipment.models import Stage
from equipment.on_file import Known, OnFile
from equipment.quantities import MEASURED

if TYPE_CHECKING:
    from jobs.fieldwork.sheet import Item, Sheet

Source = Callable[["Bench"], Known | None]


@dataclass(frozen=True)
class Input:
    """One key of the calculation: its label on the page and where its figure comes from."""

    key: str
    label: str
    sources: tuple[Source, ...] = ()
    typed: bool = True
    optional: bool = False


@dataclass(frozen=True, kw_only=True)
class Panel:
    name: str
    title: str
    blocks: tuple[str, ...]
    answer: str
    inputs: tuple[Input, ...]
    #: result keys under the answer: key, label
    rows: tuple[tuple[str, str], ...] = ()
    alt: str = ""
    #: second results that stand in for the answer, e.g. mass where a volume does not apply
    or_else: tuple[str, ...] = ()
    #: computed once for each part of these kinds
    each: tuple[str, ...] = ()
    has: str = ""
    stored: bool = True
    #: pages on which it waits folded away among further figures
    folded_on: tuple[str, ...] = ()


@dataclass
class Bench:
    """Where one panel is fed: the sheet, the part it is about, and what is typed in it."""

    sheet: Sheet
    stage: Stage | None = None
    typed: Mapping[str, str] = field(default_factory=dict)

    @property
    def on_file(self) -> OnFile:
        return on_file(self.sheet)


@dataclass
class Outcome:
    """What a panel shows: figures it rests on, the answer or what is missing."""

    panel: Panel
    stage: Stage | None
    known: dict[str, Known]
    json: dict[str, Any] | None = None
    computed: Computed | None = None
    refused_key: str = ""
    refusal: str = ""
    is_missing: bool = False

    def result(self, key: str) -> Any:
        return (self.json or {}).get("results", {}).get(key)

    def value(self, key: str) -> float | None:
        found = self.result(key)
        return found.get("value") if isinstance(found, dict) else None


def on_file(sheet: Sheet) -> OnFile:
    """Read once for each sheet."""
    found: OnFile | None = getattr(sheet, "_on_file", None)
    if found is None:
        train = sheet.record.train
        wells = list(train.wells.all()) if train else []
        wells = wells or list(sheet.record.site.wells.all())
        found = OnFile(
            site=sheet.record.site,
            wells=wells,
            stages=sheet.stages,
            before=sheet.record.closed_at or sheet.now,
        )
        sheet._on_file = found  # type: ignore[attr-defined]
    return found


def run(
    sheet: Sheet, panel: Panel, stage: Stage | None = None, typed: Mapping[str, str] | None = None
) -> Outcome:
    """Compute a panel. Nothing is raised: what is missing or refused is said in the outcome."""
    cache: dict[tuple[str, int | None], Outcome] = sheet.__dict__.setdefault("_panels", {})
    place = (panel.name, stage.pk if stage else None)
    given = {key: text for key, text in (typed or {}).items() if text.strip()}
    if not given and place in cache:
        return cache[place]
    outcome = _run(Bench(sheet, stage, given), panel)
    if not given:
        cache[place] = outcome
    return outcome


def _run(bench: Bench, panel: Panel) -> Outcome:
    known: dict[str, Known] = {}
    for entry in panel.inputs:
        found = _known(bench, panel, entry)
        if found:
            known[entry.key] = found
    outcome = Outcome(panel, bench.stage, known)
    missing = next((e for e in panel.inputs if not e.optional and e.key not in known), None)
    if missing:
        outcome.refused_key, outcome.is_missing = missing.key, True
        outcome.refusal = f"needs: {missing.label.lower()}"
        return outcome
    try:
        texts: dict[str, str | list[str]] = {key: item.text for key, item in known.items()}
        outcome.json, outcome.computed = compute(panel.name, **texts)
    except MissingInput as refusal:
        outcome.refused_key, outcome.is_missing = refusal.key, True
        outcome.refusal = f"needs: {_label(panel, refusal.key).lower()}"
    except EngineeringError as refusal:
        outcome.refused_key = refusal.key
        outcome.refusal = f"{_label(panel, refusal.key)}: {refusal.message}."
    return outcome


def _label(panel: Panel, key: str) -> str:
    return next((entry.label for entry in panel.inputs if entry.key == key), key.replace("_", " "))


def _known(bench: Bench, panel: Panel, entry: Input) -> Known | None:
    text = bench.typed.get(entry.key, "").strip()
    if text:
        return Known(_with_unit(panel, entry.key, text), "typed here")
    for source in entry.sources:
        found = source(bench)
        if found:
            return found
    return None


def _with_unit(panel: Panel, key: str, text: str) -> str:
    """A bare number gets the unit that stands beside the box."""
    spec = calculation(panel.name).key(key)
    if spec.kind == "size" and text[-1:].isdigit():
        return f"{text} in"
    if spec.kind != "quantity" or text in spec.words:
        return text
    text = text.replace(",", ".")
    try:
        _, unit = split_typed(key, text)
    except EngineeringError:
        return text
    return text if unit else f"{text} {spec.unit}"


# --- where figures come from ------------------------------------------------------------------


def line(key: str, unit: str = "") -> Source:
    """The draft answer of a line; of this part if the line is asked of each."""

    def find(bench: Bench) -> Known | None:
        item = bench.sheet.item(key, bench.stage) or bench.sheet.item(key)
        read = item.read() if item else None
        if item is None or read is None:
            return None
        if read.value is None:
            return Known(read.text, "answered here")
        kind = MEASURED.get(item.line.quantity_key)
        return Known.of(read.value, unit or (kind.unit if kind else ""), "answered here")

    return find


def reading(quantity: str, place: str = "", *, own: bool = False) -> Source:
    """The newest reading on file; `own`: of the part the panel is about."""

    def find(bench: Bench) -> Known | None:
        return bench.on_file.reading(quantity, place, bench.stage if own else None)

    return find


def catalog(pick: Callable[[Stage], float | str | None], unit: str = "", kind: str = "") -> Source:
    """From the description of the fitted part: the panel's own, or the first of a kind."""

    def find(bench: Bench) -> Known | None:
        stage = bench.sheet.stage(kind) if kind else bench.stage
        value = pick(stage) if stage else None
        if value is None or value == "":
            return None
        if isinstance(value, str):
            return Known(value, "from the catalog")
        return Known.of(value, unit, "from the catalog")

    return find


def setting(name: str, unit: str, kind: str = "") -> Source:
    def find(bench: Bench) -> Known | None:
        stage = bench.sheet.stage(kind) if kind else bench.stage
        return bench.on_file.setting(stage, name, unit)

    return find


def company(name: str, unit: str) -> Source:
    def find(bench: Bench) -> Known | None:
        return Known.of(float(getattr(bench.sheet.company, name)), unit, "company value")

    return find


def result(name: str, key: str) -> Source:
    """The answer of another panel of the same record."""

    def find(bench: Bench) -> Known | None:
        other = by_name(name)
        stage = bench.stage if bench.stage and bench.stage.kind in other.each else None
        outcome = run(bench.sheet, other, stage)
        found = outcome.result(key)
        if not isinstance(found, dict) or not isinstance(found.get("value"), int | float):
            return None
        return Known.of(float(found["value"]), found["unit"], "worked out on this record")

    return find


def fixed(text: str, origin: str = "usual") -> Source:
    return lambda bench: Known(text, origin)


def made(pick: Callable[[Bench], Known | None]) -> Source:
    return pick


# --- asking -------------------------------------------------------------------------------------


def by_name(name: str) -> Panel:
    from .table import PANELS

    return PANELS[name]


def panels_of(sheet: Sheet, block: str) -> list[tuple[Panel, Stage | None]]:
    """The panels of one page, for each part where they are asked for each."""
    from .table import PANELS

    found: list[tuple[Panel, Stage | None]] = []
    for panel in PANELS.values():
        if block not in panel.blocks or (panel.has and not sheet.has(panel.has)):
            continue
        if panel.each:
            found += [(panel, stage) for stage in sheet.stages if stage.kind in panel.each]
        else:
            found.append((panel, None))
    return found


def expected(sheet: Sheet, name: str, item: Item | None = None) -> float | None:
    """A result that an answer is compared with, such as "backwash.required_flow_low"."""
    panel_name, _, key = name.partition(".")
    panel = by_name(panel_name)
    stage = item.stage if item and item.stage and item.stage.kind in panel.each else None
    return run(sheet, panel, stage).value(key)
