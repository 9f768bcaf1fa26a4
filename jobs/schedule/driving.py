"""Minutes of driving between two houses: the one home for booking, proposals and the day.

What somebody typed for two towns goes before a straight line: a lake is in no formula. Then the
distance, where both houses have their place on file; then what is usual in a town, or between two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import Self

from equipment.models import Site
from equipment.models.sites import street_key
from jobs.models import Company

from .company_tables import CompanyTables

#: mean radius of the earth, 6371.0 km (Moritz, Geodetic Reference System 1980, Journal of
#: Geodesy 74, 2000, R1), in international miles of 1.609344 km
EARTH_RADIUS_MI = 6371.0088 / 1.609344
MINUTES_OF_AN_HOUR = 60


@dataclass(frozen=True)
class Place:
    """A house, or where the company stands, as far as driving asks."""

    town: str
    site: int | None = None
    latitude: float | None = None
    longitude: float | None = None

    @classmethod
    def of(cls, site: Site) -> Self:
        return cls(site.town, site.pk, site.latitude, site.longitude)


@dataclass(frozen=True)
class Drive:
    """Minutes, and in words what they were read from."""

    minutes: int
    by: str

    @property
    def said(self) -> str:
        return f"{self.minutes} min of driving ({self.by})" if self.minutes else self.by


def miles_between(one: Place, other: Place) -> float | None:
    """Along a great circle, by the haversine; None where one of them has no place on file."""
    if None in (one.latitude, one.longitude, other.latitude, other.longitude):
        return None
    north, south = math.radians(one.latitude or 0), math.radians(other.latitude or 0)
    east = math.radians((other.longitude or 0) - (one.longitude or 0))
    half = (
        math.sin((south - north) / 2) ** 2
        + math.cos(north) * math.cos(south) * math.sin(east / 2) ** 2
    )
    return 2 * EARTH_RADIUS_MI * math.asin(min(1.0, math.sqrt(half)))


def pair_of(one: str, other: str) -> tuple[str, str]:
    """Two towns folded, the same whichever is named first."""
    first, second = sorted((street_key(one), street_key(other)))
    return first, second


@dataclass
class Driving:
    """The table of towns and what holds where it says nothing."""

    company: Company
    typed: dict[tuple[str, str], int] = field(default_factory=dict)
    _known: dict[tuple[Place, Place], Drive] = field(default_factory=dict)

    @classmethod
    def load(cls, company: Company | None = None, tables: CompanyTables | None = None) -> Self:
        rows = (tables or CompanyTables.load()).drives
        typed = {(one, other): minutes for one, other, minutes, _ in rows}
        return cls(company or Company.load(), typed)

    @property
    def base(self) -> Place | None:
        """Where a day begins and ends, if the company says its town."""
        return Place(self.company.town) if self.company.town else None

    def between(self, one: Place, other: Place) -> Drive:
        known = self._known.get((one, other))
        if known is None:
            known = self._known[one, other] = self._between(one, other)
        return known

    def _between(self, one: Place, other: Place) -> Drive:
        if one.site is not None and one.site == other.site:
            return Drive(0, "the same house")
        towns = pair_of(one.town, other.town)
        if (typed := self.typed.get(towns)) is not None:
            return Drive(typed, "table of towns")
        miles = miles_between(one, other)
        if miles is not None:
            minutes = math.ceil(miles * MINUTES_OF_AN_HOUR / self.company.drive_mph)
            return Drive(max(1, minutes), f"{miles:.1f} mi as the crow flies")
        if towns[0] == towns[1]:
            return Drive(self.company.drive_in_town_min, "within one town")
        return Drive(self.company.drive_min, "usual between two towns")
