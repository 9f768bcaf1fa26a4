"""Water that must not be used or not be drunk: opened, lifted, and what it stops."""

from __future__ import annotations

import uuid
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample, Site, SpecialUse, Train
from equipment.models.trains import Stage
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.states import PASSED
from jobs.models import ChecklistRecord, ChecklistTemplate, DoNotUse, Timer
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
    occasion: uuid.UUID | None = None,
) -> DoNotUse:
    """One notice of a level stands at a site; opening it again gives the standing one."""
    if level not in DoNotUse.Level.values:
        raise BadEntry("Choose no use, no drinking or sample pending.", field="level")
    if not reason.strip():
        raise BadEntry("Say why the water must not be used.", field="reason")
    standing = DoNotUse.objects.select_for_update().standing().filter(site=site, level=level)
    found = standing.first()
    if found:
        return found
    notice = DoNotUse.objects.create(
        site=site,
        level=level,
        reason=reason.strip(),
        opened_at=now,
        opened_by=by,
        occasion=occasion,
    )
    log(verb="notice_opened", subject=notice, by=by, now=now, site=site, level=level)
    return notice


@transaction.atomic
def lift_notice(
    *,
    notice: DoNotUse,
    by: User,
    now: datetime,
    reading: str = "",
    sample: Sample | None = None,
) -> DoNotUse:
    """Lifted by a named person: no use on a reading, no drinking on a negative sample."""
    notice = DoNotUse.objects.select_for_update().get(pk=notice.pk)
    if notice.lifted_at:
        return notice
    if notice.level == DoNotUse.Level.NO_USE and not reading.strip():
        raise BadEntry("Give the reading at the tap that lifts it.", field="reading")
    if notice.level == DoNotUse.Level.NO_USE:
        _refuse_while_chlorine_works(notice.site, now=now)
    needs_sample = notice.level in (DoNotUse.Level.NO_DRINKING, DoNotUse.Level.SAMPLE_PENDING)
    if needs_sample and not _is_negative(sample, notice):
        raise BadEntry(
            "Only a negative bacteria sample of this site, taken after the notice was opened, "
            "lifts it.",
            field="sample",
        )
    notice.lifted_at, notice.lifted_by = now, by
    notice.lifted_on_reading, notice.lifted_on_sample = reading.strip(), sample
    notice.save()
    log(verb="notice_lifted", subject=notice, by=by, now=now, site=notice.site, level=notice.level)
    return notice


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


def _is_negative(sample: Sample | None, notice: DoNotUse) -> bool:
    return (
        sample is not None
        and sample.site_id == notice.site_id
        and sample.kind == Sample.Kind.BACTERIA
        and sample.residual_free is not False
        and sample.outcome == Sample.Outcome.NEGATIVE
        and sample.taken_at >= notice.opened_at
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
    if purpose == Purpose.STARTUP and DoNotUse.objects.blocking().filter(site=site).exists():
        raise DoNotUseOpen(
            "The water at this site must not be drunk: the start-up waits until a negative sample "
            "is in and a named person has lifted the notice."
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
