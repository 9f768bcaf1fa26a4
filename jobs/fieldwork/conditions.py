"""Which lines apply to this system: the few words a condition may say."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Protocol

from .facts import Line, Rule, Stage


class Answered(Protocol):
    """What a condition may ask about."""

    @property
    def oxidant(self) -> str: ...

    @property
    def source(self) -> str: ...

    def has(self, what: str) -> bool: ...

    def is_in_raw_water(self, quantity: str) -> bool: ...

    def texts(self, key: str) -> list[str]: ...

    def text(self, key: str, stage: Stage | None = None) -> str: ...

    def value(self, key: str, stage: Stage | None = None) -> float | None: ...

    def newest(self, quantity: str) -> float | None: ...


def applies(known: Answered, line: Line, stage: Stage | None) -> bool:
    return _holds(known, stage, line.condition)


def _holds(known: Answered, stage: Stage | None, condition: Rule) -> bool:
    """One condition: the keys of CONDITIONS, all of them."""
    return all(
        CONDITIONS[word](known, stage, condition) for word in condition if word in CONDITIONS
    )


def _other_line(known: Answered, stage: Stage | None, condition: Rule) -> bool:
    return any(text in condition["one_of"] for text in known.texts(condition["line"]))


def _same_part(known: Answered, stage: Stage | None, condition: Rule) -> bool:
    return known.text(condition["answer"], stage) in condition["one_of"]


def _above(known: Answered, stage: Stage | None, condition: Rule) -> bool:
    """This part's answer lies above a figure of the house, answered here or on file."""
    ours, limit = known.value(condition["above"], stage), known.newest(condition["figure"])
    return ours is not None and limit is not None and ours > limit


CONDITIONS: dict[str, Callable[[Any, Stage | None, Rule], bool]] = {
    "has": lambda known, stage, c: known.has(c["has"]),
    "lacks": lambda known, stage, c: not known.has(c["lacks"]),
    "oxidant": lambda known, stage, c: known.oxidant == c["oxidant"],
    "found": lambda known, stage, c: known.is_in_raw_water(c["found"]),
    "source": lambda known, stage, c: known.source == c["source"],
    "line": _other_line,
    "answer": _same_part,
    "above": _above,
    "all": lambda known, stage, c: all(_holds(known, stage, part) for part in c["all"]),
}
