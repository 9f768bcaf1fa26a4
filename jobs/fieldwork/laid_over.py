"""What stands in the boxes of a page and has not reached the office, laid over the facts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from jobs.errors import BadEntry

from .facts import Answer, Facts, Line
from .keys import ASKED_EACH_VISIT
from .kinds import KEPT_BY_PAGE
from .values import read_answer, strength_remark

Place = tuple[str, int | None, int, str]


@dataclass(frozen=True, kw_only=True)
class Typed:
    """One box as it was left or is being typed in."""

    line: str
    text: str
    at: datetime
    stage: int | None = None
    #: which of its tanks side by side, 0: the part as a whole
    tank: int = 0
    side: str = ""
    unit: str = ""
    dilution: float = 1.0
    confirmed: bool = False

    @classmethod
    def of_act(cls, act: Mapping[str, Any], at: datetime) -> Typed:
        """From an act of the kind "answer"; what it says besides is for the office."""
        said = act["payload"]
        return cls(
            line=said["line"],
            text=said["text"].strip(),
            at=at,
            stage=said.get("stage"),
            tank=said.get("tank") or 0,
            side=said.get("side", ""),
            unit=said.get("unit", ""),
            dilution=float(said.get("dilution", 1)),
            confirmed=bool(said.get("confirmed")),
        )


@dataclass(frozen=True)
class Person:
    """Who types."""

    name: str
    pk: int


def laid_over(facts: Facts, typed: Iterable[Typed], *, by: Person) -> Facts:
    """The facts as they will be once the office has them; what it would refuse changes nothing."""
    lines = {line.key: line for line in facts.lines if line.kind not in KEPT_BY_PAGE}
    answers: dict[Place, Answer] = {(a.line_key, a.stage, a.tank, a.side): a for a in facts.answers}
    for box in typed:
        line, place = lines.get(box.line), (box.line, box.stage, box.tank, box.side)
        if line is None or bool(box.side) != line.is_pair:
            continue
        kept = answers.get(place)
        if answer := _answer(facts, line, box, kept, by):
            answers[place] = answer
    return replace(facts, answers=tuple(answers.values()))


def _answer(facts: Facts, line: Line, box: Typed, kept: Answer | None, by: Person) -> Answer | None:
    """The answer that a box makes, None where nothing was changed or it cannot be read."""
    if kept and _is_of_an_earlier_visit(facts, line, kept):
        kept = None
    if kept and line.quantity_key and kept.text.replace(" ", "") == box.text.replace(" ", ""):
        box = replace(box, text=kept.text)
    same = kept is not None and (kept.text, kept.unit, kept.dilution) == (
        box.text,
        box.unit,
        box.dilution,
    )
    if (kept is None and not box.text) or (same and not box.confirmed):
        return None
    try:
        warning = _warning(facts, line, box)
    except BadEntry:
        return None
    if same and kept:
        return replace(kept, is_confirmed=kept.is_confirmed or bool(warning))
    return Answer(
        line_key=line.key,
        text=box.text,
        read_at=box.at,
        by=by.name,
        by_id=by.pk,
        stage=box.stage,
        tank=box.tank,
        side=box.side,
        unit=box.unit,
        dilution=box.dilution,
        version=kept.version + 1 if kept else 1,
        warning=warning,
        is_confirmed=box.confirmed and bool(warning),
        skip_reason=kept.skip_reason if kept and not box.text else "",
    )


def _is_of_an_earlier_visit(facts: Facts, line: Line, kept: Answer) -> bool:
    began = facts.record.visit_began_at
    return line.key in ASKED_EACH_VISIT and began is not None and kept.read_at < began


def _warning(facts: Facts, line: Line, box: Typed) -> str:
    read = read_answer(line, box.text, box.unit, box.dilution)
    stage = next((stage for stage in facts.stages if stage.pk == box.stage), None)
    product = stage.product if stage else None
    return strength_remark(line, read, product, facts.company) or read.warning
