"""Panels as the measuring glasses of a page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace

from equipment.engineering.registry import calculation
from equipment.engineering.unit_systems import unit_for
from equipment.engineering.units import quantity, size_in
from equipment.quantities import MEASURED, Known
from jobs.wording.figures import THIN, sig, unit

from .asked import Asked
from .facts import Stage
from .glass import Glass, Offer
from .offers import are_figures_offered
from .panels.kinds import Input, Outcome, Panel, Result
from .panels.run import Outcomes
from .subjects import is_of


@dataclass
class PanelField:
    """A figure the panel rests on, which may be typed over for a look."""

    key: str
    label: str
    text: str
    unit: str
    origin: str
    typed: str
    choices: tuple[str, ...] = ()
    error: str = ""
    #: nothing on file and nothing answered: the box stands open on the page
    is_needed: bool = False
    may_type: bool = True


@dataclass
class Shown:
    """One panel on a page."""

    panel: Panel
    stage: Stage | None
    glass: Glass
    fields: list[PanelField]
    echo_at: str
    cautions: list[str]

    @property
    def dom_id(self) -> str:
        return self.glass.id

    def is_folded(self, block: str) -> bool:
        return block in self.panel.folded_on

    @property
    def needed(self) -> list[PanelField]:
        return [entry for entry in self.fields if entry.is_needed or entry.error]

    @property
    def others(self) -> list[PanelField]:
        return [entry for entry in self.fields if not (entry.is_needed or entry.error)]


def panel_id(panel: Panel, stage: Stage | None) -> str:
    return f"{panel.name}-{stage.pk}" if stage else panel.name


def shown_on(
    outcomes: Outcomes,
    block: str,
    typed: Mapping[str, str] | None = None,
    *,
    system: str,
    writes: bool = True,
) -> list[Shown]:
    """All panels of a page in the person's units; typed boxes are named "panel~key"."""
    return [
        show(outcomes, panel, stage, typed, block=block, system=system, writes=writes)
        for panel, stage in outcomes.on_page(block)
    ]


def cautions_of(shown: list[Shown]) -> list[str]:
    """What goes with the figures of a page, each sentence once."""
    return list(dict.fromkeys(line for entry in shown for line in entry.cautions))


def warned_of(shown: list[Shown]) -> list[str]:
    """What the glasses of a page warn of, each sentence once."""
    return list(dict.fromkeys(line for entry in shown for line in entry.glass.warnings))


def show(
    outcomes: Outcomes,
    panel: Panel,
    stage: Stage | None,
    typed: Mapping[str, str] | None = None,
    *,
    block: str,
    system: str,
    writes: bool = True,
) -> Shown:
    """One panel on that page; its echo stands only where its line is on the same page."""
    name = panel_id(panel, stage)
    given = {e.key: (typed or {}).get(f"{name}~{e.key}", "") for e in panel.inputs if e.typed}
    outcome = outcomes.typed(panel.name, stage, given)
    glass = glass_of(outcome, system)
    if are_figures_offered(outcomes.asked.record, writes=writes):
        glass = replace(glass, takes=_takes(outcomes.asked, outcome, glass, block))
    return Shown(
        panel=panel,
        stage=stage,
        glass=glass,
        fields=[_field(outcome, entry, given.get(entry.key, "")) for entry in outcome.inputs],
        echo_at=_echo_at(outcomes, panel, stage, block),
        cautions=outcome.json["cautions"] if outcome.json else [],
    )


def _echo_at(outcomes: Outcomes, panel: Panel, stage: Stage | None, block: str) -> str:
    """The first box of its line on that page, of this part where it is about one."""
    for item in outcomes.asked.items:
        fits = stage is None or item.stage is None or is_of(item.stage, stage)
        if item.line.key == panel.echo and item.line.block == block and fits:
            return item.key
    return ""


def _takes(asked: Asked, outcome: Outcome, glass: Glass, block: str) -> tuple[Offer, ...]:
    """The lines of that page that ask for the figure in the glass."""
    if not glass.answer or glass.waiting:
        return ()
    text, said = glass.answer.replace(THIN, ""), f"{glass.answer} {unit(glass.unit)}"
    return tuple(
        Offer(said, item.label, ((item.box(item.sides[-1]), text, glass.unit),))
        for item in asked.items
        if item.line.block == block and item.line.key in outcome.panel.gives
        if glass.unit in MEASURED[item.line.quantity_key].units
    )


def _field(outcome: Outcome, entry: Input, typed: str) -> PanelField:
    spec = calculation(outcome.panel.name).key(entry.key)
    known = outcome.known.get(entry.key)
    at_fault = outcome.refused_key == entry.key and not outcome.is_missing
    return PanelField(
        key=entry.key,
        label=entry.label,
        text=_text(known, spec.unit) if known and not typed else "",
        unit="in" if spec.kind == "size" else spec.unit,
        origin=known.origin if known and not typed else "",
        typed=typed,
        choices=spec.choices if entry.typed else (),
        may_type=entry.typed,
        error=outcome.refusal if at_fault else "",
        is_needed=entry.typed and not entry.optional and (known is None or bool(typed)),
    )


def _text(known: Known, unit_name: str) -> str:
    if known.value is None:
        return str(known.text)
    return f"{sig(known.value)} {unit(known.unit)}".strip()


def glass_of(outcome: Outcome, system: str) -> Glass:
    panel, title = outcome.panel, outcome.panel.title
    if outcome.stage and len(panel.each) > 0:
        title = f"{title}: {outcome.stage}"
    name = panel_id(panel, outcome.stage)
    if outcome.json is None or outcome.computed is None:
        required = [entry for entry in outcome.inputs if not entry.optional]
        have = sum(1 for entry in required if entry.key in outcome.known)
        said = f"{have} of {len(required)} figures are here." if have else ""
        return Glass(title, name, waiting=outcome.refusal, have=said)
    key = next(
        (k for k in (panel.answer, *panel.or_else) if outcome.result(k) is not None), panel.answer
    )
    answer, unit_name = written(outcome.result(key), system)
    return Glass(
        title,
        name,
        answer,
        unit_name,
        panel.alt,
        rows=[
            (label, *written(outcome.result(k), system))
            for k, label in panel.rows
            if outcome.result(k) is not None
        ],
        warnings=[_in_words(panel, line) for line in outcome.json["warnings"]],
        working=outcome.computed.working,
        sources=outcome.json["sources"],
        method=outcome.json["method_version"],
        echo=f"{title}: {answer} {unit(unit_name)}".strip(),
    )


def _in_words(panel: Panel, sentence: str) -> str:
    """Names of inputs as the page calls them; names of what is not asked here are left out."""
    sentence = re.sub(r" \((?:\w+_\w+)\)", "", sentence)
    for entry in panel.inputs:
        if "_" in entry.key or entry.key == "minutes":
            sentence = re.sub(rf"\b{entry.key}\b", entry.label.lower(), sentence)
    return sentence


def written(result: Result | None, system: str = "us") -> tuple[str, str]:
    """A result as text and unit, in the units of a person of that system."""
    if result is None:
        return "", ""
    kept, own = result["unit"], unit_for(result["unit"], system)
    if "low" in result:
        low, high = (_converted(result[end], kept, own) for end in ("low", "high"))
        return f"{sig(low)} to {sig(high)}", own
    value = result["value"]
    if isinstance(value, bool):
        return ("yes" if value else "no"), ""
    if isinstance(value, int | float):
        return sig(_converted(value, kept, own)), own
    return str(value), kept


def _converted(value: float, kept: str, own: str) -> float:
    return value if own == kept else size_in(quantity(value, kept), own)
