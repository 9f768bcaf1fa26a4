"""Whom to call when bacteria were found: each who must be told, house by house."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from equipment.models import ResultTold, Sample, Site
from jobs.models import ResultToldTo, SiteTenure


@dataclass
class Person:
    """Somebody of a house, and how they were told."""

    tenure: SiteTenure
    told: ResultTold | None = None


@dataclass
class House:
    """One house on that water, who must be told there, and who else holds it."""

    site: Site
    people: list[Person] = field(default_factory=list)
    others: list[SiteTenure] = field(default_factory=list)
    #: one telling for all of it: of before each was asked for, or where nobody is on file
    told: ResultTold | None = None

    @property
    def left(self) -> list[Person]:
        return [] if self.told else [person for person in self.people if not person.told]

    @property
    def is_told(self) -> bool:
        return bool(self.told or (self.people and not self.left))

    def choices(self) -> list[tuple[str, str]]:
        """Who is not told yet, as the form names them."""
        if self.is_told:
            return []
        if not self.people:
            return [(f"{self.site.pk}-0", f"somebody at {self.site}")]
        return [
            (
                f"{self.site.pk}-{person.tenure.customer_id}",
                f"{person.tenure.customer}, {person.tenure.get_part_display()}, {self.site}",
            )
            for person in self.left
        ]


def houses_to_call(sample: Sample, *, on: date) -> list[House]:
    """The house of the bottle first."""
    sites = {sample.site_id: sample.site}
    if sample.well:
        sites |= {site.pk: site for site in Site.objects.on_well(sample.well)}
    houses = {pk: House(site) for pk, site in sites.items()}
    whom = dict(ResultToldTo.objects.filter(told__sample=sample).values_list("told", "customer"))
    told = {}
    for row in sample.told.select_related("by"):
        if row.pk in whom:
            told[whom[row.pk]] = row
        elif row.site_id in houses:
            houses[row.site_id].told = row
    rows = SiteTenure.objects.at(on).filter(site__in=houses).select_related("customer")
    for tenure in rows.order_by("-is_contact", "from_on", "pk"):
        house = houses[tenure.site_id]
        if tenure.hears_water:
            house.people.append(Person(tenure, told.get(tenure.customer_id)))
        else:
            house.others.append(tenure)
    return list(houses.values())
