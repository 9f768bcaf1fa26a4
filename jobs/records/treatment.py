"""From rows to the judgement whether treatment holds bacteria of the well at one house."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Q

from equipment.models import OxidantProduct, Sample, Site, Stage, Train, Well
from jobs.fieldwork.lifting import Treated, Verdict, judge_held, stays_positive
from jobs.models import DoNotUse, HeldByTreatment, Visit
from jobs.models.visits import day_start

from .bacteria import case_of

Kind = Stage.Kind


@dataclass(frozen=True)
class Treatment:
    """A system with the parts of it that disinfect all the water of the house."""

    train: Train
    parts: tuple[Stage, ...]

    @property
    def since(self) -> datetime | None:
        """From the day after hand-over, or after the newest of those parts was fitted."""
        if self.train.handed_over_on is None:
            return None
        newest = max([self.train.handed_over_on, *(part.fitted_on for part in self.parts)])
        return day_start(newest + timedelta(days=1))

    def is_before(self, stage: Stage) -> bool:
        """That part stands ahead of what disinfects: its water is not treated yet."""
        first = min(part.position for part in self.parts)
        return stage.train_id == self.train.pk and stage.position < first


def disinfecting(parts: Iterable[Stage]) -> tuple[Stage, ...]:
    """A UV unit, or a chlorine pump with a contact tank behind it; nothing else counts.

    Chlorine needs its time in a tank, UV none: common practice, no source. Peroxide and
    permanganate are fed against iron and odour and are not relied on against bacteria.
    """
    fitted = sorted(parts, key=lambda part: (part.position, part.pk))
    lamps = [part for part in fitted if part.kind == Kind.UV]
    pumps = [part for part in fitted if part.kind == Kind.FEEDER and _feeds_chlorine(part)]
    tanks = [part for part in fitted if part.kind == Kind.RETENTION]
    behind = [tank for tank in tanks if pumps and tank.position > pumps[0].position]
    return (*lamps, *((*pumps, *behind) if behind else ()))


def _feeds_chlorine(part: Stage) -> bool:
    return part.product is not None and part.product.oxidant == OxidantProduct.Oxidant.CHLORINE


def treatments_at(site: Site, well: Well | None) -> list[Treatment]:
    """Those on the water of that well; a system without a well on file takes all there is."""
    rows = Train.objects.standing().filter(site=site).with_stages()
    if well:
        rows = rows.filter(Q(wells=None) | Q(wells=well)).distinct()
    found = [(train, disinfecting(train.stages.all())) for train in rows]
    return [Treatment(train, parts) for train, parts in found if parts]


def treatment_at(site: Site, well: Well | None) -> Treatment | None:
    """The one that was handed over, the oldest first."""
    rows = treatments_at(site, well)
    return next((row for row in rows if row.since), rows[0] if rows else None)


def held_verdict(notice: DoNotUse, site: Site, *, now: datetime) -> Verdict:
    """What is missing before treatment holds this notice at that house."""
    treatment = treatment_at(site, notice.well)
    raised = HeldByTreatment.objects.filter(notice=notice, site=site, raised_at__isnull=False)
    last = raised.order_by("raised_at").last()
    treated = Treated(
        site=site.pk,
        has_treatment=treatment is not None,
        since=treatment.since if treatment else None,
        left_off=_left_off(treatment) if treatment else "",
        raised_at=last.raised_at if last else None,
    )
    return judge_held(case_of(notice, now=now), treated)


def _left_off(treatment: Treatment) -> str:
    """How the last visit left the system, where it does not treat the water."""
    visits = Visit.objects.filter(job__train=treatment.train, status=Visit.Status.CLOSED)
    last = visits.exclude(bypass_left="", feeder_left="").order_by("starts_at").last()
    return untreated_after(last, treatment) if last else ""


def untreated_after(visit: Visit, treatment: Treatment) -> str:
    """Why the water is not treated as a visit left it; one of what raises a notice, or ""."""
    if visit.bypass_left == Visit.Bypass.BYPASSED:
        return HeldByTreatment.Raised.BYPASS
    feeds = any(part.kind == Kind.FEEDER for part in treatment.parts)
    lamp = any(part.kind == Kind.UV for part in treatment.parts)
    off = visit.feeder_left in (Visit.Feeder.OFF, Visit.Feeder.UNPLUGGED)
    return HeldByTreatment.Raised.OFF if feeds and off and not lamp else ""


def is_behind(sample: Sample, treatment: Treatment | None) -> bool:
    """The bottle was filled where the water is treated already."""
    if sample.place == Sample.Place.RAW:
        return False
    if treatment and sample.place == Sample.Place.AFTER_STAGE and sample.place_stage:
        return not treatment.is_before(sample.place_stage)
    return True


def starts_the_treatment(notice: DoNotUse, train: Train | None, *, now: datetime) -> bool:
    """The well stays positive and this is the system that is to hold it: it may be started."""
    if train is None or not disinfecting(train.stages.fitted().with_catalog()):
        return False
    return stays_positive(case_of(notice, now=now))
