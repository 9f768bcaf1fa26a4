"""Answers of an open record: drafts, kept on every change, never evidence."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Protocol

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import QuerySet

from equipment.models import Stage
from jobs.access import has_role
from jobs.errors import (
    BadEntry,
    JobsError,
    NotAllowed,
    PutMeanwhile,
    RecordClosed,
    VisitCancelled,
)
from jobs.fieldwork.cautions import CAUTIONS
from jobs.fieldwork.keys import ASKED_EACH_VISIT, DONE_HERE, LineKey
from jobs.fieldwork.values import ReadAnswer, read_answer, strength_remark
from jobs.models import (
    Acknowledgement,
    Answer,
    ChecklistLine,
    ChecklistRecord,
    Company,
    Override,
    Visit,
)
from jobs.records.gathered import visit_began_at
from jobs.records.loading import company_facts, line_facts, product_facts

from .log import log
from .moments import done_at
from .parts_asked import check_place
from .reasons import reason_given
from .shared_water import refuse_for_dialysis
from .way_out import WayOut, take_way_out

NO_VISIT_NOW = (
    "Your visit of this job was cancelled: call the office. "
    "Once you have another visit of it, send this again."
)


class Part(Protocol):
    """A part of a system, as a row or among the facts of a record."""

    @property
    def pk(self) -> int: ...


@dataclass(frozen=True)
class Place:
    """Where on a record something is put: the line, the part it is about, as found or as left."""

    line_key: str
    stage: Part | None = None
    side: str = ""

    @property
    def stage_id(self) -> int | None:
        return self.stage.pk if self.stage else None

    @property
    def tank(self) -> int:
        """Which of the tanks side by side, 0: the part as a whole."""
        return getattr(self.stage, "tank", 0)


@dataclass(frozen=True)
class Entered:
    """What is put there: as typed, in which unit, how diluted, and whether a warning was seen.

    `at` is when it was read, else now; `version` is of the answer the person saw before typing.
    """

    text: str
    unit: str = ""
    dilution: float = 1.0
    confirmed: bool = False
    at: datetime | None = None
    version: int | None = None


@transaction.atomic
def save_answers(
    *,
    record: ChecklistRecord,
    entries: Mapping[Place, Entered],
    by: User,
    now: datetime,
    visit: Visit | None = None,
) -> dict[Place, JobsError]:
    """Keep what was typed, each entry by itself; those that were refused, each with its reason.

    A value outside hard limits is refused, and the typed text is logged.
    """
    record = open_and_allowed(record, by)
    lines = _lines(record, entries)
    stages = Stage.objects.with_catalog().in_bulk({p.stage_id for p in entries if p.stage})
    kept = {
        (answer.line_key, answer.stage_id, answer.tank, answer.side): answer
        for answer in _kept(record).filter(line_key__in=lines)
    }
    changed: list[Answer] = []
    refused: dict[Place, JobsError] = {}
    for place, entered in entries.items():
        answer = kept.get((place.line_key, place.stage_id, place.tank, place.side))
        answer = answer or _blank(record, place, by, entered.at or now)
        try:
            line = _asked(lines.get(place.line_key), place.line_key)
            _take(answer, line, stages.get(place.stage_id), entered, by, now)
        except JobsError as refusal:
            refused[place] = refusal
            _log_refused(record, place, entered, refusal, by, now)
        else:
            answer.visit_id = visit.pk if visit else answer.visit_id
            changed.append(answer)
    _write(changed)
    return refused


def _take(
    answer: Answer,
    line: ChecklistLine,
    stage: Stage | None,
    entered: Entered,
    by: User,
    now: datetime,
) -> None:
    """The answer as it stands after the entry, or a refusal that leaves it as it was."""
    at = done_at(answer.record, entered.at, now)
    typed = (entered.text.strip(), entered.unit, entered.dilution)
    check_place(answer.record, line, stage, answer.tank, answer.side)
    warning = _warning(line, read_answer(line_facts(line), *typed), stage)
    if line.key == LineKey.DISINFECT_SCOPE and typed[0] == DONE_HERE:
        refuse_for_dialysis(site=answer.record.site, train=answer.record.train)
    again = line.key in ASKED_EACH_VISIT and answer.text == typed[0]
    if again or (answer.text, answer.unit, answer.dilution) != typed:
        _refuse_unseen(answer, line, entered.version)
        answer.read_at, answer.warning_confirmed_at = at, None
        answer.version += 1
        answer.by = by
    answer.text, answer.unit, answer.dilution = typed
    answer.saved_at, answer.warning = now, warning
    if answer.text:
        answer.skip_reason = ""
    if entered.confirmed and warning:
        answer.warning_confirmed_at = answer.warning_confirmed_at or now


def _refuse_unseen(answer: Answer, line: ChecklistLine, seen: int | None) -> None:
    """Somebody has put something else since the person looked."""
    if seen is None or answer.pk is None or answer.version == seen:
        return
    by = answer.by.get_full_name()
    raise PutMeanwhile(
        f"{line.label}: {by} has put {answer.text or 'nothing'} "
        "meanwhile. What you typed stays in the box; save again to replace it.",
        field=line.key,
        standing=answer.version,
        by=by,
        theirs={"text": answer.text, "unit": answer.unit, "dilution": answer.dilution},
    )


def _log_refused(
    record: ChecklistRecord,
    place: Place,
    entered: Entered,
    refusal: JobsError,
    by: User,
    now: datetime,
) -> None:
    if isinstance(refusal, BadEntry):
        log(
            verb="answer_refused",
            subject=record,
            by=by,
            now=now,
            site=record.site,
            reason=refusal.message[:300],
            line=place.line_key,
            typed=entered.text[:60],
            unit=entered.unit,
        )


def _write(answers: list[Answer]) -> None:
    for answer in answers:
        if answer.pk is not None:
            answer.save()
    Answer.objects.bulk_create([answer for answer in answers if answer.pk is None])


def _lines(record: ChecklistRecord, places: Iterable[Place]) -> dict[str, ChecklistLine]:
    keys = {place.line_key for place in places}
    return {line.key: line for line in record.template.lines.filter(key__in=keys)}


def _warning(line: ChecklistLine, read: ReadAnswer, stage: Stage | None) -> str:
    if line.quantity_key != "strength_percent":
        return read.warning
    product = product_facts(stage.product) if stage and stage.product else None
    values = company_facts(Company.load())
    return strength_remark(line_facts(line), read, product, values) or read.warning


def _kept(record: ChecklistRecord) -> QuerySet[Answer]:
    return record.answers.select_for_update(of=("self",)).select_related("by")


def _find(record: ChecklistRecord, place: Place) -> Answer | None:
    return (
        _kept(record)
        .filter(line_key=place.line_key, stage=place.stage_id, tank=place.tank, side=place.side)
        .first()
    )


def _blank(record: ChecklistRecord, place: Place, by: User, at: datetime) -> Answer:
    return Answer(
        record=record,
        line_key=place.line_key,
        stage_id=place.stage_id,
        tank=place.tank,
        side=place.side,
        version=0,
        by=by,
        read_at=at,
    )


def open_and_allowed(record: ChecklistRecord, by: User) -> ChecklistRecord:
    """The record, locked; refused when closed or when the person has no visit of its job."""
    record = (
        ChecklistRecord.objects.select_for_update(of=("self",))
        .select_related("site", "train", "template", "job")
        .get(pk=record.pk)
    )
    if record.is_closed:
        raise RecordClosed("This record is closed. A correction is a newer version of it.")
    if not may_write(record, by):
        if Visit.objects.of_technician(by).filter(job=record.job_id).exists():
            raise VisitCancelled(NO_VISIT_NOW)
        raise NotAllowed("Only who leads or helps on a visit of this job may fill its record.")
    return record


def may_write(record: ChecklistRecord, by: User) -> bool:
    """Who leads or helps on a visit of the job that was not cancelled."""
    if Visit.objects.of_technician(by).standing().filter(job=record.job_id).exists():
        return True
    return has_role(by, "dispatcher") and has_role(by, "technician")


def line_of(record: ChecklistRecord, key: str) -> ChecklistLine:
    return _asked(record.template.lines.filter(key=key).first(), key)


def _asked(line: ChecklistLine | None, key: str) -> ChecklistLine:
    if line is None:
        raise BadEntry("This record does not ask for that.", field=key)
    return line


def _fitted(place: Place) -> Stage | None:
    """The row of the part, with its catalog."""
    return Stage.objects.with_catalog().get(pk=place.stage_id) if place.stage_id else None


@transaction.atomic
def skip_line(
    *,
    record: ChecklistRecord,
    place: Place,
    reason: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> Answer:
    """Leave a line open with a reason, which is printed."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    line = line_of(record, place.line_key)
    check_place(record, line, _fitted(place), place.tank, place.side)
    if not line.may_skip:
        raise BadEntry(f"{line.label}: cannot be left out.", field=line.key)
    if not reason.strip():
        raise BadEntry(f"{line.label}: say why it cannot be answered.", field=line.key)
    answer = _find(record, place) or _blank(record, place, by, now)
    answer.text, answer.warning, answer.warning_confirmed_at = "", "", None
    answer.skip_reason, answer.by = reason.strip()[:200], by
    answer.read_at, answer.saved_at = moment, now
    answer.version += 1
    answer.save()
    return answer


@transaction.atomic
def override_gate(
    *,
    record: ChecklistRecord,
    line_key: str,
    reason: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
    way_out: WayOut | None = None,
) -> Override:
    """Pass over a line that must pass, with a reason, under one's name."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    line = line_of(record, line_key)
    if not line.is_gate:
        raise BadEntry(f"{line.label}: need not be passed over; leave it out with a reason.")
    reason_given(reason, "Say why this is passed over.")
    found = record.overrides.filter(line_key=line_key).first()
    if found:
        return found
    left = take_way_out(
        record=record, line=line, way_out=way_out or WayOut(), by=by, now=now, at=moment
    )
    reason = f"{reason.strip()[:180]} ({left})" if left else reason.strip()
    override, made = Override.objects.get_or_create(
        record=record,
        line_key=line_key,
        defaults={"reason": reason[:300], "by": by, "at": moment},
    )
    if made:
        log(
            verb="overridden",
            subject=record,
            by=by,
            now=now,
            site=record.site,
            reason=override.reason,
            line=line_key,
        )
    return override


@transaction.atomic
def take_back_override(
    *,
    record: ChecklistRecord,
    line_key: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> None:
    """The line must pass again."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    if record.overrides.filter(line_key=line_key).delete()[0]:
        log(
            verb="override_taken_back",
            subject=record,
            by=by,
            now=now,
            site=record.site,
            line=line_key,
            done=moment.isoformat(),
        )


@transaction.atomic
def acknowledge_caution(
    *,
    record: ChecklistRecord,
    caution: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> Acknowledgement:
    """A named person has read a stop on this record; on the next visit it is read again."""
    record = open_and_allowed(record, by)
    moment = done_at(record, at, now)
    if caution not in CAUTIONS:
        raise BadEntry("There is no such caution.", field="caution")
    began = visit_began_at(record) or record.opened_at
    today = record.acknowledgements.filter(caution=caution, by=by, at__gte=began).first()
    return today or Acknowledgement.objects.create(record=record, caution=caution, by=by, at=moment)
