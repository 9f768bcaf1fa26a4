"""Who is written to. Nobody without an address, nobody who has said no."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from equipment.models import Site
from jobs.models import Customer, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.models.customers import SiteTenureQuerySet


@dataclass(frozen=True)
class ToldOnes:
    """Contacts of a house that are told of something, who is called first at the head."""

    rows: tuple[SiteTenure, ...]
    #: where nobody is on file: whoever asked for the work
    or_else: Customer | None = None

    @property
    def people(self) -> list[Customer]:
        """Each once: somebody in two parts is one person."""
        found = list({row.customer_id: row.customer for row in self.rows}.values())
        return found or [each for each in (self.or_else,) if each]

    def has(self, customer: int | None) -> bool:
        return customer in {each.pk for each in self.people}

    def reason(self, customer: Customer | None, site: Site) -> str:
        """Why somebody gets the same as others do; nothing where there is nobody else."""
        if customer is None or len(self.people) < 2:
            return ""
        mine = [row.get_part_display() for row in self.rows if row.customer_id == customer.pk]
        others = [row.get_part_display() for row in self.rows if row.customer_id != customer.pk]
        as_well = ", ".join(dict.fromkeys(others))
        return (
            f"You get this as {' and '.join(dict.fromkeys(mine))} of {site.street}, {site.town}. "
            f"Told as well: {as_well}."
        )


def told_of_visit(visit: Visit, contacts: Iterable[SiteTenure] | None = None) -> ToldOnes:
    """Who is told of day, hours and person of a visit.

    `contacts`: those of the house on that day, in the order of calling, where they were read.
    """
    if contacts is not None:
        rows = tuple(row for row in contacts if row.hears_visits)
    else:
        told = SiteTenure.objects.at(company_day(visit.starts_at)).told_of_visits()
        rows = _in_order(told, visit.job.site_id)
    return ToldOnes(rows, visit.job.customer)


def told_of_water(site: Site | int, *, on: date, or_else: Customer | None = None) -> ToldOnes:
    """Who is told of results and notices."""
    rows = SiteTenure.objects.at(on).told_of_water()
    return ToldOnes(_in_order(rows, site), or_else)


def _in_order(rows: SiteTenureQuerySet, site: Site | int) -> tuple[SiteTenure, ...]:
    return tuple(rows.to_call(site))


def staff_with(role: str) -> list[User]:
    people = User.objects.filter(is_active=True, groups__name=role).exclude(email="")
    return list(people.order_by("pk"))


def office() -> list[User]:
    """The dispatchers; the owners where nobody else minds the office."""
    return staff_with("dispatcher") or staff_with("owner")
