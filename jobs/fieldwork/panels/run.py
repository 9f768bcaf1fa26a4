"""Panels of a record, each computed once."""

from __future__ import annotations

from collections.abc import Mapping

from equipment.engineering.errors import EngineeringError, MissingInput
from equipment.engineering.registry import calculation, compute
from equipment.engineering.units import split_typed
from equipment.quantities import Known
from jobs.fieldwork.asked import Asked
from jobs.fieldwork.facts import Stage

from .kinds import Bench, Input, Outcome, Panel


class Outcomes:
    """What the panels of one record say. One of these is handed on through a whole request."""

    def __init__(self, asked: Asked, panels: Mapping[str, Panel]) -> None:
        self.asked = asked
        self.panels = panels
        self._kept: dict[tuple[str, int | None], Outcome] = {}

    def of(self, name: str, stage: Stage | None = None) -> Outcome:
        """A panel fed by answers and files alone; nothing is raised, a refusal is said in it."""
        stage = self._whole(stage)
        place = (name, stage.pk if stage else None)
        if place not in self._kept:
            self._kept[place] = _run(Bench(self.asked, self, stage), self.panels[name])
        return self._kept[place]

    def _whole(self, stage: Stage | None) -> Stage | None:
        """The part, also where one of its tanks asks."""
        if stage is None or not stage.tank:
            return stage
        return next(part for part in self.asked.stages if part.pk == stage.pk)

    def typed(self, name: str, stage: Stage | None, typed: Mapping[str, str]) -> Outcome:
        """The same with figures typed over for a look; boxes left empty change nothing."""
        if not any(typed.values()):
            return self.of(name, stage)
        return _run(Bench(self.asked, self, stage, typed), self.panels[name])

    def on_page(self, block: str) -> list[tuple[Panel, Stage | None]]:
        """The panels of one page, for each part where they are asked for each."""
        found: list[tuple[Panel, Stage | None]] = []
        for panel in self.panels.values():
            if block not in panel.blocks or not panel.fits(self.asked):
                continue
            if panel.each:
                found += [(panel, s) for s in self.asked.stages if s.kind in panel.each]
            else:
                found.append((panel, None))
        return found

    def result(self, name: str, key: str, stage: Stage | None) -> Known | None:
        """A figure of another panel, of the same part where that panel is asked for each."""
        own = stage if stage and stage.kind in self.panels[name].each else None
        found = self.of(name, own).result(key)
        if not isinstance(found, dict) or not isinstance(found.get("value"), int | float):
            return None
        return Known.of(float(found["value"]), found["unit"], "worked out on this record")

    def expected(self, name: str, stage: Stage | None = None) -> float | None:
        """A result that an answer is compared with, such as "backwash.required_flow_low"."""
        panel, _, key = name.partition(".")
        own = stage if stage and stage.kind in self.panels[panel].each else None
        return self.of(panel, own).value(key)


def _run(bench: Bench, panel: Panel) -> Outcome:
    asked = panel.inputs_of(bench.asked)
    known = {entry.key: found for entry in asked if (found := _known(bench, panel, entry))}
    missing = next((e for e in asked if not e.optional and e.key not in known), None)
    if missing:
        return _lacking(bench, panel, known, missing.key)
    texts: dict[str, str | list[str]] = {key: item.text for key, item in known.items()}
    try:
        json, computed = compute(panel.name, **texts)
    except MissingInput as refusal:
        return _lacking(bench, panel, known, refusal.key)
    except EngineeringError as refusal:
        said = f"{panel.label_of(refusal.key)}: {refusal.message}."
        return Outcome(panel, bench.stage, known, asked, refused_key=refusal.key, refusal=said)
    return Outcome(panel, bench.stage, known, asked, json, computed)


def _lacking(bench: Bench, panel: Panel, known: Mapping[str, Known], key: str) -> Outcome:
    said = f"needs: {panel.label_of(key).lower()}"
    asked = panel.inputs_of(bench.asked)
    return Outcome(panel, bench.stage, known, asked, refused_key=key, refusal=said, is_missing=True)


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
