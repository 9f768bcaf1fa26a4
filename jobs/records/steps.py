"""Steps of the dial-back and waits as facts: as they were told, of a closed record as corrected."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime
from typing import Any

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs import models
from jobs.fieldwork import facts
from jobs.fieldwork.dialling import residual_words
from jobs.schedule.hours import moment_words, zone_of
from jobs.wording.pump_settings import setting_said
from jobs.wording.strips import strips_said

Versions = Iterable[models.RecordCorrection]


def versions_of(record: models.ChecklistRecord) -> list[models.RecordCorrection]:
    """What was corrected since it was closed, in the order it was."""
    if not record.is_closed:
        return []
    return list(record.corrections.select_related("by").order_by("version"))


def steps_of(rows: Iterable[models.DialStep], versions: Versions) -> tuple[facts.Step, ...]:
    found = {row.number: step_facts(row) for row in rows}
    for version in versions:
        if version.step in found:
            found[version.step] = replace(found[version.step], **_of_step(version.figures))
    return tuple(found.values())


def waits_of(rows: Iterable[models.Timer], versions: Versions) -> tuple[facts.Timer, ...]:
    found = {row.line_key: timer_facts(row) for row in rows}
    for version in versions:
        if version.figures and version.line_key in found:
            moments = {name: _moment(said) for name, said in version.figures.items()}
            found[version.line_key] = replace(found[version.line_key], **moments)  # type: ignore[arg-type]
    return tuple(found.values())


def _of_step(figures: dict[str, Any]) -> dict[str, Any]:
    """The figures of a corrected step, as `figures_of_step` has kept them."""
    own = {name: figures[name] for name in ("residual_low_mg_l", "residual_high_mg_l", "turnovers")}
    return own | {
        "setting": PumpSetting.of(figures["setting_percent"], figures["marks"]),
        "set_at": _moment(figures["set_at"]),
        "read_at": _moment(figures["read_at"]),
    }


def figures_of_step(step: facts.Step) -> dict[str, Any]:
    return {
        "setting_percent": step.setting.percent,
        "marks": step.setting.marks,
        "set_at": step.set_at.isoformat(),
        "read_at": step.read_at.isoformat() if step.read_at else None,
        "turnovers": step.turnovers,
        "residual_low_mg_l": step.residual_low_mg_l,
        "residual_high_mg_l": step.residual_high_mg_l,
    }


def _moment(said: str | None) -> datetime | None:
    return datetime.fromisoformat(said) if said else None


def step_said(record: models.ChecklistRecord, step: facts.Step, head: str) -> str:
    """One step in a sentence, as a version of a record says it."""
    zone = zone_of(record.site)
    said = f"{setting_said(step.setting, head)}, set {moment_words(step.set_at, zone)}"
    if step.read_at is None:
        return f"{said}, not read"
    read = residual_words(step) or "no residual"
    unit = " mg/L" if step.residual_low_mg_l is not None else ""
    return f"{said}, read {moment_words(step.read_at, zone)}: {read}{unit}"


def step_facts(step: models.DialStep) -> facts.Step:
    return facts.Step(
        number=step.number,
        setting=step.setting,
        set_at=step.set_at,
        drawdown_ml_min=step.drawdown_ml_min,
        tap_flow_gpm=step.tap_flow_gpm,
        read_at=step.read_at,
        turnovers=step.turnovers,
        look=step.look,
        residual_low_mg_l=step.residual_low_mg_l,
        residual_high_mg_l=step.residual_high_mg_l,
        iron_clear=step.iron_clear,
        odour_clear=step.odour_clear,
        colour_gone=step.colour_gone,
        feeder_check=step.feeder_check,
        skip_reason=step.skip_reason,
        is_final=step.is_final,
        doubt=step.doubt,
        strips=strips_said(step.strips) if step.strips else "",
        left_because=step.left_because,
        against=step.against,
        made_by=str(step.made_by or ""),
    )


def timer_facts(timer: models.Timer) -> facts.Timer:
    return facts.Timer(
        line_key=timer.line_key,
        started_at=timer.started_at,
        needed_minutes=timer.needed_minutes,
        stopped_at=timer.stopped_at,
    )
