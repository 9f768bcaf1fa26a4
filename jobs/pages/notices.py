"""Notices over a house: whose they are, and what still has to come before they are lifted."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime

from equipment.models import Sample, Site
from jobs.fieldwork.lifting import Verdict
from jobs.models import DoNotUse
from jobs.records.bacteria import verdict_of


@dataclass
class Standing:
    """One notice as a page shows it."""

    notice: DoNotUse
    verdict: Verdict | None = None
    #: other houses on the well that it holds for
    others: list[Site] = field(default_factory=list)

    @property
    def missing(self) -> tuple[str, ...]:
        return self.verdict.missing if self.verdict else ()

    @property
    def lifts(self) -> bool:
        return self.verdict is not None and self.verdict.lifts


def standing_of(notice: DoNotUse, *, now: datetime, at: Site | None = None) -> Standing:
    """A notice with its evidence; `at` is the house whose page it stands on."""
    here = (at or notice.site).pk
    others = list(Site.objects.on_well(notice.well).exclude(pk=here)) if notice.well else []
    verdict = verdict_of(notice, now=now) if notice.is_about_bacteria else None
    return Standing(notice, verdict, others)


def notices_of(site: Site, *, now: datetime) -> list[Standing]:
    """Those that stand over a house, the strictest first."""
    order = [level for level, _ in DoNotUse.Level.choices]
    rows = DoNotUse.objects.standing().at_site(site).select_related("opened_by", "site", "well")
    found = sorted(rows, key=lambda row: order.index(row.level))
    return [standing_of(row, now=now, at=site) for row in found]


@dataclass(frozen=True)
class Told:
    """A sample with why it does not lift what stands, "" where it does or nothing stands."""

    sample: Sample
    why_not: str = ""


def samples_of(site: Site, standing: list[Standing]) -> list[Told]:
    """The newest samples of a house; a negative one that lifts nothing says why."""
    rows = Sample.objects.filter(site=site).select_related("taken_by", "read_by", "place_stage")
    rows = rows.prefetch_related("told")
    refused: dict[int, str] = {}
    for each in standing:
        if each.verdict:
            refused |= each.verdict.refused
    return [Told(row, refused.get(row.pk, "")) for row in rows[:8]]
