"""The rows behind the places of a search: which house, who holds it, and why it was found."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from django.db.models import QuerySet
from rapidfuzz import fuzz

from equipment.models import Site, Stage, Well
from jobs.models import Customer, SearchWord, SiteTenure

from .places import Place
from .spelling import fold

MOST = 40
Kind = SearchWord.Kind
SPOKEN = [kind for kind in Kind.values if kind != Kind.EMAIL]
#: what stands in a sentence about several of them
SHORT = {**dict(Kind.choices), Kind.PARCEL: "parcel"}
Source = tuple[str, int]


@dataclass
class Hit:
    """A house (or a customer without one) and why it was found."""

    site: Site | None
    customer: Customer | None
    why: list[str] = field(default_factory=list)
    score: float = 100

    @property
    def why_text(self) -> str:
        return ", ".join(dict.fromkeys(self.why))


class Found:
    """Reads the rows behind the places and says why each was found."""

    def __init__(
        self,
        sites: QuerySet[Site],
        today: date,
        words: list[str],
        places: list[Place],
        *,
        slips: bool,
    ) -> None:
        self.today, self.words, self.slips = today, words, slips
        self.places = places[: MOST + 10]
        kinds: dict[str, set[int]] = {}
        for place in self.places:
            for row in place.found.values():
                for kind, pk in row:
                    kinds.setdefault(kind, set()).add(pk)
        numbers = [place.number for place in self.places if place.number > 0]
        self.sites = sites.in_bulk(numbers)
        people = kinds.get(Kind.NAME, set()) | kinds.get(Kind.PHONE, set())
        people |= {-place.number for place in self.places if place.number < 0}
        self.tenures: dict[int, list[SiteTenure]] = {}
        tenures = SiteTenure.objects.filter(site__in=list(self.sites)).order_by("-from_on")
        for tenure in tenures.select_related("customer"):
            self.tenures.setdefault(tenure.site_id, []).append(tenure)
        self.people = {
            row.customer_id: row.customer for rows in self.tenures.values() for row in rows
        }
        if missing := people - self.people.keys():
            self.people |= Customer.objects.in_bulk(missing)
        self.wells = Well.objects.in_bulk(kinds[Kind.TAG]) if Kind.TAG in kinds else {}
        self.stages = Stage.objects.in_bulk(kinds[Kind.SERIAL]) if Kind.SERIAL in kinds else {}

    def in_order(self) -> list[Hit]:
        """Best first, with today's holder of each house; then customers without a house."""
        housed = [self._at_house(place) for place in self.places if place.number in self.sites]
        housed.sort(key=lambda hit: (-hit.score, str(hit.site)))
        placed = {row.customer_id for rows in self.tenures.values() for row in rows}
        homeless: dict[int, Hit] = {}
        for place in self.places:
            if place.number in self.sites:
                continue
            for kind, pk in place.whole_sources:
                if kind in (Kind.NAME, Kind.PHONE) and pk in self.people and pk not in placed:
                    homeless.setdefault(pk, Hit(None, self.people[pk], [SHORT[kind]], 50))
        return [*housed[:MOST], *list(homeless.values())[:MOST]]

    def _at_house(self, place: Place) -> Hit:
        site = self.sites[place.number]
        hit = Hit(site, self._holder(site), score=place.points(len(self.words)))
        whole = place.whole_sources
        parts = whole or {
            max(row, key=lambda source: row[source]): max(row.values())
            for row in place.found.values()
        }
        likely = max(parts.values())
        close = {source: points for source, points in parts.items() if points > likely - 0.1}
        told = close if whole else parts
        hit.why = self._why(site, told, whole=bool(whole))
        former = [pk for kind, pk in told if self._ended(site, kind, pk)]
        hit.score += 2 * max(self._covers(site, source) for source in told)
        hit.score -= 5 if len(former) == len(told) else 0
        return hit

    def _why(self, site: Site, told: dict[Source, float], *, whole: bool) -> list[str]:
        similar = "similar " if self.slips and min(told.values()) < 1 else ""
        if whole:
            return [self._label(site, kind, pk, similar) for kind, pk in told][:3]
        kinds = [kind for kind in SPOKEN if any(kind == each for each, _ in told)]
        named = [self._named(site, kind, pk) for kind, pk in told]
        return [similar + " and ".join(SHORT[kind] for kind in kinds), *filter(None, named)]

    def _label(self, site: Site, kind: str, pk: int, similar: str) -> str:
        if kind == Kind.TAG and pk in self.wells:
            return f"{similar}well tag {self.wells[pk].tag}"
        if kind == Kind.SERIAL and pk in self.stages:
            stage = self.stages[pk]
            gone = f", taken out {stage.removed_on:%Y}" if stage.removed_on else ""
            return f"{similar}serial {stage.serial}{gone}"
        if kind == Kind.PARCEL:
            return f"{similar}parcel {site.parcel}"
        if kind in (Kind.NAME, Kind.PHONE) and pk in self.people:
            who = self.people[pk].name
            return f"{similar}{SHORT[kind]} of " + (self._named(site, kind, pk) or who)
        return f"{similar}{SHORT[kind]}"

    def _named(self, site: Site, kind: str, pk: int) -> str:
        """Whom a word names, with the part, where it is not the one who is called first there."""
        if ended := self._ended(site, kind, pk):
            return ended
        rows = [row for row in self.tenures.get(site.pk, []) if row.customer_id == pk]
        if kind not in (Kind.NAME, Kind.PHONE) or not rows or any(row.is_contact for row in rows):
            return ""
        return f"{rows[0].customer.name}, {rows[0].get_part_display()}"

    def _ended(self, site: Site, kind: str, pk: int) -> str:
        """The former holder a word names, and until when; empty for one who still holds it."""
        if kind not in (Kind.NAME, Kind.PHONE):
            return ""
        rows = [row for row in self.tenures.get(site.pk, []) if row.customer_id == pk]
        if not rows or any(row.until_on is None or row.until_on > self.today for row in rows):
            return ""
        last = rows[0]
        return f"{last.customer.name}, former {last.get_part_display()} until {last.until_on:%Y}"

    def _holder(self, site: Site) -> Customer | None:
        now = [
            row
            for row in self.tenures.get(site.pk, [])
            if row.from_on <= self.today and (row.until_on is None or row.until_on > self.today)
        ]
        newest = sorted(now, key=lambda row: (row.is_contact, row.from_on))
        return newest[-1].customer if newest else None

    def _covers(self, site: Site, source: Source) -> float:
        """0 to 1: how much of the whole name or address the typed words make."""
        kind, pk = source
        if kind == Kind.NAME and pk in self.people:
            kept = " ".join(fold(self.people[pk].name))
        elif kind == Kind.ADDRESS:
            kept = site.address_key
        else:
            return 1
        return fuzz.token_sort_ratio(" ".join(self.words), kept) / 100
