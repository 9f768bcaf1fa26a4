"""A closed record is corrected by a newer version, with a name and a reason. The old one stays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Stage
from jobs.access import has_role
from jobs.errors import BadEntry, NotAllowed, WrongState
from jobs.fieldwork.asked import Item
from jobs.fieldwork.kinds import KEPT_BY_PAGE
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.values import read_answer
from jobs.mail.about import record_corrected
from jobs.models import ChecklistRecord, FollowUpRule, RecordCorrection
from jobs.models.company import company_day
from jobs.records.loading import load_sheet
from jobs.records.paper import printed
from jobs.wording.figures import unit

from . import follow_ups, recalls
from .answers import may_write
from .documents import make_document
from .evidence import Closing, Written, correct_evidence
from .log import log
from .reasons import reason_given
from .wanting import found_wanting, wanting


@dataclass(frozen=True)
class Right:
    """What should have been written: as typed, in which unit, and why."""

    text: str
    reason: str
    unit: str = ""


def may_correct(record: ChecklistRecord, by: User) -> bool:
    return record.is_closed and (has_role(by, "dispatcher") or may_write(record, by))


@transaction.atomic
def correct_record(
    *, record: ChecklistRecord, item_key: str, side: str, right: Right, by: User, now: datetime
) -> RecordCorrection:
    """One answer of a closed record put right: a new version, a new print and a letter.

    Figures, settings and fills of the record get newer rows, and promises follow those.
    """
    record = to_correct(record, reason=right.reason, by=by)
    item = _item(load_sheet(record, now=now), item_key, side)
    row = _version(record, item, side, right)
    return carry_out(record, row, by=by, now=now, item_key=item_key)


def to_correct(record: ChecklistRecord, *, reason: str, by: User) -> ChecklistRecord:
    """The closed record, held until its newer version stands."""
    record = (
        ChecklistRecord.objects.select_for_update(of=("self",))
        .select_related("site", "train", "template", "job", "closed_in")
        .get(pk=record.pk)
    )
    if not record.is_closed:
        raise WrongState("This record is open: write the right answer into it.")
    if not may_correct(record, by):
        raise NotAllowed("Only the office, or who was on a visit of this job, corrects its record.")
    reason_given(reason, "Say why it is corrected: the customer reads it.")
    return record


def carry_out(
    record: ChecklistRecord,
    row: RecordCorrection,
    *,
    by: User,
    now: datetime,
    item_key: str = "",
) -> RecordCorrection:
    """The version stands, and what rests on it follows: figures, promises, print and letter.

    Where a line that must pass does not pass any more, the office has it on the worklist, not in
    the mail; the letter to the customer says what is done again.
    """
    wanting_before = wanting(load_sheet(record, now=now))
    stand(record, row, by=by, now=now)
    sheet = load_sheet(record, now=now)
    item = next(i for i in sheet.items if i.key == (item_key or row.line_key))
    written = correct_evidence(Closing(record, sheet, by, now), item, row.side)
    _promise(record, sheet, written, by=by, now=now)
    found_wanting(record, wanting_before, wanting(sheet), by=by, now=now)
    return print_anew(record, row, by=by, now=now)


def stand(record: ChecklistRecord, row: RecordCorrection, *, by: User, now: datetime) -> None:
    """As the next version of its record."""
    row.record, row.by, row.at = record, by, now
    row.version = record.corrections.count() + 2
    row.reason = row.reason.strip()[:300]
    row.save()


def print_anew(
    record: ChecklistRecord, row: RecordCorrection, *, by: User, now: datetime
) -> RecordCorrection:
    """What the record says with that version, on paper and in a letter."""
    log(
        verb="record_corrected",
        subject=record,
        by=by,
        now=now,
        site=record.site,
        reason=row.reason,
        line=row.line_key,
        version=row.version,
    )
    make_document(record=record, visit=record.closed_in, now=now, version=row.version)
    record_corrected.write(correction=row, now=now)
    return row


def _item(sheet: Sheet, key: str, side: str) -> Item:
    for item in sheet.items:
        if item.key == key and side in item.sides and item.line.kind not in KEPT_BY_PAGE:
            return item
    raise BadEntry("This record does not ask for that.", field="text")


def _version(record: ChecklistRecord, item: Item, side: str, right: Right) -> RecordCorrection:
    before, text = item.answers.get(side), right.text.strip()
    if not text and item.line.required:
        raise BadEntry(f"{item.label}: say what is right.", field="text")
    dilution = before.dilution if before else 1.0
    if text:
        try:
            read_answer(item.line, text, right.unit, dilution)
        except BadEntry as refusal:
            raise BadEntry(refusal.message, field="text") from refusal
    if before and (before.text, before.unit) == (text, right.unit):
        raise BadEntry("This is what the record says already.", field="text")
    row = RecordCorrection(
        record=record,
        line_key=item.line.key,
        side=side,
        stage_id=item.stage.pk if item.stage else None,
        tank=item.stage.tank if item.stage else 0,
        text=text,
        unit=right.unit,
        dilution=dilution,
        label=item.label[:300],
        before=printed(item, side)[:300],
        reason=right.reason,
    )
    row.after = _printed(item, side, row)
    return row


def _printed(item: Item, side: str, row: RecordCorrection) -> str:
    """The corrected answer as it is printed."""
    known = item.answers.get(side)
    if known is None:
        return f"{row.text} {unit(row.unit)}".strip()[:300]
    right = replace(known, text=row.text, unit=row.unit)
    return printed(replace(item, answers={**item.answers, side: right}), side)[:300]


def _promise(
    record: ChecklistRecord, sheet: Sheet, written: Written, *, by: User, now: datetime
) -> None:
    """Promises that rest on the corrected figure are made anew from it."""
    for fill in written.fills:
        recalls.look_at(stage=fill.stage, by=by, now=now)
        follow_ups.close_by_fill(fill=fill, by=by, now=now)
    if written.dose_moved_percent and sheet.feeder:
        stage = Stage.objects.get(pk=sheet.feeder.pk)
        follow_ups.happened(
            event=FollowUpRule.Event.SETTING_CHANGED,
            about=follow_ups.About(record.site, record.train, stage, visit=record.closed_in),
            day=company_day(now),
            by=by,
            now=now,
            job_kind=record.job.kind,
            dose_moved_percent=written.dose_moved_percent,
        )
