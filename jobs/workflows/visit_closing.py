"""The end of a visit: outcome, how feeder and bypass were left, and what follows from it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Q

from equipment.models import Stage
from jobs.errors import BadEntry, WrongState
from jobs.models import ChecklistRecord, FollowUpRule, Job, Visit
from jobs.models.company import company_day

from . import facts, follow_ups
from .leaving import was_left
from .log import log
from .records import usual_purpose
from .treated import raise_by_visit
from .unreached import reached_again
from .visits import _end, _lock, _must_be_to_come, give_back, left_at
from .way_out import must_stay_unplugged

#: work that is completed by its record
NEEDS_A_CLOSED_RECORD = (Job.Kind.STARTUP, Job.Kind.REBED, Job.Kind.DISINFECT)


@dataclass(frozen=True)
class Ending:
    """How a visit ended, how feeder and bypass were left, and what caused the callback."""

    outcome: str
    feeder_left: str
    bypass_left: str
    outcome_note: str = ""
    defect_found: bool = False
    cause: str = ""
    cause_note: str = ""
    charge_kind: str = ""  # empty: as it stands at the job


@transaction.atomic
def close_visit(
    *, visit: Visit, ending: Ending, by: User, now: datetime, at: datetime | None = None
) -> Visit:
    """End a visit with exactly one outcome, and let every promise follow; all or nothing."""
    visit, outcome = _lock(visit), ending.outcome
    _must_be_to_come(visit)
    _check(visit, ending)
    if visit.arrived_at is None and visit.starts_at > now:
        raise WrongState("This visit has not begun. Move it to today, or cancel it.")
    moment = left_at(visit, at, now)
    if outcome in Visit.COMPLETING:
        _must_have_closed_its_record(visit)
    visit.feeder_left, visit.bypass_left = ending.feeder_left, ending.bypass_left
    _end(visit, outcome, note=ending.outcome_note, by=by, now=now, left_at=moment)
    if outcome in Visit.COMPLETING:
        _complete(visit, ending, by=by, now=now)
        follow_ups.close_by_visit(visit=visit, by=by, now=now)
    reached_again(site=visit.job.site, how="somebody was there", by=by, now=now)
    give_back(visit)
    raise_by_visit(visit, by=by, now=now)
    _promise(visit, by=by, now=now)
    log(verb="closed", subject=visit, by=by, now=now, site=visit.job.site, outcome=outcome)
    return visit


def _must_have_closed_its_record(visit: Visit) -> None:
    """A start-up without a closed record goes on, and so does any work whose record is open.

    A record of another kind that somebody opened by mistake and left empty stops nothing.
    """
    kind, records = visit.job.kind, visit.job.records.select_related("template")
    needs_one = kind in NEEDS_A_CLOSED_RECORD and kind != Job.Kind.REBED
    if needs_one and not records.exists():
        raise BadEntry(
            f"There is no record of this {visit.job.get_kind_display()}: begin it, or choose that "
            "the work goes on.",
            field="outcome",
        )
    is_of_it = Q(template__purpose=usual_purpose(visit.job)) | Q(answers__isnull=False)
    record = records.filter(is_of_it, status=ChecklistRecord.Status.OPEN).first()
    if record:
        raise BadEntry(
            f"The record of this work ({record.template.title}) is open: close it, or choose that "
            "the work goes on.",
            field="outcome",
        )


def _check(visit: Visit, ending: Ending) -> None:
    outcome, feeder_left, bypass_left = ending.outcome, ending.feeder_left, ending.bypass_left
    if outcome not in Visit.Outcome.values or outcome == Visit.Outcome.NO_ACCESS:
        raise BadEntry("Choose how the visit ended.", field="outcome")
    has_feeder = bool(visit.job.train_id) and _feeder(visit) is not None
    if feeder_left not in Visit.Feeder.values or (has_feeder and feeder_left == Visit.Feeder.NONE):
        raise BadEntry(
            "Say how the dosing pump was left: on, off or unplugged.", field="feeder_left"
        )
    if bypass_left not in Visit.Bypass.values or (has_feeder and bypass_left == Visit.Bypass.NONE):
        raise BadEntry("Say how the bypass was left: SERVICE or BYPASS.", field="bypass_left")
    if bypass_left == Visit.Bypass.BYPASSED and feeder_left == Visit.Feeder.ON:
        raise BadEntry(
            "BYPASS (untreated): unplug the dosing pump, or its solution goes to the kitchen.",
            field="feeder_left",
        )
    held = must_stay_unplugged(visit.job) if feeder_left == Visit.Feeder.ON else ""
    if held:
        raise BadEntry(
            f"Passed over in the record: {held}. The dosing pump stays unplugged.",
            field="feeder_left",
        )
    if ending.charge_kind and ending.charge_kind not in Job.Charge.values:
        raise BadEntry("Choose one of those offered.", field="charge_kind")
    is_callback = visit.job.callback_answer == Job.CallbackAnswer.YES
    if outcome in Visit.COMPLETING and is_callback and ending.cause not in Job.Cause.values:
        raise BadEntry("Say what caused this callback.", field="cause")


def _feeder(visit: Visit) -> Stage | None:
    return Stage.objects.fitted().filter(train=visit.job.train_id, kind=Stage.Kind.FEEDER).first()


def _complete(visit: Visit, ending: Ending, *, by: User, now: datetime) -> None:
    job = visit.job
    if job.status != Job.Status.OPEN:
        return
    job.status = Job.Status.COMPLETED
    job.completed_at = now
    job.defect_found = ending.defect_found or visit.outcome == Visit.Outcome.DEFECT_FOUND
    if job.kind in Job.INDEX_KINDS and visit.bypass_left != Visit.Bypass.BYPASSED:
        facts.hand_over(job=job, day=facts.day_of(visit, now), visit=visit, by=by, now=now)
    is_charged_otherwise = ending.charge_kind not in ("", job.charge_kind)
    job.charge_kind = ending.charge_kind or job.charge_kind
    if ending.cause:
        job.cause, job.cause_note, job.cause_by = ending.cause, ending.cause_note, by
    job.save()
    if is_charged_otherwise:
        log(verb="charged", subject=job, by=by, now=now, site=job.site, charge=job.charge_kind)
    facts.note_report(job=job, by=by, now=now, reason="cause entered at closing")


def _promise(visit: Visit, *, by: User, now: datetime) -> None:
    """What this visit promises, whatever its outcome."""
    job, day = visit.job, company_day(visit.left_at or now)
    about = follow_ups.About(job.site, job.train, visit=visit)
    follow_ups.happened(
        event=FollowUpRule.Event.VISIT_CLOSED,
        about=about,
        day=day,
        by=by,
        now=now,
        job_kind=job.kind,
        outcome=visit.outcome,
        completed=visit.outcome in Visit.COMPLETING,
        is_callback=job.callback_answer == Job.CallbackAnswer.YES,
    )
    feeder = _feeder(visit) if job.train_id else None
    if feeder is None or visit.feeder_left != Visit.Feeder.ON:
        return
    began, left = visit.arrived_at or visit.starts_at, was_left(visit)
    follow_ups.happened(
        event=FollowUpRule.Event.FEEDER_LEFT_ON,
        about=replace(about, stage=feeder),
        day=day,
        by=by,
        now=now,
        job_kind=job.kind,
        changed=left or follow_ups.feeder_changed_since(feeder, began),
        completed=visit.outcome in Visit.COMPLETING
        and visit.outcome != Visit.Outcome.DEFECT_FOUND
        and not left,
    )
