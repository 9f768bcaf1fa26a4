"""From rows to the judgement of bacteria: a notice, or a promised sample, with its bottles."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q, QuerySet

from equipment.models import Measurement, Sample, Site, Well
from jobs.fieldwork.keys import FLUSHING, LineKey
from jobs.fieldwork.kinds import NoticeCause
from jobs.fieldwork.lifting import Bottle, Case, Verdict, Wanted, judge, why_not
from jobs.models import (
    Answer,
    ChecklistRecord,
    Company,
    DoNotUse,
    FollowUp,
    PourTold,
    RecordCorrection,
    Timer,
)

from .loading import company_facts
from .steps import waits_of


def verdict_of(notice: DoNotUse, *, now: datetime) -> Verdict:
    """Whether what is on file lifts a notice about bacteria."""
    return judge(case_of(notice, now=now))


def case_of(notice: DoNotUse, *, now: datetime) -> Case:
    case = _case(notice.site, notice.well, since=notice.opened_at, now=now)
    case = replace(case, cause=notice.cause, of_well=not _of_pipes_alone(notice))
    if notice.cause != NoticeCause.FLOOD:
        return case
    after = Sample.objects.of_water(notice.site, notice.well).filter(taken_at__gte=case.since)
    fuel = after.filter(kind=Sample.Kind.FUEL, outcome=Sample.Outcome.NEGATIVE)
    return replace(case, nitrate_mg_l=_nitrate(after), free_of_fuel=fuel.exists())


def _of_pipes_alone(notice: DoNotUse) -> bool:
    """Found in the kitchen, not at the raw tap: the well is not under the notice."""
    found = notice.cause in (NoticeCause.COLIFORM, NoticeCause.ECOLI)
    return found and notice.well is None and Well.objects.at_site(notice.site).exists()


def why_it_keeps_nothing(sample: Sample, promise: FollowUp, *, now: datetime) -> str:
    """Why a negative sample does not keep the promise of one; "" where it does."""
    well = sample.well or Well.objects.only_one_at(sample.site)
    since = promise.made_at
    case = replace(
        _case(sample.site, well, since=since, now=now), cause=NoticeCause.DISINFECTED, of_well=True
    )
    if case.chlorine_until is None:
        case = replace(case, chlorine_until=_left(promise) or since)
    return why_not(bottle_of(sample), case)


def _left(promise: FollowUp) -> datetime | None:
    """When the visit that the promise comes from left the house."""
    visit = promise.from_visit
    return (visit.left_at or visit.ends_at) if visit else None


def _case(site: Site, well: Well | None, *, since: datetime, now: datetime) -> Case:
    samples = Sample.objects.of_water(site, well).filter(kind=Sample.Kind.BACTERIA)
    houses = list(Site.objects.on_well(well)) if well else [site]
    return Case(
        cause=NoticeCause.OTHER,
        since=since,
        site=site.pk,
        of_well=well is not None,
        now=now,
        wanted=Wanted.of(company_facts(Company.load())),
        chlorine_until=_chlorine_until(houses),
        bottles=tuple(bottle_of(row) for row in samples.select_related("place_stage")),
    )


def bottle_of(row: Sample) -> Bottle:
    return Bottle(
        pk=row.pk,
        site=row.site_id,
        place=row.place,
        tap=row.tap,
        taken_at=row.taken_at,
        outcome=row.outcome,
        residual_free=row.residual_free,
        received_at=row.received_at,
        is_accredited=row.is_accredited,
    )


def _chlorine_until(houses: Iterable[Site]) -> datetime | None:
    """When the newest chlorine was flushed out; not before its contact, as corrected, is over.

    A contact that runs on lasts as long as it must. Chlorine whose contact was never begun was
    there when it was poured. A record next door counts where its chlorine went into the pipes of
    these houses too.
    """
    here = Q(site__in=houses) | Q(poured__site__in=houses)
    records = ChecklistRecord.objects.filter(here).values("pk")
    of_contact = {"record__in": records, "line_key": LineKey.CONTACT}
    versions: dict[int, list[RecordCorrection]] = {}
    for version in RecordCorrection.objects.filter(**of_contact).order_by("version"):
        versions.setdefault(version.record_id, []).append(version)
    ends = [
        wait.stopped_at or wait.started_at + timedelta(minutes=wait.needed_minutes)
        for timer in Timer.objects.filter(**of_contact)
        for wait in waits_of([timer], versions.get(timer.record_id, []))
    ]
    poured = PourTold.objects.filter(record__in=records).values_list("at", flat=True)
    out = [*_flushed_out(records, houses)] if poured or ends else []
    return max([*ends, *poured, *out], default=None)


def _flushed_out(
    records: QuerySet[ChecklistRecord, Any], houses: Iterable[Site]
) -> Iterable[datetime]:
    """When the taps were read after flushing: on the record, or next door where it was lifted."""
    read = Answer.objects.filter(record__in=records, line_key__in=FLUSHING).exclude(text="")
    yield from read.values_list("read_at", flat=True)
    of_them = ChecklistRecord.objects.filter(pk__in=records)
    lifted = DoNotUse.objects.filter(site__in=houses, level=DoNotUse.Level.NO_USE)
    lifted = lifted.exclude(lifted_at=None).filter(occasion__in=of_them.values("uuid"))
    own = of_them.filter(answers__in=read)
    next_door = lifted.exclude(site__in=own.values("site"))
    yield from (row.lifted_at for row in next_door if row.lifted_at)


def _nitrate(samples: Iterable[Sample]) -> float | None:
    """The newest nitrate a laboratory found in these samples."""
    rows = Measurement.objects.standing().filter(sample__in=samples, quantity_key="nitrate")
    newest = rows.order_by("measured_at", "pk").last()
    return newest.value if newest else None
