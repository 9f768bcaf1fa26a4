"""What a panel is: a calculation, the figures it rests on, and where it is shown.

A panel never stores. What is stored at closing is the same panel, fed by answers alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Protocol

from equipment.engineering.results import Answer as Computed
from equipment.engineering.results import Json
from equipment.quantities import Known
from jobs.fieldwork.asked import Asked
from jobs.fieldwork.facts import Stage
from jobs.fieldwork.keys import BlockKey, LineKey, PanelName

#: where a figure comes from, None where it is not known there
Source = Callable[["Bench"], Known | None]
#: a value, an interval or a list of them, as the registry's JSON says it
Result = Json


@dataclass(frozen=True)
class Input:
    """One key of the calculation: its label on the page and where its figure comes from."""

    key: str
    label: str
    sources: tuple[Source, ...] = ()
    typed: bool = True
    optional: bool = False
    #: asked where the water stands so: in a bore, in an open box; "" everywhere
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One calculation on the pages of a record."""

    name: PanelName
    title: str
    blocks: tuple[BlockKey, ...]
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
    #: shown where the water stands so: in a bore, in an open box; "" everywhere
    source: str = ""
    #: shown where one of these is fed, everywhere where none is named
    oxidants: tuple[str, ...] = ()
    #: pages on which it waits folded away among further figures
    folded_on: tuple[BlockKey, ...] = ()
    #: the line under whose box the short answer is said again on a phone
    echo: LineKey | None = None
    #: lines whose figure its answer is: offered there by one press
    gives: tuple[LineKey, ...] = ()
    #: its figures are stored when the record closes
    is_kept: bool = True
    #: they stand on the printed record as well
    is_printed: bool = True

    def fits(self, asked: Asked) -> bool:
        """Whether it says anything about this system and its source."""
        if self.has and not asked.has(self.has):
            return False
        if self.oxidants and asked.oxidant not in self.oxidants:
            return False
        return self.source in ("", asked.source)

    def inputs_of(self, asked: Asked) -> tuple[Input, ...]:
        """The figures it rests on at this house."""
        return tuple(entry for entry in self.inputs if entry.source in ("", asked.source))

    def label_of(self, key: str) -> str:
        labels = {entry.key: entry.label for entry in self.inputs}
        return labels.get(key) or key.replace("_", " ")


class Others(Protocol):
    """Answers of the other panels of the same record."""

    def result(self, name: str, key: str, stage: Stage | None) -> Known | None: ...


@dataclass(frozen=True)
class Bench:
    """Where one panel is fed: the answers, the part it is about, and what is typed in it."""

    asked: Asked
    others: Others
    stage: Stage | None = None
    typed: Mapping[str, str] = field(default_factory=dict)

    def part(self, kind: str) -> Stage | None:
        """The first part of a kind; the panel's own where no kind is named."""
        return self.asked.stage(kind) if kind else self.stage


@dataclass(frozen=True)
class Outcome:
    """What a panel shows: figures it rests on, the answer or what is missing."""

    panel: Panel
    stage: Stage | None
    known: Mapping[str, Known]
    inputs: tuple[Input, ...]
    json: Json | None = None
    computed: Computed | None = None
    refused_key: str = ""
    refusal: str = ""
    is_missing: bool = False

    def result(self, key: str) -> Result | None:
        found: Result | None = (self.json or {}).get("results", {}).get(key)
        return found

    def value(self, key: str) -> float | None:
        found = self.result(key)
        return found.get("value") if isinstance(found, dict) else None
