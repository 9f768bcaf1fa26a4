"""Whom to call when bacteria were found: every house on the well, and who of them knows."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from equipment.models import ResultTold, Sample, Site
from jobs.models import SiteTenure


@dataclass
class House:
    """One house on that water, who holds it, and who there was told."""

    site: Site
    told: ResultTold | None = None
    holders: list[SiteTenure] = field(default_factory=list)


def houses_to_call(sample: Sample, *, on: date) -> list[House]:
    """The house of the bottle first."""
    sites = {sample.site_id: sample.site}
    if sample.well:
        sites |= {site.pk: site for site in Site.objects.on_well(sample.well)}
    houses = {pk: House(site) for pk, site in sites.items()}
    for told in sample.told.filter(site__in=houses).select_related("by"):
        houses[told.site_id].told = told
    rows = SiteTenure.objects.filter(site__in=houses).at(on).select_related("customer")
    for tenure in rows:
        houses[tenure.site_id].holders.append(tenure)
    return list(houses.values())
