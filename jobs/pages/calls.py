"""Whom to call about water that must not be drunk: each who must be told, house by house."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field
from datetime import date

from equipment.models import ResultTold, Sample, Site, Well
from jobs.models import (
    DoNotUse,
    NoticeTold,
    Recall,
    RecallTold,
    ResultToldTo,
    SiteTenure,
)
from jobs.models.notice_told import unanswered

Told = ResultTold | NoticeTold | RecallTold


@dataclass
class Person:
    """Somebody of a house, and how they were told."""

    tenure: SiteTenure
    told: Told | None = None


@dataclass
class House:
    """One house on that water, who must be told there, and who else holds it."""

    site: Site
    people: list[Person] = field(default_factory=list)
    others: list[SiteTenure] = field(default_factory=list)
    #: one telling for all of it: of before each was asked for, or where nobody is on file
    told: Told | None = None

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
    """Of a result; the house of the bottle first."""
    whom = dict(ResultToldTo.objects.filter(told__sample=sample).values_list("told", "customer"))
    rows = list(sample.told.select_related("by"))
    told: dict[int, Told] = {whom[row.pk]: row for row in rows if row.pk in whom}
    whole: dict[int, Told] = {row.site_id: row for row in rows if row.pk not in whom}
    return _houses(sample.site, sample.well, told, whole, on=on)


def houses_of_notice(notice: DoNotUse, *, on: date) -> list[House]:
    """Of a notice without a sample, or that it was a mistake; the house it was opened at first.

    Of a mistake only those are called who heard of it and get no letter.
    """
    is_back = bool(notice.taken_back_why)
    rows = list(
        NoticeTold.objects.filter(notice=notice, is_taken_back=is_back).select_related("by")
    )
    told: dict[int, Told] = {row.customer_id: row for row in rows if row.customer_id}
    whole: dict[int, Told] = {row.site_id: row for row in rows if not row.customer_id}
    houses = _houses(notice.site, notice.well, told, whole, on=on)
    if not is_back:
        return houses
    heard = NoticeTold.objects.filter(notice=notice, is_taken_back=False)
    waiting = set(unanswered(heard).values_list("site", "customer"))
    return [_only(house, waiting, told) for house in houses if _is_asked(house, waiting, told)]


def house_of_recall(recall: Recall, site: Site, *, on: date) -> House:
    """Who of a house knows that something is called back; a letter that went nowhere is none."""
    rows = list(RecallTold.objects.counting().filter(recall=recall, site=site))
    told: dict[int, Told] = {row.customer_id: row for row in rows if row.customer_id}
    told |= {row.customer_id: row for row in rows if row.customer_id and not row.mail_id}
    whole: dict[int, Told] = {row.site_id: row for row in rows if not row.customer_id}
    (house,) = _houses(site, None, told, whole, on=on)
    return house


def _only(
    house: House, waiting: Collection[tuple[int, int | None]], told: Mapping[int, Told]
) -> House:
    names = {customer for _, customer in waiting} | set(told)
    kept = [person for person in house.people if person.tenure.customer_id in names]
    return House(house.site, kept, told=house.told)


def _is_asked(
    house: House, waiting: Collection[tuple[int, int | None]], told: Mapping[int, Told]
) -> bool:
    return bool(
        house.told or (house.site.pk, None) in waiting or _only(house, waiting, told).people
    )


def _houses(
    first: Site,
    well: Well | None,
    told: Mapping[int, Told],
    whole: Mapping[int, Told],
    *,
    on: date,
) -> list[House]:
    """Each house on that water with who must be told there, by customer and by house who was."""
    sites = {first.pk: first}
    if well:
        sites |= {site.pk: site for site in Site.objects.on_well(well)}
    houses = {pk: House(site, told=whole.get(pk)) for pk, site in sites.items()}
    rows = SiteTenure.objects.at(on).filter(site__in=houses).select_related("customer")
    for tenure in rows.order_by("-is_contact", "from_on", "pk"):
        house = houses[tenure.site_id]
        if tenure.hears_water:
            house.people.append(Person(tenure, told.get(tenure.customer_id)))
        else:
            house.others.append(tenure)
    return list(houses.values())
