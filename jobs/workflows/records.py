"""The record of a start-up, recheck, disinfection or survey: opened, filled, closed once."""

from __future__ import annotations

import uuid as uuids
from dataclasses import replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Stage, Well
from jobs.errors import BadEntry, JobsError, NotAllowed, RecordIncomplete, WrongState
from jobs.fieldwork.keys import DONE_HERE, LineKey
from jobs.fieldwork.kinds import Purpose
from jobs.fieldwork.sheet import Sheet
from jobs.mail.about import record_summary
from jobs.models import (
    ChecklistRecord,
    ChecklistTemplate,
    DoNotUse,
    FollowUpRule,
    Job,
    Visit,
)
from jobs.models.company import company_day
from jobs.records.loading import load_sheet

from . import facts, follow_ups, recalls
from .answers import may_write
from .documents import make_document
from .evidence import Closing, Written, write_evidence
from .log import log
from .moments import done_at, done_on
from .notices import Danger, open_notice, refuse_if_blocked
from .plans import keep_plan
from .wanting import disinfects_not, found_wanting

#: numbers of records that are not begun yet lie above this one, each at that of its job
TO_BEGIN = 10**15
#: of the names that such records have on phones
PHONES = uuids.UUID("6f0e1c52-6d0c-4d47-9a51-2f5d0a4a1c0b")
#: which record a kind of job is written in
PURPOSE_OF_JOB = {
    Job.Kind.SURVEY: ChecklistTemplate.Purpose.SURVEY,
    Job.Kind.DISINFECT: ChecklistTemplate.Purpose.DISINFECT,
    Job.Kind.STARTUP: ChecklistTemplate.Purpose.STARTUP,
    Job.Kind.REBED: ChecklistTemplate.Purpose.STARTUP,
    Job.Kind.RECHECK: ChecklistTemplate.Purpose.RECHECK,
}


def usual_purpose(job: Job) -> str:
    """The record that goes with the kind of a job, "" where none is usual."""
    return str(PURPOSE_OF_JOB.get(Job.Kind(job.kind), ""))


@transaction.atomic
def open_record(
    *,
    job: Job,
    purpose: str,
    by: User,
    now: datetime,
    at: datetime | None = None,
    uuid: uuids.UUID | None = None,
    version: int | None = None,
) -> ChecklistRecord:
    """The record of a job, begun once; refused where chlorine or oxidant must not go.

    `uuid` is the name that a phone gave it; the record that stands already keeps its own.
    `version` is of the checklist that the phone filled it by.
    """
    moment = done_on(job.visits.of_technician(by), at, now)
    found = ChecklistRecord.objects.filter(job=job, template__purpose=purpose).first()
    if found:
        return found
    record = _begun(job, purpose, by, now, version=version)
    record.opened_at = moment
    record.uuid = uuid or record.uuid
    if ChecklistRecord.objects.filter(uuid=record.uuid).exists():
        raise BadEntry("Another record has this name already.", field="record")
    record.save()
    log(verb="record_opened", subject=record, by=by, now=now, site=job.site, purpose=purpose)
    return record


def _begun(
    job: Job, purpose: str, by: User, now: datetime, *, version: int | None = None
) -> ChecklistRecord:
    """The record as it is begun, not saved yet; refused where it may not be."""
    if job.status != Job.Status.OPEN:
        raise WrongState("This job is not open any more.")
    templates = ChecklistTemplate.objects.filter(purpose=purpose)
    filled_by = templates.filter(version=version).first() if version else None
    template = filled_by or templates.filter(is_current=True).first()
    if template is None:
        raise BadEntry("There are no questions for this kind of record yet.", field="purpose")
    needs_train = purpose in (ChecklistTemplate.Purpose.STARTUP, ChecklistTemplate.Purpose.RECHECK)
    if needs_train and job.train_id is None:
        raise BadEntry("The job names no system: choose it on the job first.", field="train")
    refuse_if_blocked(site=job.site, train=job.train, purpose=purpose, now=now)
    record = ChecklistRecord(
        job=job,
        template=template,
        site=job.site,
        train=job.train,
        opened_at=now,
        opened_by=by,
    )
    if not may_write(record, by):
        raise NotAllowed("Only who leads or helps on a visit of this job may begin its record.")
    return record


def to_begin(*, job: Job, by: User, now: datetime) -> ChecklistRecord | None:
    """The usual record of a job as a phone carries it until it is begun, in no database.

    Its number is one that no database gives, its name the one it keeps once a phone has begun it.
    None where there is none, or it may not be begun.
    """
    purpose = usual_purpose(job)
    try:
        record = _begun(job, purpose, by, now) if purpose else None
    except JobsError:
        return None
    if record:
        record.pk = TO_BEGIN + job.pk
        record.uuid = uuids.uuid5(PHONES, f"{job.pk}/{purpose}/{by.pk}")
        record._state.adding = False
    return record


def begun_as(number: int) -> int:
    """The number of the record that a phone knew by the one it had before it was begun."""
    if number <= TO_BEGIN:
        return number
    records = ChecklistRecord.objects.filter(job=number - TO_BEGIN).select_related(
        "job", "template"
    )
    usual = [row.pk for row in records if row.template.purpose == usual_purpose(row.job)]
    return usual[0] if usual else number


@transaction.atomic
def close_record(
    *,
    record: ChecklistRecord,
    visit: Visit,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> ChecklistRecord:
    """Answers become evidence, promises and mail, all or nothing; closing twice has one effect."""
    record = (
        ChecklistRecord.objects.select_for_update(of=("self",))
        .select_related("site", "train", "template", "job")
        .get(pk=record.pk)
    )
    if record.is_closed:
        return record
    if visit.job_id != record.job_id:
        raise BadEntry("The visit belongs to another job.", field="visit")
    if not may_write(record, by):
        raise NotAllowed("Only who leads or helps on a visit of this job may close its record.")
    moment = done_at(record, at, now)
    purpose = record.template.purpose
    refuse_if_blocked(site=record.site, train=record.train, purpose=purpose, now=now)
    sheet = load_sheet(record, now=moment)
    _refuse_incomplete(sheet)
    closing = Closing(record, sheet, by, now)
    written = write_evidence(closing)
    _hand_over(closing, visit=visit, at=moment)
    _keep_plan(closing)
    _close(record, sheet, visit=visit, by=by, at=moment)
    _sample_pending(closing, at=moment)
    _promise(closing, written, visit=visit, at=moment)
    found_wanting(record, (), disinfects_not(sheet), by=by, now=now)
    log(verb="record_closed", subject=record, by=by, now=now, site=record.site)
    make_document(record=record, visit=visit, now=now)
    record_summary.write(record=record, now=now)
    return record


def _keep_plan(closing: Closing) -> None:
    """What was worked out for the whole system, with the figures of this record."""
    train = closing.record.train
    if train and closing.sheet.record.purpose in (Purpose.STARTUP, Purpose.SURVEY):
        keep_plan(train=train, by=closing.by, now=closing.now, occasion=closing.record.uuid)


def _refuse_incomplete(sheet: Sheet) -> None:
    missing = sheet.missing()
    if missing:
        raise RecordIncomplete(
            f"Not closed: {len(missing)} {'answer is' if len(missing) == 1 else 'answers are'} "
            "missing or not passed.",
            missing=[(row.key, row.sentence) for row in missing],
        )


def _close(record: ChecklistRecord, sheet: Sheet, *, visit: Visit, by: User, at: datetime) -> None:
    record.status = ChecklistRecord.Status.CLOSED
    record.closed_at, record.closed_by, record.closed_in = at, by, visit
    record.handed_over_to = sheet.text(LineKey.HANDOVER_NAME)[:120]
    record.save()


def _hand_over(closing: Closing, *, visit: Visit, at: datetime) -> None:
    """The day treated water was handed to the house: the clock of callbacks starts here."""
    if not closing.sheet.is_startup:
        return
    day = company_day(visit.left_at or at)
    job, train = closing.record.job, closing.record.train
    facts.hand_over(job=job, day=day, visit=visit, by=closing.by, now=closing.now)
    job.save()
    if train and train.handed_over_on is None:
        train.handed_over_on = day
        train.save()


def was_disinfected(sheet: Sheet) -> bool:
    return sheet.text(LineKey.DISINFECT_SCOPE) == DONE_HERE


def _sample_pending(closing: Closing, *, at: datetime) -> None:
    record = closing.record
    if was_disinfected(closing.sheet):
        of_train = record.train.wells.first() if record.train else None
        open_notice(
            danger=Danger(
                site=record.site,
                well=of_train or Well.objects.only_one_at(record.site),
                level=DoNotUse.Level.SAMPLE_PENDING,
                cause=DoNotUse.Cause.DISINFECTED,
                occasion=record.uuid,
                reason="disinfected; bacteria sample to come",
            ),
            by=closing.by,
            now=closing.now,
            at=at,
        )


def _promise(closing: Closing, written: Written, *, visit: Visit, at: datetime) -> None:
    """What this record promises: by its closing, by changed settings, by fills."""
    record, sheet, by, now = closing.record, closing.sheet, closing.by, closing.now
    day = company_day(visit.left_at or at)
    about = follow_ups.About(record.site, record.train, visit=visit)
    for fill in written.fills:
        recalls.look_at(stage=fill.stage, by=by, now=now)
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
    if sheet.is_startup:
        follow_ups.happened(
            event=FollowUpRule.Event.STARTUP_CLOSED,
            about=about,
            day=day,
            by=by,
            now=now,
            job_kind=record.job.kind,
            completed=True,
            disinfected=was_disinfected(sheet),
        )
    elif written.dose_moved_percent and sheet.feeder:
        follow_ups.happened(
            event=FollowUpRule.Event.SETTING_CHANGED,
            about=replace(about, stage=Stage.objects.get(pk=sheet.feeder.pk)),
            day=day,
            by=by,
            now=now,
            job_kind=record.job.kind,
            dose_moved_percent=written.dose_moved_percent,
        )
