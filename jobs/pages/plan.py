"""A plan as the page shows it: for each part its figures in the person's units, and what lacks."""

from __future__ import annotations

from dataclasses import dataclass, field

from equipment.engineering.plan.facts import (
    Step,
    TrainPlan,
)
from equipment.engineering.registry import calculation
from equipment.engineering.unit_systems import unit_for
from equipment.models import Stage, Train
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
    labels["feeder"] = str(feeder) if feeder else "Feeder"
    parts: dict[str, PartOfPlan] = {}
    for step in plan.steps:
        part = parts.setdefault(step.part, PartOfPlan(labels.get(step.part, step.part)))
        part.sums.append(_sum(step, system))
    return list(parts.values())


def _sum(step: Step, system: str) -> Sum:
    title = calculation(step.name).title
    if step.answer is None:
        return Sum(title, [], (), (), (), spoken(step.refusal))
    rows = []
    for spec in step.answer.result_fields():
        value = getattr(step.answer, spec.name)
        if value is not None:
            unit = unit_for(spec.metadata["unit"], system)
            label = words_for(spec.name)
            rows.append((label, result_text(value, unit), unit))
    answer = step.answer
    warnings = tuple(spoken(text) for text in answer.warnings)
    return Sum(title, rows, warnings, answer.working, answer.sources)
