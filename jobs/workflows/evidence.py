"""From answers to evidence: measurements, settings, fills and computed figures of a closing."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from equipment.engineering.registry import calculation
from equipment.models import (
    Fill,
    Measurement,
    SettingChange,
    SpecialUse,
    Stage,
    StoredAssessment,
    Well,
)
from equipment.quantities import read_typed
from jobs.fieldwork.advice import advise
from jobs.fieldwork.panels.run import on_file, panels_of, run
from jobs.fieldwork.sheet import Item, Sheet
from jobs.models import Answer, ChecklistTemplate
from jobs.models.company import company_day

#: lines that are settings, with the name and unit under which they are kept
SETTING_LINES = {
    "pump-setting": ("output_percent", "percent"),
    "solution-strength": ("solution_strength_g_l", "g/L"),
    "wash-interval": ("wash_interval_days", "day"),
    "wash-hour": ("wash_hour", "h"),
    "hardness-set": ("hardness_gpg", "gpg"),
}
#: places on the checklist that mean the tap behind a part of the system
AFTER_STAGE = {"after_retention": Stage.Kind.RETENTION}
STRENGTH, OUTPUT = "solution_strength_g_l", "output_percent"


@dataclass
class Written:
    """What a closing put down, for the promises that follow from it."""

    settings: list[SettingChange] = field(default_factory=list)
    fills: list[Fill] = field(default_factory=list)
    dose_moved_percent: float = 0.0


def write_evidence(sheet: Sheet, *, by: User, now: datetime) -> Written:
    """All rows of this record; the caller holds the transaction."""
    written = Written()
    stored = _assessments(sheet, by=by, now=now)
    StoredAssessment.objects.bulk_create(stored)
    before = {name: on_file(sheet).setting(sheet.feeder, name, "") for name in (OUTPUT, STRENGTH)}
    Measurement.objects.bulk_create(list(_measurements(sheet, now)))
    written.settings = _settings(sheet, by=by, now=now)
    written.fills = _fills(sheet, by=by, now=now)
    _special_uses(sheet, now=now)
    written.dose_moved_percent = _dose_moved(before, written.settings, sheet.feeder)
    return written


# --- measurements ----------------------------------------------------------------------------


def _measurements(sheet: Sheet, now: datetime) -> Any:
    well = _well(sheet)
    for item in sheet.items:
        if not item.line.quantity_key:
            continue
        for side in item.sides:
            answer = item.answers.get(side)
            if answer is None or not answer.text:
                continue
            if item.line.key in SETTING_LINES and side != "found":
                continue  # becomes a setting
            yield _measurement(sheet, item, answer, well, now)


def _measurement(
    sheet: Sheet, item: Item, answer: Answer, well: Well | None, now: datetime
) -> Measurement:
    line = item.line
    typed = read_typed(line.quantity_key, answer.text, answer.unit, answer.dilution)
    place, place_stage = line.place, None
    if place in AFTER_STAGE:
        place_stage = sheet.stage(AFTER_STAGE[place])
        place = "after_stage" if place_stage else ""
    subject: dict[str, Any] = {"site": sheet.record.site}
    if item.stage:
        subject = {"stage": item.stage}
    elif line.subject == "well" and well:
        subject = {"well": well}
    return Measurement(
        **subject,
        quantity_key=line.quantity_key,
        place=place,
        place_stage=place_stage,
        side=answer.side,
        comparator=typed.comparator,
        value=typed.value,
        entered=typed.entered[:60],
        entered_unit=typed.unit,
        dilution=answer.dilution,
        origin=Measurement.Origin.MEASURED,
        measured_at=answer.read_at,
        recorded_at=now,
        recorded_by=answer.by,
        occasion=sheet.record.uuid,
        line_key=line.key,
    )


def _well(sheet: Sheet) -> Well | None:
    train = sheet.record.train
    of_train = train.wells.first() if train else None
    return of_train or sheet.record.site.wells.first()


# --- settings and fills ------------------------------------------------------------------------


def _settings(sheet: Sheet, *, by: User, now: datetime) -> list[SettingChange]:
    """Settings left that differ from those on file; each from, to, why."""
    wanted = [
        (item, *SETTING_LINES[item.line.key], item.value)
        for item in sheet.items
        if item.line.key in SETTING_LINES and item.stage and item.value is not None
    ]
    made = []
    for item, name, unit, value in wanted:
        answer = item.deciding
        assert item.stage
        assert answer
        made.append(
            _setting(
                sheet,
                item.stage,
                name,
                unit,
                value,
                answer.read_at,
                by,
                now,
                found=_found(item),
                line_key=item.line.key,
            )
        )
    final = sheet.final_step
    if final and sheet.feeder and sheet.item("pump-setting") is None:
        made.append(
            _setting(
                sheet,
                sheet.feeder,
                OUTPUT,
                "percent",
                final.setting_percent,
                final.set_at,
                by,
                now,
                found=None,
                line_key="steps",
            )
        )
    return [row for row in made if row is not None]


def _found(item: Item) -> float | None:
    read = item.read("found") if item.line.is_pair else None
    return read.value if read else None


def _setting(
    sheet: Sheet,
    stage: Stage,
    name: str,
    unit: str,
    value: float,
    at: datetime,
    by: User,
    now: datetime,
    *,
    found: float | None,
    line_key: str,
) -> SettingChange | None:
    current = on_file(sheet).setting(stage, name, unit)
    old = found if found is not None else (current.value if current else None)
    if current and current.value == value and old == value:
        return None
    return SettingChange.objects.create(
        stage=stage,
        name=name,
        old_value=old,
        new_value=value,
        unit=unit,
        at=at,
        reason=f"left so at the {sheet.record.template.get_purpose_display()}",
        recorded_at=now,
        recorded_by=by,
        occasion=sheet.record.uuid,
        line_key=line_key,
    )


def _fills(sheet: Sheet, *, by: User, now: datetime) -> list[Fill]:
    """The solution put into the tank at a start-up."""
    feeder, level = sheet.feeder, sheet.item("solution-level")
    if feeder is None or level is None or level.value is None or level.deciding is None:
        return []
    return [
        Fill.objects.create(
            stage=feeder,
            product=feeder.product,
            lot=sheet.text("lot")[:40],
            strength_g_l=sheet.value("solution-strength"),
            level_after_gal=level.value,
            at=level.deciding.read_at,
            recorded_at=now,
            recorded_by=by,
            occasion=sheet.record.uuid,
            line_key=level.line.key,
        )
    ]


def _dose_moved(
    before: dict[str, Any], changes: list[SettingChange], feeder: Stage | None
) -> float:
    """By how many percent setting times strength has moved; 100 where there was none before."""
    if feeder is None:
        return 0.0
    new = {c.name: c.new_value for c in changes if c.stage_id == feeder.pk and c.new_value}
    if not new.keys() & {OUTPUT, STRENGTH}:
        return 0.0
    if before[OUTPUT] is None or not before[OUTPUT].value:
        return 100.0
    ratio = 1.0
    for name in (OUTPUT, STRENGTH):
        old = before[name].value if before[name] else None
        if name in new and old:
            ratio *= new[name] / old
    return abs(ratio - 1) * 100


# --- special uses and computed figures -----------------------------------------------------------


def _special_uses(sheet: Sheet, *, now: datetime) -> None:
    """Uses ticked at a survey stand as dated rows."""
    for item in sheet.items:
        if not item.line.key.startswith("use-") or not item.text:
            continue
        SpecialUse.objects.get_or_create(
            site=sheet.record.site,
            kind=item.line.key.removeprefix("use-").replace("-", "_"),
            ended_on=None,
            defaults={"noted_on": company_day(now)},
        )


def _assessments(sheet: Sheet, *, by: User, now: datetime) -> list[StoredAssessment]:
    """Every stored panel of this record that has its figures, fed by answers and files alone."""
    rows = []
    for block in sheet.blocks:
        for panel, stage in panels_of(sheet, block.key):
            outcome = run(sheet, panel, stage)
            if panel.stored and outcome.json and "stored" in calculation(panel.name).appears:
                rows.append(_stored(sheet, outcome.json, outcome.computed, stage, by, now))
    if sheet.steps:
        advice = advise(sheet)
        if advice.json:
            rows.append(_stored(sheet, advice.json, advice.computed, sheet.feeder, by, now))
    return rows


def _stored(
    sheet: Sheet, json: dict[str, Any], computed: Any, stage: Stage | None, by: User, now: datetime
) -> StoredAssessment:
    return StoredAssessment(
        name=json["name"],
        method_version=json["method_version"],
        site=sheet.record.site,
        train=sheet.record.train,
        inputs=json["inputs"],
        results=json["results"],
        warnings=json["warnings"],
        cautions=json["cautions"],
        sources=json["sources"],
        working=list(computed.working),
        recorded_at=now,
        recorded_by=by,
        occasion=sheet.record.uuid,
        line_key=f"stage-{stage.pk}" if stage else "",
    )


def is_startup(sheet: Sheet) -> bool:
    return bool(sheet.record.template.purpose == ChecklistTemplate.Purpose.STARTUP)
