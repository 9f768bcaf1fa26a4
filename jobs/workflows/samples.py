"""Samples and what the laboratory says of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import ResultTold, Sample, Site, Stage, Well
from equipment.quantities import PlaceName
from jobs.errors import BadEntry, WrongState
from jobs.models import Customer, DoNotUse, FollowUpRule, ResultToldTo, SiteTenure
from jobs.models.company import company_day
from jobs.schedule.hours import date_words, zone_of

from . import follow_ups, notices
from .log import log
from .measurements import Reading, record_measurement
from .telling import Adult
from .treated import raise_by_result

#: the raw tap and the kitchen of one day
SAME_ROUND = timedelta(hours=24)


@dataclass(frozen=True)
class Result:
    """What the laboratory wrote, and when it had the bottle."""

    outcome: str
    on: date
    received_at: datetime | None = None
    is_accredited: bool | None = None
    figures: Iterable[Reading] = ()
    note: str = ""


@transaction.atomic
def send_sample(*, sample: Sample, by: User, now: datetime) -> Sample:
    """A bottle went to the laboratory; its result is promised."""
    if sample.taken_at > now:
        raise BadEntry("The time of sampling lies ahead.", field="taken_at")
    if sample.kind == Sample.Kind.BACTERIA and sample.residual_free is False:
        raise BadEntry(
            "A bacteria sample with oxidant in the water says nothing: flush, then take it anew.",
            field="residual_free",
        )
    place = named_place(sample.place, sample.place_stage, sample.tap_name)
    sample.place_stage, sample.tap_name = place
    sample.well = sample.well or Well.objects.only_one_at(sample.site)
    nameless = sample.kind == Sample.Kind.BACTERIA and sample.well is None
    if nameless and Well.objects.at_site(sample.site).exists():
        raise BadEntry("Choose the well: bacteria belong to it.", field="well")
    sample.save()
    log(verb="sampled", subject=sample, by=by, now=now, site=sample.site, kind=sample.kind)
    follow_ups.happened(
        event=FollowUpRule.Event.SAMPLE_SENT,
        about=follow_ups.About(sample.site, sample=sample),
        day=company_day(sample.taken_at),
        by=by,
        now=now,
        sample_kind=sample.kind,
    )
    return sample


def named_place(place: str, stage: Stage | None, name: str) -> tuple[Stage | None, str]:
    """The part or the name that belongs to a place; refused where it is missing."""
    Place = Sample.Place
    if place not in Place.values or place == Place.WRITTEN:
        raise BadEntry("Choose where it was taken.", field="place")
    if place == Place.AFTER_STAGE and stage is None:
        raise BadEntry("Choose after which part it was taken.", field="place_stage")
    if place == Place.OTHER_TAP and not name.strip():
        raise BadEntry("Name the tap as the household calls it.", field="tap_name")
    is_after, is_named = place == Place.AFTER_STAGE, place == Place.OTHER_TAP
    return stage if is_after else None, name.strip() if is_named else ""


@transaction.atomic
def enter_result(*, sample: Sample, result: Result, by: User, now: datetime) -> Sample:
    """A result with who read it. A positive one opens "do not drink" at once."""
    rows = Sample.objects.select_for_update(of=("self",)).select_related("site", "well")
    sample = rows.get(pk=sample.pk)
    _check_result(sample, result, now=now)
    sample.outcome, sample.result_on, sample.read_by = result.outcome, result.on, by
    sample.received_at, sample.is_accredited = result.received_at, result.is_accredited
    sample.note = result.note or sample.note
    sample.save()
    for figure in result.figures:
        record_measurement(
            about=sample,
            reading=replace(figure, place=_place_of(sample), place_stage=sample.place_stage),
            measured_at=sample.taken_at,
            by=by,
            now=now,
        )
    log(verb="result", subject=sample, by=by, now=now, site=sample.site, outcome=sample.outcome)
    if sample.is_found:
        _warn(sample, by=by, now=now)
        raise_by_result(sample, by=by, now=now)
    follow_ups.close_by_result(sample=sample, by=by, now=now)
    follow_ups.happened(
        event=FollowUpRule.Event.RESULT_ENTERED,
        about=follow_ups.About(sample.site, sample=sample),
        day=company_day(now),
        by=by,
        now=now,
        sample_kind=sample.kind,
        outcome=sample.outcome,
    )
    return sample


def _check_result(sample: Sample, result: Result, *, now: datetime) -> None:
    if sample.outcome != Sample.Outcome.WAITING:
        raise WrongState("The result of this sample is entered already.")
    if result.outcome not in Sample.Outcome.values or result.outcome == Sample.Outcome.WAITING:
        raise BadEntry("Say what the laboratory found.", field="outcome")
    if result.on > company_day(now):
        raise BadEntry("The day of the result lies ahead.", field="result_on")
    if result.on < company_day(sample.taken_at):
        raise BadEntry("The result is older than the sample.", field="result_on")
    received = result.received_at
    if received and received < sample.taken_at:
        raise BadEntry("The laboratory had it before it was taken.", field="received_at")
    if received and company_day(received) > result.on:
        raise BadEntry("The laboratory had it after its result.", field="received_at")


def _place_of(sample: Sample) -> str:
    """The place of a figure of it; words of older samples are read when they are asked."""
    if sample.place == Sample.Place.WRITTEN:
        return sample.tap_name[:20]
    return str(PlaceName(sample.place))


@transaction.atomic
def tell_result(
    *,
    sample: Sample,
    site: Site,
    adult: Adult,
    by: User,
    now: datetime,
    customer: Customer | None = None,
) -> ResultTold:
    """An adult of one house on that water knows of it, by name; the first telling stands.

    It counts for the contact that is named; where nobody is told of water, for the house.
    """
    sample = Sample.objects.select_for_update(of=("self",)).get(pk=sample.pk)
    if sample.outcome in (Sample.Outcome.WAITING, Sample.Outcome.SPOILED):
        raise WrongState("There is no result to tell yet.")
    adult.check()
    customer = customer or only_one_to_tell(site)
    whom = ResultToldTo.objects.filter(told__sample=sample, customer=customer)
    known = whom.select_related("told").first() if customer else None
    before = known.told if known else _told_the_house(sample, site)
    if before:
        return before
    told: ResultTold = ResultTold.objects.create(
        sample=sample, site=site, **adult.kept, read_back=True, at=now, by=by
    )
    if customer:
        ResultToldTo.objects.create(told=told, customer=customer)
    log(verb="result_told", subject=sample, by=by, now=now, site=site, how=adult.how)
    return told


def only_one_to_tell(site: Site) -> Customer | None:
    """Whom it counts for where nobody was chosen; refused where several must be told."""
    rows = SiteTenure.objects.open().told_of_water().filter(site=site)
    people = {row.customer_id: row.customer for row in rows.select_related("customer")}
    if len(people) > 1:
        raise BadEntry("Choose who of the house was told.", field="person")
    return next(iter(people.values()), None)


def _told_the_house(sample: Sample, site: Site) -> ResultTold | None:
    counted = ResultToldTo.objects.filter(told__sample=sample).values("told")
    rows = ResultTold.objects.filter(sample=sample, site=site).exclude(pk__in=counted)
    return rows.first()


def _warn(sample: Sample, *, by: User, now: datetime) -> None:
    """Bacteria belong to the well; found in a kitchen while the raw tap was free, to that house."""
    what, cause = "coliform bacteria", DoNotUse.Cause.COLIFORM
    if sample.outcome == Sample.Outcome.ECOLI:
        what, cause = "E. coli", DoNotUse.Cause.ECOLI
    notices.open_notice(
        danger=notices.Danger(
            site=sample.site,
            well=None if _raw_was_free(sample) else sample.well,
            level=DoNotUse.Level.NO_DRINKING,
            cause=cause,
            reason=f"{what} found in the sample of {_day(sample)}, {sample.tap}",
        ),
        by=by,
        now=now,
    )


def _day(sample: Sample) -> str:
    """By the clock of the house."""
    return date_words(sample.taken_at.astimezone(zone_of(sample.site)).date())


def _raw_was_free(sample: Sample) -> bool:
    """The raw tap of the same round was negative, and nobody could have spoiled it."""
    if sample.well is None or sample.place == Sample.Place.RAW:
        return False
    near = Sample.objects.filter(
        well=sample.well,
        kind=Sample.Kind.BACTERIA,
        place=Sample.Place.RAW,
        taken_at__gte=sample.taken_at - SAME_ROUND,
        taken_at__lte=sample.taken_at + SAME_ROUND,
    )
    return near.filter(outcome=Sample.Outcome.NEGATIVE, residual_free=True).exists()
