"""A plan as the page shows it: for each part its figures in the person's units, and what lacks."""

from __future__ import annotations

from dataclasses import dataclass, field

from equipment.engineering.plan.facts import (
    Step,
    TrainPlan,
)
from equipment.engineering.registry import calculation
from equipment.engineering.unit_systems import unit_for
from equipment.engineering.units import Quantity, quantity
from equipment.models import Stage, Train
from equipment.on_file import day_text
from jobs.fieldwork.keys import PanelName
from jobs.records.supply import Supply, supply_of
from jobs.wording.results import words_for

from .worksheets import result_text, spoken


@dataclass(frozen=True)
class Sum:
    """One calculation of the plan."""

    title: str
    rows: list[tuple[str, str, str]]
    warnings: tuple[str, ...]
    working: tuple[str, ...]
    sources: tuple[str, ...]
    refusal: str = ""


@dataclass
class PartOfPlan:
    label: str
    sums: list[Sum] = field(default_factory=list)


def parts_of(plan: TrainPlan, train: Train, system: str) -> list[PartOfPlan]:
    labels = {str(stage.pk): str(stage) for stage in train.stages.fitted()}
    feeder = train.stages.fitted().filter(kind=Stage.Kind.FEEDER).first()
    labels["feeder"] = str(feeder) if feeder else "Dosing pump"
    parts: dict[str, PartOfPlan] = {}
    supply = supply_of(train.pk)
    for step in plan.steps:
        part = parts.setdefault(step.part, PartOfPlan(labels.get(step.part, step.part)))
        part.sums.append(_sum(step, system, supply))
    return list(parts.values())


def _sum(step: Step, system: str, supply: Supply | None) -> Sum:
    title = calculation(step.name).title
    if step.answer is None:
        return Sum(title, [], (), (), (), spoken(step.refusal))
    rows = []
    told = _fed(supply) if step.name == PanelName.FEED_SETTING else {}
    for spec in step.answer.result_fields():
        value = told.get(spec.name, getattr(step.answer, spec.name))
        if value is not None:
            unit = unit_for(spec.metadata["unit"], system)
            label = words_for(spec.name)
            if supply and spec.name in told:
                label += f", {_fed_at(supply)}"
            rows.append((label, result_text(value, unit), unit))
    answer = step.answer
    warnings = tuple(spoken(text) for text in answer.warnings)
    return Sum(title, rows, warnings, answer.working, answer.sources)


#: what a record says of the feed stands in the plan as well
_FED = {"solution_per_day": "gal", "days_of_supply": "day"}


def _fed(supply: Supply | None) -> dict[str, Quantity]:
    """From the newest record, once there is one: a plan has no figure of its own then."""
    if supply is None:
        return {}
    figures = {"solution_per_day": supply.per_day_gal, "days_of_supply": supply.days}
    return {name: quantity(value, _FED[name]) for name, value in figures.items() if value}


def _fed_at(supply: Supply) -> str:
    which = "setting left" if supply.at_setting_left else "setting worked out"
    return f"at the {which}, {day_text(supply.on)}"
