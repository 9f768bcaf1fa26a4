"""Water that must not be used or not be drunk: opened, lifted, and what it stops."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample, Site, SpecialUse, Train, Well
from equipment.models.trains import Stage
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.states import PASSED
from jobs.models import ChecklistRecord, ChecklistTemplate, DoNotUse, Timer
from jobs.records.bacteria import verdict_of
from jobs.records.loading import load_sheet

from .log import log

Purpose = ChecklistTemplate.Purpose


@transaction.atomic
def open_notice(
    *,
    site: Site,
    level: str,
    reason: str,
    by: User,
    now: datetime,
    cause: str = DoNotUse.Cause.OTHER,
    well: Well | None = None,
    occasion: uuid.UUID | None = None,
) -> DoNotUse:
    """One notice of a level stands at a house, or at a well for every house on it.

    Opening it again gives the standing one, with the graver cause.
    """
    if level not in DoNotUse.Level.values:
        raise BadEntry("Choose no use, no drinking or sample pending.", field="level")
    if cause not in DoNotUse.Cause.values:
        raise BadEntry("Choose why.", field="cause")
    if not reason.strip():
        raise BadEntry("Say why the water must not be used.", field="reason")
    if level == DoNotUse.Level.NO_USE:
        well = None
    standing = DoNotUse.objects.select_for_update().standing().filter(level=level)
    found = standing.filter(well=well) if well else standing.filter(site=site, well=None)
    notice = found.first()
    if notice:
        return _made_graver(notice, cause=cause, reason=reason, by=by, now=now)
    notice = DoNotUse.objects.create(
        site=site,
        well=well,
        level=level,
        cause=cause,
        reason=reason.strip(),
        opened_at=now,
        opened_by=by,
        occasion=occasion,
    )
    log(verb="notice_opened", subject=notice, by=by, now=now, site=site, level=level, cause=cause)
    return notice


#: the graver one stands; a flood asks for more than any find
GRAVITY = (DoNotUse.Cause.COLIFORM, DoNotUse.Cause.ECOLI, DoNotUse.Cause.FLOOD)


def _made_graver(notice: DoNotUse, *, cause: str, reason: str, by: User, now: datetime) -> DoNotUse:
    ranks = {name: rank for rank, name in enumerate(GRAVITY, 1)}
    if ranks.get(DoNotUse.Cause(cause), 0) <= ranks.get(DoNotUse.Cause(notice.cause), 0):
        return notice
    notice.cause, notice.reason = cause, f"{reason.strip()}; {notice.reason}"[:200]
    notice.save()
    log(verb="notice_graver", subject=notice, by=by, now=now, site=notice.site, cause=cause)
    return notice


@transaction.atomic
def lift_notice(*, notice: DoNotUse, by: User, now: datetime, reading: str = "") -> DoNotUse:
    """Lifted by a named person: no use on a reading, the others on judged evidence."""
    rows = DoNotUse.objects.select_for_update(of=("self",)).select_related("site", "well")
    notice = rows.get(pk=notice.pk)
    if notice.lifted_at:
        return notice
    if notice.is_about_bacteria:
        notice.lifted_on_sample = _evidence(notice, now=now)
    else:
        if not reading.strip():
            raise BadEntry("Give the reading at the tap that lifts it.", field="reading")
        _refuse_while_chlorine_works(notice.site, now=now)
    notice.lifted_at, notice.lifted_by = now, by
    notice.lifted_on_reading = reading.strip()
    notice.save()
    log(verb="notice_lifted", subject=notice, by=by, now=now, site=notice.site, level=notice.level)
    return notice


def _evidence(notice: DoNotUse, *, now: datetime) -> Sample | None:
    """The last of the samples that lift it; refused with everything that is missing."""
    verdict = verdict_of(notice, now=now)
    if not verdict.lifts:
        raise WrongState(f"Not lifted. Still missing: {'; '.join(verdict.missing)}.")
    return Sample.objects.get(pk=verdict.counted[-1])


def _refuse_while_chlorine_works(site: Site, *, now: datetime) -> None:
    """Chlorine of an open record is out when its low-range reading has passed after the contact."""
    waits = Timer.objects.filter(line_key=LineKey.CONTACT, record__site=site)
    for wait in waits.filter(record__status=ChecklistRecord.Status.OPEN):
        over_at = wait.stopped_at or wait.started_at + timedelta(minutes=wait.needed_minutes)
        flushed = load_sheet(wait.record, now=now).item(LineKey.FLUSH_LOW)
        read = flushed.deciding if flushed and flushed.state == PASSED else None
        if read is None or read.read_at < over_at:
            raise WrongState(
                "Chlorine is in this water: the notice is lifted after flushing, on the low-range "
                "reading of the record, taken after the contact time. Flushing is always allowed.",
                field="reading",
            )


@transaction.atomic
def clinic_told(*, special_use: SpecialUse, whom: str, by: User, now: datetime) -> SpecialUse:
    """Home dialysis: the clinic has been told, by whom and when."""
    if special_use.kind != SpecialUse.Kind.DIALYSIS:
        raise WrongState("Only home dialysis asks for a word to the clinic.")
    if not whom.strip():
        raise BadEntry("Say who at the clinic was told.", field="whom")
    special_use.told_at, special_use.told_by, special_use.told_whom = now, by, whom.strip()
    special_use.save()
    log(verb="clinic_told", subject=special_use, by=by, now=now, site=special_use.site)
    return special_use


def refuse_if_blocked(*, site: Site, train: Train | None, purpose: str) -> None:
    """What stops chlorine or an oxidant at this site: dialysis, and for a start-up no drinking."""
    oxidant = purpose == Purpose.DISINFECT or (
        purpose == Purpose.STARTUP and train is not None and _has_feeder(train)
    )
    if oxidant:
        refuse_for_dialysis(site=site)
    if purpose == Purpose.STARTUP and DoNotUse.objects.blocking().at_site(site).exists():
        raise DoNotUseOpen(
            "The water at this site must not be drunk: the start-up waits until the samples are in "
            "that lift the notice, and a named person has lifted it."
        )


def refuse_for_dialysis(*, site: Site) -> None:
    uses = SpecialUse.objects.filter(site=site, kind=SpecialUse.Kind.DIALYSIS, ended_on=None)
    if any(use.blocks_oxidant for use in uses):
        raise DoNotUseOpen(
            "Home dialysis on this water: no disinfection and no oxidant until the clinic has been "
            "told. Note on the site's page who told whom."
        )


def _has_feeder(train: Train) -> bool:
    return train.stages.fitted().filter(kind=Stage.Kind.FEEDER).exists()
