"""A notice that is held by treatment at one house, and what brings it back to that house."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample, Site, Stage, Train
from jobs.errors import BadEntry, WrongState
from jobs.models import DoNotUse, HeldByTreatment, Visit
from jobs.models.company import company_day
from jobs.records.treatment import (
    Treatment,
    disinfecting,
    held_verdict,
    is_behind,
    starts_the_treatment,
    treatment_at,
    untreated_after,
)

from .log import log
from .telling import Adult

Raised = HeldByTreatment.Raised


@dataclass(frozen=True)
class Holding:
    """What a named person knows of the treatment: its alarm, and the adult who was told."""

    alarm: str
    alarm_tested_on: date
    told: Adult


@transaction.atomic
def hold(
    *, notice: DoNotUse, site: Site, holding: Holding, by: User, now: datetime
) -> HeldByTreatment:
    """Said by the office by name, on judged evidence; the notice itself stays open."""
    rows = DoNotUse.objects.select_for_update(of=("self",)).select_related("site", "well")
    notice = rows.get(pk=notice.pk)
    if notice.lifted_at or notice.level != DoNotUse.Level.NO_DRINKING:
        raise WrongState("Only a notice not to drink that stands is held by treatment.")
    standing = notice.held.filter(site=site, raised_at=None).first()
    if standing:
        return standing
    verdict = held_verdict(notice, site, now=now)
    if not verdict.lifts:
        raise WrongState(f"Not held. Still missing: {'; '.join(verdict.missing)}.")
    treatment = treatment_at(site, notice.well)
    assert treatment
    _check(holding, treatment, now=now)
    row = HeldByTreatment.objects.create(
        notice=notice,
        site=site,
        train=treatment.train,
        alarm=holding.alarm,
        alarm_tested_on=holding.alarm_tested_on,
        sample=Sample.objects.get(pk=verdict.counted[-1]),
        **holding.told.kept,
        at=now,
        by=by,
    )
    log(verb="notice_held", subject=notice, by=by, now=now, site=site, alarm=row.alarm)
    return row


def _check(holding: Holding, treatment: Treatment, *, now: datetime) -> None:
    if holding.alarm not in HeldByTreatment.Alarm.values:
        raise BadEntry("Say what warns the household when the treatment stops.", field="alarm")
    if holding.alarm_tested_on > company_day(now):
        raise BadEntry("That day lies ahead.", field="alarm_tested_on")
    fitted = max(part.fitted_on for part in treatment.parts)
    if holding.alarm_tested_on < fitted:
        raise BadEntry(
            f"The treatment was fitted on {fitted:%-d %B %Y}: its alarm was made to go after that.",
            field="alarm_tested_on",
        )
    holding.told.check()


@dataclass(frozen=True)
class Again:
    """Why the notice comes back, and the adult of the house who knows it, if somebody does."""

    why: str
    note: str = ""
    told: Adult | None = None


@transaction.atomic
def raise_again(*, held: HeldByTreatment, again: Again, by: User, now: datetime) -> HeldByTreatment:
    """Treatment holds nothing any more at this house, until new samples are in."""
    held = HeldByTreatment.objects.select_for_update(of=("self",)).get(pk=held.pk)
    if held.raised_at:
        return held
    _refuse_lifted(held)
    if again.why not in Raised.values:
        raise BadEntry("Choose what happened.", field="why")
    if again.why == Raised.OTHER and not again.note.strip():
        raise BadEntry("Say what happened.", field="note")
    held.raised_at, held.raised_by, held.raised_why = now, by, again.why
    held.raised_note = again.note.strip()[:200]
    if again.told:
        _note_told(held, again.told)
    held.save()
    log(verb="notice_back", subject=held.notice, by=by, now=now, site=held.site, why=again.why)
    return held


def _refuse_lifted(held: HeldByTreatment) -> None:
    """The well is free again: nothing is held there, nothing comes back, nobody is called."""
    if lifted_at := held.notice.lifted_at:
        day = company_day(lifted_at)
        raise WrongState(f"This notice was lifted on {day:%-d %B %Y}: it does not hold any more.")


def _note_told(held: HeldByTreatment, adult: Adult) -> None:
    adult.check()
    for name, said in adult.kept.items():
        setattr(held, f"raised_{name}", said)


@transaction.atomic
def tell_raised(*, held: HeldByTreatment, adult: Adult, by: User, now: datetime) -> HeldByTreatment:
    """An adult of the house knows that the notice is back; the first telling stands."""
    held = HeldByTreatment.objects.select_for_update(of=("self",)).get(pk=held.pk)
    _refuse_lifted(held)
    if held.raised_at is None:
        raise WrongState("Treatment holds this notice: nothing is to be told.")
    adult.check()
    if not held.raised_whom:
        _note_told(held, adult)
        held.save()
        log(verb="notice_back_told", subject=held.notice, by=by, now=now, site=held.site)
    return held


# --- what raises it by itself ---------------------------------------------------------------------


def raise_by_result(sample: Sample, *, by: User, now: datetime) -> None:
    """Bacteria behind the treatment; bacteria at the raw tap are why it is held at all."""
    for held in HeldByTreatment.objects.standing().filter(site=sample.site):
        treatment = treatment_at(held.site, held.notice.well)
        if is_behind(sample, treatment):
            note = f"sample of {company_day(sample.taken_at):%-d %B %Y}, {sample.tap}"
            raise_again(held=held, again=Again(Raised.FOUND, note), by=by, now=now)


def raise_by_notice(notice: DoNotUse, *, by: User, now: datetime) -> None:
    """E. coli or a flood: treatment alone does not hold that, at any house."""
    for held in notice.held.filter(raised_at=None):
        raise_again(held=held, again=Again(Raised.GRAVER, notice.reason), by=by, now=now)


def raise_by_visit(visit: Visit, *, by: User, now: datetime) -> None:
    """A visit that leaves the system bypassed or its dosing pump off."""
    for held in HeldByTreatment.objects.standing().filter(train=visit.job.train_id):
        parts = disinfecting(Stage.objects.fitted().with_catalog().filter(train=held.train_id))
        why = untreated_after(visit, Treatment(held.train, parts))
        if why:
            raise_again(held=held, again=Again(why), by=by, now=now)


def raise_by_part(stage: Stage, *, by: User, now: datetime) -> None:
    """A part that disinfects ends; asked while it is still fitted."""
    rows = HeldByTreatment.objects.standing().filter(train=stage.train_id)
    fitted = Stage.objects.fitted().with_catalog().filter(train=stage.train_id)
    if rows and stage.pk in {part.pk for part in disinfecting(fitted)}:
        for held in rows:
            raise_again(held=held, again=Again(Raised.PARTS, str(stage)), by=by, now=now)


# --- what it opens --------------------------------------------------------------------------------


def blocking_start_up(site: Site, train: Train | None, *, now: datetime) -> DoNotUse | None:
    """The notice that a start-up waits for.

    None where treatment holds it, and none for the very system that is to hold a well which stays
    positive: the notice goes on standing over the taps while that is started.
    """
    for notice in DoNotUse.objects.blocking(site).select_related("site", "well"):
        if not starts_the_treatment(notice, train, now=now):
            return notice
    return None
