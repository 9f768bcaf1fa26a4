"""Water that must not be used or not be drunk: opened, lifted, and what it stops."""

from __future__ import annotations

import uuid
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from equipment.engineering.names import Oxidant
from equipment.models import Sample, Site, SpecialUse, Train, Well
from equipment.models.trains import Stage
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.fieldwork.facts import Timer as Wait
from jobs.fieldwork.keys import LineKey
from jobs.fieldwork.kinds import NEEDS_SAMPLES, LiftedOn, lifted_on
from jobs.fieldwork.sheet import Sheet
from jobs.fieldwork.states import PASSED
from jobs.models import ChecklistRecord, ChecklistTemplate, Company, DoNotUse, PourTold
from jobs.records.bacteria import verdict_of
from jobs.records.loading import load_sheet
from jobs.records.steps import versions_of, waits_of

from .log import log
from .moments import refuse_ahead
from .reasons import reason_given
from .shared_water import refuse_for_dialysis
from .treated import blocking_start_up, raise_by_notice

Purpose = ChecklistTemplate.Purpose


@dataclass(frozen=True)
class Danger:
    """What the water of a house must not be used for, why, and since which visit or record."""

    site: Site
    level: str
    reason: str
    cause: str = DoNotUse.Cause.OTHER
    well: Well | None = None
    occasion: uuid.UUID | None = None


@transaction.atomic
def open_notice(*, danger: Danger, by: User, now: datetime, at: datetime | None = None) -> DoNotUse:
    """One notice of a level stands at a house, or at a well for every house on it.

    What another kind of evidence ends is a notice of its own: bottles never lift fuel. Opening it
    again gives the standing one, with the graver cause. Where bacteria may be why the
    water must not be used, it must not be drunk either: readings at the taps lift the first alone.
    """
    site, level, cause, reason = danger.site, danger.level, danger.cause, danger.reason
    if level not in DoNotUse.Level.values:
        raise BadEntry("Choose no use, no drinking or sample pending.", field="level")
    if cause not in DoNotUse.Cause.values:
        raise BadEntry("Choose why.", field="cause")
    reason_given(reason, "Say why the water must not be used.")
    refuse_ahead(at or now, now)
    if level == DoNotUse.Level.NO_USE and cause in NEEDS_SAMPLES:
        too = replace(danger, level=DoNotUse.Level.NO_DRINKING)
        open_notice(danger=too, by=by, now=now, at=at)
    ends = lifted_on(level, cause)
    of_pipes = level == DoNotUse.Level.NO_USE or ends == LiftedOn.READINGS
    well = None if of_pipes else danger.well
    standing = DoNotUse.objects.select_for_update().standing().filter(level=level)
    found = standing.filter(well=well) if well else standing.filter(site=site, well=None)
    notice = next((row for row in found if lifted_on(row.level, row.cause) == ends), None)
    if notice:
        return _made_graver(notice, cause=cause, reason=reason, by=by, now=now)
    notice = DoNotUse.objects.create(
        site=site,
        well=well,
        level=level,
        cause=cause,
        reason=reason.strip(),
        opened_at=min(at or now, now),
        opened_by=by,
        occasion=danger.occasion,
    )
    log(verb="notice_opened", subject=notice, by=by, now=now, site=site, level=level, cause=cause)
    return notice


#: the graver one stands; a flood asks for more than any find
GRAVITY = (DoNotUse.Cause.COLIFORM, DoNotUse.Cause.ECOLI, DoNotUse.Cause.FLOOD)


def _made_graver(notice: DoNotUse, *, cause: str, reason: str, by: User, now: datetime) -> DoNotUse:
    if cause == DoNotUse.Cause.OTHER and reason.strip() not in notice.reason:
        return _with_reason(notice, reason.strip(), by=by, now=now)
    ranks = {name: rank for rank, name in enumerate(GRAVITY, 1)}
    if ranks.get(DoNotUse.Cause(cause), 0) <= ranks.get(DoNotUse.Cause(notice.cause), 0):
        return notice
    notice.cause, notice.reason = cause, f"{reason.strip()}; {notice.reason}"[:200]
    notice.save()
    log(verb="notice_graver", subject=notice, by=by, now=now, site=notice.site, cause=cause)
    raise_by_notice(notice, by=by, now=now)
    return notice


def _with_reason(notice: DoNotUse, reason: str, *, by: User, now: datetime) -> DoNotUse:
    """Another thing found beside: both stand in the one notice, and both must be ended."""
    notice.reason = f"{notice.reason}; {reason}"
    if len(notice.reason) > REASON_AT_MOST:
        raise BadEntry(
            f"A notice stands already: {notice.reason.removesuffix(reason)[:-2]}. Say what is new "
            "in fewer words.",
            field="reason",
        )
    notice.save()
    log(verb="notice_graver", subject=notice, by=by, now=now, site=notice.site, reason=reason)
    return notice


REASON_AT_MOST = 200


@dataclass(frozen=True, kw_only=True)
class Ended:
    """What was found out about a cause of which neither bottles nor strips tell."""

    what: str
    #: a laboratory, an office, a supplier or one of us
    said_by: str
    at: datetime

    def refuse(self, notice: DoNotUse, *, now: datetime) -> None:
        if not self.what.strip():
            raise BadEntry("Say what was found out and shows that it is over.", field="what")
        if not self.said_by.strip():
            raise BadEntry("Say who read or said it.", field="said_by")
        refuse_ahead(self.at, now, field="found_at")
        if self.at < notice.opened_at:
            raise BadEntry("That was before the notice was opened.", field="found_at")


@dataclass(frozen=True)
class OutOfPipes:
    """An oxidant, mg/L, in the order of reading: high-range strip, cold tap, hot tap."""

    #: None: not asked, the chlorine went in on another job
    high: float | None
    cold: float
    #: None: there is no hot water, or the heater was bypassed
    hot: float | None = None
    oxidant: str = Oxidant.CHLORINE

    @property
    def said(self) -> str:
        hot = f"hot tap {self.hot:g}" if self.hot is not None else "no hot water"
        high = f"high range {self.high:g}, " if self.high is not None else ""
        return f"{OXIDANT_READ[Oxidant(self.oxidant)]}: {high}cold tap {self.cold:g}, {hot}"

    def at_most(self, company: Company) -> float:
        """Permanganate is seen, not read: no pink in a white cup."""
        return {
            Oxidant.CHLORINE: company.flush_low_mg_l,
            Oxidant.PEROXIDE: company.peroxide_after_carbon_mg_l,
        }.get(Oxidant(self.oxidant), 0)

    def refuse(self, company: Company) -> None:
        """Strong chlorine bleaches the low-range colour: the high range is read first."""
        limit = self.at_most(company)
        if self.high is not None and self.high >= company.flush_high_mg_l:
            raise BadEntry(
                f"Flush on: below {company.flush_high_mg_l:g} mg/L by the high-range strip first.",
                field="high",
            )
        for field, value in (("cold", self.cold), ("hot", self.hot)):
            if value is not None and value > limit:
                raise BadEntry(f"Flush on: at most {limit:g} mg/L.", field=field)


OXIDANT_READ = {
    Oxidant.CHLORINE: "free chlorine, mg/L",
    Oxidant.PEROXIDE: "peroxide, mg/L",
    Oxidant.PERMANGANATE: "permanganate by its pink colour, 0 for none",
}


def out_of_pipes(sheet: Sheet) -> OutOfPipes | None:
    """The readings of a record after flushing, once each that is asked for has passed."""
    items = [sheet.item(key) for key in (LineKey.FLUSH_HIGH, LineKey.FLUSH_LOW, LineKey.FLUSH_HOT)]
    high, cold, hot = items
    if cold is None or cold.value is None or any(i and i.state != PASSED for i in items):
        return None
    return OutOfPipes(high.value if high else None, cold.value, hot.value if hot else None)


@transaction.atomic
def lift_notice(
    *,
    notice: DoNotUse,
    by: User,
    now: datetime,
    reading: OutOfPipes | None = None,
    ended: Ended | None = None,
) -> DoNotUse:
    """Lifted by a named person on evidence of its own cause: samples, readings or words."""
    rows = DoNotUse.objects.select_for_update(of=("self",)).select_related("site", "well")
    notice = rows.get(pk=notice.pk)
    if notice.lifted_at:
        return notice
    if notice.is_about_bacteria:
        notice.lifted_on_sample = _evidence(notice, now=now)
    if notice.is_ended_in_words:
        _in_words(notice, ended, now=now)
    if notice.is_read_at_taps:
        _on_reading(notice, reading, now=now)
    notice.lifted_at, notice.lifted_by = now, by
    notice.save()
    log(verb="notice_lifted", subject=notice, by=by, now=now, site=notice.site, level=notice.level)
    return notice


def _evidence(notice: DoNotUse, *, now: datetime) -> Sample | None:
    """The last of the samples that lift it; refused with everything that is missing."""
    verdict = verdict_of(notice, now=now)
    if not verdict.lifts:
        raise WrongState(f"Not lifted. Still missing: {'; '.join(verdict.missing)}.")
    return Sample.objects.get(pk=verdict.counted[-1])


def _in_words(notice: DoNotUse, ended: Ended | None, *, now: datetime) -> None:
    if ended is None:
        raise BadEntry(
            "The office lifts this one, on what was found out, by whom and when.", field="what"
        )
    ended.refuse(notice, now=now)
    notice.lifted_on_words, notice.lifted_words_at = ended.what.strip(), ended.at
    notice.lifted_words_by = ended.said_by.strip()


def _on_reading(notice: DoNotUse, reading: OutOfPipes | None, *, now: datetime) -> None:
    if reading is None:
        raise BadEntry("Give the readings at the taps that lift it.", field="cold")
    poured = PourTold.objects.filter(site=notice.site, record__uuid__in=[notice.occasion])
    if reading.oxidant != Oxidant.CHLORINE and poured.exists():
        raise BadEntry("Chlorine was poured here: read the chlorine.", field="oxidant")
    reading.refuse(Company.load())
    _refuse_while_chlorine_works(notice.site, now=now)
    notice.lifted_on_reading = reading.said[:120]


def _refuse_while_chlorine_works(site: Site, *, now: datetime) -> None:
    """Chlorine that was poured is out when it was flushed after the contact.

    At the house of an open record that is its low-range reading; another house on the well, and
    one whose record was closed over it, reads its own taps once the contact is over. Where no
    contact was begun, another house waits until the chlorine is out at the house of the record.
    """
    for row in PourTold.objects.filter(site=site).select_related("record"):
        wait = _contact_of(row.record)
        over_at = _over_at(wait, row.at, now=now)
        if over_at is None:
            raise WrongState("Chlorine is working in this water. " + AFTER_FLUSHING, field="high")
        if row.record.is_closed or (wait and row.record.site_id != site.pk):
            continue
        flushed = load_sheet(row.record, now=now).item(LineKey.FLUSH_LOW)
        read = flushed.deciding if flushed and flushed.state == PASSED else None
        if read is None or read.read_at < over_at:
            raise WrongState("Chlorine is in this water. " + AFTER_FLUSHING, field="high")


AFTER_FLUSHING = (
    "The notice is lifted after flushing, on the low-range reading of the record, taken after the "
    "contact time. Flushing is always allowed."
)


def _contact_of(record: ChecklistRecord) -> Wait | None:
    waits = waits_of(record.timers.order_by("pk"), versions_of(record))
    return next((each for each in waits if each.line_key == LineKey.CONTACT), None)


def _over_at(wait: Wait | None, poured_at: datetime, *, now: datetime) -> datetime | None:
    """When flushing began at the earliest; None while the chlorine works."""
    if wait is None:
        return poured_at  # flushed out again before its time began
    over_at = wait.stopped_at or wait.started_at + timedelta(minutes=wait.needed_minutes)
    return over_at if over_at <= now else None


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


def refuse_if_blocked(*, site: Site, train: Train | None, purpose: str, now: datetime) -> None:
    """What stops chlorine or an oxidant at this site: dialysis, and for a start-up no drinking."""
    oxidant = purpose == Purpose.DISINFECT or (
        purpose == Purpose.STARTUP and train is not None and _has_feeder(train)
    )
    if oxidant:
        refuse_for_dialysis(site=site, train=train)
    if purpose == Purpose.STARTUP and blocking_start_up(site, train, now=now):
        raise DoNotUseOpen(
            "The water at this site must not be drunk: the start-up waits until what lifts the "
            "notice is in, and a named person has lifted it."
        )


def _has_feeder(train: Train) -> bool:
    return train.stages.fitted().filter(kind=Stage.Kind.FEEDER).exists()
