"""From answers to evidence: measurements, settings, fills and computed figures of a closing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User

from equipment import models as rows
from equipment.engineering.oxidant.feeding import dose_moved_percent
from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.engineering.results import Answer as Computed
from equipment.engineering.results import Json
from equipment.models import Fill, Measurement, SettingChange, SpecialUse, StoredAssessment
from equipment.on_file import fed, fed_until
from equipment.quantities import SETTING_UNITS, SettingName, read_typed
from jobs.fieldwork.asked import Item
from jobs.fieldwork.facts import Answer, Stage
from jobs.fieldwork.keys import USE_LINES, LineKey
from jobs.fieldwork.pump import setting_line, typed_setting
from jobs.fieldwork.sheet import Sheet
from jobs.models import ChecklistRecord
from jobs.models.company import company_day

#: lines that are settings, with the name under which they are kept
SETTING_LINES: dict[str, SettingName] = {
    LineKey.PUMP_SETTING: SettingName.OUTPUT,
    LineKey.PUMP_CYCLE: SettingName.OUTPUT,
    LineKey.PUMP_STROKE: SettingName.OUTPUT,
    LineKey.PUMP_SPEED: SettingName.OUTPUT,
    LineKey.PUMP_PULSES: SettingName.OUTPUT,
    LineKey.SOLUTION_STRENGTH: SettingName.STRENGTH,
    LineKey.WASH_INTERVAL: SettingName.WASH_INTERVAL,
    LineKey.WASH_HOUR: SettingName.WASH_HOUR,
    LineKey.HARDNESS_SET: SettingName.HARDNESS,
    LineKey.SALT_SET: SettingName.SALT,
}


@dataclass(frozen=True)
class Closing:
    """A record that is being closed, as it was read once."""

    record: ChecklistRecord
    sheet: Sheet
    by: User
    now: datetime


@dataclass(frozen=True)
class Left:
    """A setting as it was left: of which part, since when, and what was found there."""

    stage: Stage
    name: SettingName
    value: float
    at: datetime
    line_key: str
    found: float | None = None
    #: of a dosing pump: both figures, as left and as found
    pump: PumpSetting | None = None
    pump_found: PumpSetting | None = None

    @property
    def marks(self) -> dict[str, float | bool]:
        return self.pump.marks if self.pump else {}


@dataclass
class Written:
    """What a closing put down, for the promises that follow from it."""

    settings: list[SettingChange] = field(default_factory=list)
    fills: list[Fill] = field(default_factory=list)
    dose_moved_percent: float = 0.0


def write_evidence(closing: Closing) -> Written:
    """All rows of this record; the caller holds the transaction."""
    sheet = closing.sheet
    StoredAssessment.objects.bulk_create(_assessments(closing))
    Measurement.objects.bulk_create(_measurements(closing))
    feeder = sheet.feeder
    settings = [row for left in _left(sheet) if (row := _setting(closing, left))]
    written = Written(settings=settings, fills=_fills(closing))
    Fill.objects.bulk_create(_salt(closing))
    _special_uses(closing)
    changed = [row.at for row in settings if feeder and row.stage_id == feeder.pk]
    if feeder and changed:
        given = fed_until(feeder.pk, min(changed))
        written.dose_moved_percent = dose_moved_percent(given, fed(feeder.pk))
    return written


def correct_evidence(closing: Closing, item: Item, side: str) -> Written:
    """Newer rows for those that a corrected answer made; each names the one it corrects."""
    of_record = {"occasion": closing.record.uuid, "corrected_by": None}
    place = {"line_key": item.line.key, "stage_id": None, "tank": 0}
    if item.stage:
        place |= {"stage_id": item.stage.pk, "tank": item.stage.tank}
    feeder, written = closing.sheet.feeder, Written()
    before = fed(feeder.pk) if feeder else None
    answer = item.answers.get(side)
    old = Measurement.objects.filter(**of_record, **place, side=side).first()
    if old and answer and answer.text:
        row = _measurement(closing, item, answer, _well(closing.record))
        row.corrects, row.recorded_by = old, closing.by
        row.save()
    for left in _left(closing.sheet):
        was = SettingChange.objects.filter(
            **of_record, line_key=left.line_key, stage_id=left.stage.pk, tank=left.stage.tank
        ).first()
        if left.line_key == item.line.key == LineKey.STEPS or (
            SETTING_LINES.get(item.line.key) == left.name and item.stage == left.stage
        ):
            written.settings += _corrected_setting(closing, left, was)
    for fill in _fills(closing) if item.line.key in FILL_LINES else ():
        written.fills.append(fill)
    if item.line.key == LineKey.SALT_ADDED:
        Fill.objects.bulk_create(_salt(closing))
    _correct_assessments(closing)
    if feeder and before and written.settings:
        written.dose_moved_percent = dose_moved_percent(before, fed(feeder.pk))
    return written


#: lines that say what was filled into the solution tank
FILL_LINES = (LineKey.SOLUTION_LEVEL, LineKey.SOLUTION_STRENGTH, LineKey.LOT)


def _corrected_setting(
    closing: Closing, left: Left, was: SettingChange | None
) -> list[SettingChange]:
    at = left.at if was is None or left.line_key == LineKey.STEPS else was.at
    if was and (was.new_value, was.new_marks, was.at) == (left.value, left.marks, at):
        return []
    found = left.pump_found.marks if left.pump_found else {}
    row = SettingChange.objects.create(
        stage_id=left.stage.pk,
        tank=left.stage.tank,
        name=left.name,
        old_value=was.old_value if was else left.found,
        new_value=left.value,
        old_marks=was.old_marks if was else found,
        new_marks=left.marks,
        unit=SETTING_UNITS[left.name],
        at=at,
        reason=f"correction of the {closing.record.template.get_purpose_display()}",
        recorded_at=closing.now,
        recorded_by=closing.by,
        occasion=closing.record.uuid,
        line_key=left.line_key,
        corrects=was,
    )
    return [row]


def _correct_assessments(closing: Closing) -> None:
    """Figures that were worked out from the corrected answer are worked out anew."""
    kept = StoredAssessment.objects.standing().of_occasion(closing.record.uuid)
    stored = {(row.name, row.line_key): row for row in kept}
    for row in _assessments(closing):
        old = stored.get((row.name, row.line_key))
        if old is None or old.results != row.results:
            row.corrects = old
            row.save()


# --- measurements ----------------------------------------------------------------------------


def _measurements(closing: Closing) -> Iterator[Measurement]:
    well = _well(closing.record)
    for item in closing.sheet.items:
        for side in item.sides if item.line.quantity_key else ():
            answer = item.answers.get(side)
            if answer is None or not answer.text:
                continue
            if item.line.key in SETTING_LINES and side != "found":
                continue  # becomes a setting
            yield _measurement(closing, item, answer, well)


def _measurement(
    closing: Closing, item: Item, answer: Answer, well: rows.Well | None
) -> Measurement:
    line = item.line
    typed = read_typed(line.quantity_key, answer.text, answer.unit, answer.dilution)
    place, place_stage = closing.sheet.tap(line)
    subject: dict[str, Any] = {"site": closing.record.site}
    if item.stage:
        subject = {"stage_id": item.stage.pk, "tank": item.stage.tank}
    elif line.subject == "well" and well:
        subject = {"well": well}
    return Measurement(
        **subject,
        quantity_key=line.quantity_key,
        place=place,
        place_stage_id=place_stage.pk if place_stage else None,
        side=answer.side,
        comparator=typed.comparator,
        value=typed.value,
        other_end=typed.other,
        entered=typed.entered[:60],
        entered_unit=typed.unit,
        dilution=answer.dilution,
        origin=Measurement.Origin.MEASURED,
        measured_at=answer.read_at,
        recorded_at=closing.now,
        recorded_by_id=answer.by_id,
        occasion=closing.record.uuid,
        line_key=line.key,
    )


def _well(record: ChecklistRecord) -> rows.Well | None:
    of_train = record.train.wells.first() if record.train else None
    return of_train or record.site.wells.first()


# --- settings and fills ------------------------------------------------------------------------


def _left(sheet: Sheet) -> Iterator[Left]:
    """Settings as the answers leave them; the kept step where no line asks for it."""
    for item in sheet.items:
        name = SETTING_LINES.get(item.line.key)
        if name in (None, SettingName.OUTPUT) or item.stage is None:
            continue
        value, answer = item.value, item.deciding
        if value is not None and answer:
            assert name
            yield Left(item.stage, name, value, answer.read_at, item.line.key, _found(item))
    pump = _pump_left(sheet)
    if pump:
        yield pump


def _pump_left(sheet: Sheet) -> Left | None:
    """The dosing pump by all its figures: as the lines say it, or as the kept step."""
    line, final = setting_line(sheet), sheet.final_step
    if sheet.feeder is None:
        return None
    if line is None:
        if final is None:
            return None
        at, key = final.set_at, LineKey.STEPS.value
        left, found = final.setting, None
    else:
        now, answer = typed_setting(sheet), line.deciding
        if now is None or answer is None:
            return None
        at, key, left, found = answer.read_at, line.line.key, now, typed_setting(sheet, "found")
    return Left(
        sheet.feeder,
        SettingName.OUTPUT,
        left.percent,
        at,
        key,
        found.percent if found else None,
        pump=left,
        pump_found=found,
    )


def _found(item: Item) -> float | None:
    read = item.read("found") if item.line.is_pair else None
    return read.value if read else None


def _setting(closing: Closing, left: Left) -> SettingChange | None:
    """A row where it differs from what is on file: from, to, why."""
    current = closing.sheet.on_file.setting(left.stage, left.name)
    old = left.found if left.found is not None else (current.value if current else None)
    stood = closing.sheet.on_file.pump(left.stage) if left.pump else None
    marks = stood.marks if stood else {}
    before = left.pump_found.marks if left.pump_found else marks
    same = marks == before == left.marks
    if same and current and current.value == left.value and old == left.value:
        return None
    return SettingChange.objects.create(
        stage_id=left.stage.pk,
        tank=left.stage.tank,
        name=left.name,
        old_value=old,
        new_value=left.value,
        old_marks=before,
        new_marks=left.marks,
        unit=SETTING_UNITS[left.name],
        at=left.at,
        reason=f"left so at the {closing.record.template.get_purpose_display()}",
        recorded_at=closing.now,
        recorded_by=closing.by,
        occasion=closing.record.uuid,
        line_key=left.line_key,
    )


def _fills(closing: Closing) -> list[Fill]:
    """The solution put into the tank at a start-up."""
    sheet = closing.sheet
    feeder, level = sheet.feeder, sheet.item(LineKey.SOLUTION_LEVEL)
    if feeder is None or level is None or level.value is None or level.deciding is None:
        return []
    stage = rows.Stage.objects.get(pk=feeder.pk)
    was = Fill.objects.standing().of_occasion(closing.record.uuid).filter(stage=stage).first()
    return [
        Fill.objects.create(
            stage=stage,
            product_id=stage.product_id,
            lot=sheet.text(LineKey.LOT)[:40],
            strength_g_l=sheet.value(LineKey.SOLUTION_STRENGTH),
            level_after_gal=level.value,
            at=level.deciding.read_at,
            recorded_at=closing.now,
            recorded_by=closing.by,
            occasion=closing.record.uuid,
            line_key=level.line.key,
            corrects=was,
        )
    ]


def _salt(closing: Closing) -> Iterator[Fill]:
    """The salt put into each softener."""
    kept = Fill.objects.standing().of_occasion(closing.record.uuid)
    was = {fill.stage_id: fill for fill in kept.filter(line_key=LineKey.SALT_ADDED)}
    for item in closing.sheet.items:
        if item.line.key != LineKey.SALT_ADDED or not item.stage or not item.deciding:
            continue
        if item.value or item.stage.pk in was:
            yield Fill(
                stage_id=item.stage.pk,
                salt_lb=item.value,
                at=item.deciding.read_at,
                recorded_at=closing.now,
                recorded_by=closing.by,
                occasion=closing.record.uuid,
                line_key=item.line.key,
                corrects=was.get(item.stage.pk),
            )


# --- special uses and computed figures -----------------------------------------------------------


def _special_uses(closing: Closing) -> None:
    """Uses ticked at a survey stand as dated rows."""
    for item in closing.sheet.items:
        if not item.line.key.startswith(USE_LINES) or not item.text:
            continue
        SpecialUse.objects.get_or_create(
            site=closing.record.site,
            kind=item.line.key.removeprefix(USE_LINES).replace("-", "_"),
            ended_on=None,
            defaults={"noted_on": company_day(closing.now)},
        )


def _assessments(closing: Closing) -> Iterator[StoredAssessment]:
    """Every stored panel of this record that has its figures, fed by answers and files alone."""
    sheet, outcomes = closing.sheet, closing.sheet.outcomes
    shown = [found for block in sheet.blocks for found in outcomes.on_page(block.key)]
    for name, stage in dict.fromkeys((p.name, stage) for p, stage in shown if p.is_kept):
        outcome = outcomes.of(name, stage)
        if outcome.json and outcome.computed:
            yield _stored(closing, outcome.json, outcome.computed, stage)
    advice = sheet.advice
    if sheet.steps and advice.json and advice.computed:
        yield _stored(closing, advice.json, advice.computed, sheet.feeder)


def _stored(
    closing: Closing, json: Json, computed: Computed, stage: Stage | None
) -> StoredAssessment:
    return StoredAssessment(
        name=json["name"],
        method_version=json["method_version"],
        site=closing.record.site,
        train=closing.record.train,
        inputs=json["inputs"],
        results=json["results"],
        warnings=json["warnings"],
        cautions=json["cautions"],
        sources=json["sources"],
        working=list(computed.working),
        recorded_at=closing.now,
        recorded_by=closing.by,
        occasion=closing.record.uuid,
        line_key=f"stage-{stage.pk}" if stage else "",
    )
