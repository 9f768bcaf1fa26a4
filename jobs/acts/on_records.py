"""Acts on a record: answers, lines left open or passed over, cautions, waits, its two ends."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db import transaction

from equipment.models import Stage
from jobs.errors import BadEntry, DoNotUseOpen, JobsError, OtherTime
from jobs.forms.pouring import NOT_ASKED, PouringForm
from jobs.models import ChecklistRecord, Job
from jobs.workflows import answers, records, timers
from jobs.workflows.acts import Done
from jobs.workflows.answers import Entered, Place
from jobs.workflows.pouring import all_told, houses_of, note_uses
from jobs.workflows.way_out import WayOut

from .doing import Doing, valid, visit_of
from .new_limits import judged_anew

LONGEST_TEXT = 2000


@dataclass(frozen=True)
class PartNumber:
    """A part by its number; whether there is one the workflow looks."""

    pk: int
    #: which of its tanks side by side, 0: the part as a whole
    tank: int = 0


def place_of(doing: Doing) -> Place:
    stage = doing.whole("stage")
    part = PartNumber(stage, doing.whole("tank") or 0) if stage else None
    return Place(doing.text("line"), part, doing.text("side"))


def answer(doing: Doing) -> Done:
    return answer_all([doing])[0]


def answer_all(doings: Sequence[Doing]) -> list[Done]:
    """Answers on one record, kept in one go; each refused by itself."""
    first, record = doings[0], doings[0].the_record()
    entries = {place_of(doing): _entered(doing) for doing in doings}
    refused = answers.save_answers(
        record=record,
        entries=entries,
        by=first.by,
        now=first.now,
        visit=visit_of(record, first.by),
    )
    keys = {place.line_key for place in entries}
    rows = record.answers.filter(line_key__in=keys)
    versions = {(r.line_key, r.stage_id, r.tank, r.side): r.version for r in rows}
    done = [_of_place(place, refused, versions) for place in entries]
    judged_anew(zip(entries, doings, done, strict=True))
    return done


def _of_place(
    place: Place,
    refused: dict[Place, JobsError],
    versions: dict[tuple[str, int | None, int, str], int],
) -> Done:
    if refusal := refused.get(place):
        return Done(refusal=refusal)
    return Done(version=versions.get((place.line_key, place.stage_id, place.tank, place.side), 0))


def _entered(doing: Doing) -> Entered:
    text = doing.text("text")
    if len(text) > LONGEST_TEXT:
        raise BadEntry(f"At most {LONGEST_TEXT} characters.", field="text")
    return Entered(
        text,
        doing.text("unit")[:20],
        doing.figure("dilution", 1.0),
        doing.said("confirmed"),
        at=doing.at,
        version=doing.base,
    )


def skip(doing: Doing) -> Done:
    record, place = doing.the_record(), place_of(doing)
    if place.stage_id and not Stage.objects.filter(pk=place.stage_id).exists():
        raise BadEntry("Choose a part of this system.", field="stage")
    row = answers.skip_line(record=record, place=place, reason=doing.text("reason"), **doing.who)
    return Done(version=row.version)


def override(doing: Doing) -> Done:
    answers.override_gate(
        record=doing.the_record(),
        line_key=doing.text("line"),
        reason=doing.text("reason"),
        way_out=WayOut(doing.said("unplugged"), doing.text("bypass")),
        **doing.who,
    )
    return Done()


def override_back(doing: Doing) -> Done:
    answers.take_back_override(record=doing.the_record(), line_key=doing.text("line"), **doing.who)
    return Done()


def acknowledge(doing: Doing) -> Done:
    answers.acknowledge_caution(
        record=doing.the_record(), caution=doing.text("caution"), **doing.who
    )
    return Done()


def timer_start(doing: Doing) -> Done:
    _must_be_sure(doing)
    timers.start_timer(record=doing.the_record(), line_key=doing.text("line"), **doing.who)
    return Done()


def timer_again(doing: Doing) -> Done:
    _must_be_sure(doing)
    timers.restart_timer(record=doing.the_record(), line_key=doing.text("line"), **doing.who)
    return Done()


def _must_be_sure(doing: Doing) -> None:
    if not doing.said("sure"):
        raise BadEntry("Confirm first that the chlorine is in and reads its target.", field="sure")


def timer_stop(doing: Doing) -> Done:
    timers.stop_timer(record=doing.the_record(), line_key=doing.text("line"), **doing.who)
    return Done()


def timer_undo(doing: Doing) -> Done:
    timers.undo_timer(
        record=doing.the_record(),
        line_key=doing.text("line"),
        reason=doing.text("reason"),
        **doing.who,
    )
    return Done()


def pour(doing: Doing) -> Done:
    """Uses are kept also where the pouring is refused; what is in already is kept as it is."""
    record = doing.the_record()
    houses, late = houses_of(record), doing.by_phone
    form = valid(PouringForm(doing.post(), houses=houses, has_happened=late))
    for site, kinds in form.uses().items():
        note_uses(site=site, kinds=kinds, by=doing.by, now=doing.now)
    said = "“Do not use the water” stands now, at every house on the well."
    is_in = form.cleaned_data["is_in_already"]
    told = {"record": record, "told": form.told(), **doing.who}
    against = [f"{site}: {NOT_ASKED}" for site in form.not_asked() if late and not is_in]
    try:
        with transaction.atomic():
            all_told(is_in_already=is_in, **told)
    except (DoNotUseOpen, BadEntry) as refusal:
        if not late or isinstance(refusal, OtherTime):
            return Done(refusal=refusal)
        all_told(is_in_already=True, **told)  # it happened: what to do now is said with it
        against.insert(0, refusal.message)
    except JobsError as refusal:
        return Done(refusal=refusal)
    if against:
        return Done(against=f"{' '.join(against)} The chlorine is in: call the office at once.")
    return Done(said=said)


def record_open(doing: Doing) -> Done:
    """The record of the job of a visit, under the name the phone gave it or the one it has."""
    visit = doing.the_visit()
    job = Job.objects.select_related("site", "train").get(pk=visit.job_id)
    purpose = doing.text("purpose") or records.usual_purpose(job)
    record = records.open_record(
        job=job,
        purpose=purpose,
        uuid=doing.record_name,
        version=doing.whole("version"),
        **doing.who,
    )
    return Done(record=record, made={"record": str(record.uuid)})


def record_close(doing: Doing) -> Done:
    record = doing.the_record()
    visit = doing.visit or visit_of(record, doing.by)
    if visit is None:
        raise BadEntry("There is no visit of this job to close the record in.", field="visit")
    closed: ChecklistRecord = records.close_record(record=record, visit=visit, **doing.who)
    return Done(said=f"{closed.template.title} closed.")
