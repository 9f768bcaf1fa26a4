"""Samples and what the laboratory says of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Sample
from jobs.errors import BadEntry, WrongState
from jobs.models import DoNotUse, FollowUpRule
from jobs.models.company import company_day

from . import follow_ups, notices
from .log import log
from .measurements import Reading, record_measurement


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


@transaction.atomic
def enter_result(
    *,
    sample: Sample,
    outcome: str,
    result_on: date,
    by: User,
    now: datetime,
    figures: Iterable[Reading] = (),
    note: str = "",
) -> Sample:
    """A result with who read it. A positive one opens "do not drink" at once."""
    sample = Sample.objects.select_for_update().get(pk=sample.pk)
    if sample.outcome != Sample.Outcome.WAITING:
        raise WrongState("The result of this sample is entered already.")
    if outcome not in Sample.Outcome.values or outcome == Sample.Outcome.WAITING:
        raise BadEntry("Say what the laboratory found.", field="outcome")
    if result_on > company_day(now):
        raise BadEntry("The day of the result lies ahead.", field="result_on")
    if result_on < company_day(sample.taken_at):
        raise BadEntry("The result is older than the sample.", field="result_on")
    sample.outcome, sample.result_on, sample.read_by = outcome, result_on, by
    sample.note = note or sample.note
    sample.save()
    for figure in figures:
        record_measurement(
            about=sample,
            reading=replace(figure, place=sample.place[:20]),
            measured_at=sample.taken_at,
            by=by,
            now=now,
        )
    log(verb="result", subject=sample, by=by, now=now, site=sample.site, outcome=outcome)
    if outcome == Sample.Outcome.POSITIVE:
        _warn(sample, by=by, now=now)
    follow_ups.close_by_result(sample=sample, by=by, now=now)
    follow_ups.happened(
        event=FollowUpRule.Event.RESULT_ENTERED,
        about=follow_ups.About(sample.site, sample=sample),
        day=company_day(now),
        by=by,
        now=now,
        sample_kind=sample.kind,
        outcome=outcome,
    )
    return sample


@transaction.atomic
def tell_result(*, sample: Sample, whom: str, how: str, by: User, now: datetime) -> Sample:
    """An adult of the house knows of it, by name; the first telling stands."""
    sample = Sample.objects.select_for_update(of=("self",)).get(pk=sample.pk)
    if sample.outcome in (Sample.Outcome.WAITING, Sample.Outcome.SPOILED):
        raise WrongState("There is no result to tell yet.")
    if not whom.strip():
        raise BadEntry("Say the name of the adult who was told.", field="whom")
    if how not in Sample.How.values:
        raise BadEntry("By telephone or at the house; a voice mail is not told.", field="how")
    if sample.told_customer_at is None:
        sample.told_customer_at, sample.told_by = now, by
        sample.told_whom, sample.told_how = whom.strip()[:120], how
        sample.save()
        log(verb="result_told", subject=sample, by=by, now=now, site=sample.site, how=how)
    return sample


def _warn(sample: Sample, *, by: User, now: datetime) -> None:
    level = DoNotUse.Level.NO_DRINKING
    if DoNotUse.objects.standing().filter(site=sample.site, level=level).exists():
        return
    notices.open_notice(
        site=sample.site,
        level=level,
        by=by,
        now=now,
        reason=f"bacteria found in the sample of {sample.taken_at:%-d %B %Y}",
    )
