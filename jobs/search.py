"""One search over everything a caller may name, and the near-duplicates of what is typed anew.

The database narrows by whole parts of words, and, where nothing answers, by the three-letter
pieces a slip leaves intact; only that short list is compared letter by letter.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from django.db.models import Case, Exists, F, IntegerField, OuterRef, Q, QuerySet, Value, When
from rapidfuzz import fuzz

from equipment.models import Site, Stage, Well
from equipment.models.sites import street_key
from jobs.models import Customer, SiteTenure

MOST = 40
SHORT_LIST = 200
LIKE_ENOUGH = 78
SAME_NAME, SAME_STREET = 90, 88


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


def search(text: str, sites: QuerySet[Site], *, today: date) -> list[Hit]:
    """Houses of `sites` and customers that the words, number or tag could mean, best first."""
    text = " ".join(text.split())[:80]
    if len(text) < 2:
        return []
    found = _Found(sites, today)
    digits = _digits(text)
    words = [word.lower() for word in text.split()]
    people = Q(phone_digits__contains=digits) if digits else Q(pk__in=[])
    found.customers(
        Customer.objects.filter(people | _all_words("name", words))[:MOST], "name", digits=digits
    )
    streets = _all_words("address_key", street_key(text).split())
    found.sites(sites.filter(streets | Q(parcel__icontains=text))[:MOST], "address", parcel=text)
    found.tags(text)
    if found.is_empty:
        found.names_with_streets(text)
    if found.is_empty:
        found.slips(text)
    return found.in_order()


class _Found:
    """Hits by house, filled step by step."""

    def __init__(self, sites: QuerySet[Site], today: date) -> None:
        self.allowed = sites
        self.today = today
        self.by_site: dict[int, Hit] = {}
        self.homeless: dict[int, Hit] = {}

    @property
    def is_empty(self) -> bool:
        return not self.by_site and not self.homeless

    def add(
        self, site: Site, why: str, customer: Customer | None = None, score: float = 100
    ) -> None:
        hit = self.by_site.setdefault(site.pk, Hit(site, None, score=score))
        hit.why.append(why)
        hit.score = max(hit.score, score)
        hit.customer = hit.customer or customer

    def customers(
        self, rows: Iterable[Customer], what: str, score: Any = 100, digits: str = ""
    ) -> None:
        """Houses a customer holds or held; a former holder is said to be one."""
        people = {row.pk: row for row in rows}
        if not people:
            return
        placed = set()
        tenures = SiteTenure.objects.filter(customer__in=people, site__in=self.allowed)
        for tenure in tenures.select_related("site").order_by("-from_on")[: MOST * 2]:
            placed.add(tenure.customer_id)
            person = people[tenure.customer_id]
            points = score.get(person.pk, 0) if isinstance(score, dict) else score
            ended = tenure.until_on and tenure.until_on <= self.today
            by_number = digits and digits in person.phone_digits
            why = f"{'phone' if by_number else what} of {person.name}"
            if ended:
                why += f", former {tenure.get_part_display()} until {tenure.until_on:%Y}"
                points -= 5
            self.add(tenure.site, why, None if ended else person, points)
        for pk, person in people.items():
            if pk not in placed:
                self.homeless.setdefault(pk, Hit(None, person, [what], 50))

    def sites(self, rows: Iterable[Site], why: str, score: Any = 100, parcel: str = "") -> None:
        for site in rows:
            by_parcel = parcel and parcel.lower() in site.parcel.lower()
            points = score.get(site.pk, 0) if isinstance(score, dict) else score
            self.add(site, f"parcel {site.parcel}" if by_parcel else why, score=points)

    def tags(self, text: str) -> None:
        """Permit and tag numbers, serial numbers, as written."""
        if len(text) < 3:
            return
        wells = Well.objects.filter(tag__icontains=text, site__in=self.allowed)
        for well in wells.select_related("site")[:MOST]:
            self.add(well.site, f"well tag {well.tag}")
        stages = Stage.objects.filter(serial__icontains=text, train__site__in=self.allowed)
        for stage in stages.select_related("train__site")[:MOST]:
            gone = f", taken out {stage.removed_on:%Y}" if stage.removed_on else ""
            self.add(stage.train.site, f"serial {stage.serial}{gone}")

    def names_with_streets(self, text: str) -> None:
        """Words of which some are in the address and the others in a holder's name."""
        words = street_key(text).split()
        if len(words) < 2:
            return
        rows = self.allowed
        for word in words:
            named = SiteTenure.objects.filter(site=OuterRef("pk"), customer__name__icontains=word)
            rows = rows.filter(Q(address_key__contains=word) | Exists(named))
        self.sites(rows[:MOST], "name and address")

    def slips(self, text: str) -> None:
        """Names and streets written almost like this."""
        names = _alike(Customer.objects.all(), "name", text.lower())
        people = [row for row, _ in names]
        self.customers(people, "similar name", {row.pk: points for row, points in names})
        streets = _alike(self.allowed, "address_key", street_key(text))
        self.sites(
            [row for row, _ in streets], "similar address",
            {row.pk: points for row, points in streets},
        )  # fmt: skip

    def in_order(self) -> list[Hit]:
        """Best first, with today's holder of each house, in one query."""
        hits = sorted(self.by_site.values(), key=lambda hit: (-hit.score, str(hit.site)))[:MOST]
        holders = SiteTenure.objects.at(self.today).filter(
            site__in=[hit.site.pk for hit in hits if hit.site]
        )
        by_site: dict[int, Customer] = {}
        for tenure in holders.select_related("customer").order_by("is_contact", "from_on"):
            by_site[tenure.site_id] = tenure.customer
        for hit in hits:
            hit.customer = by_site.get(hit.site.pk) if hit.site else hit.customer
        return [*hits, *list(self.homeless.values())[:MOST]]


def _digits(text: str) -> str:
    """The digits of something that looks like a telephone number, however written."""
    digits = re.sub(r"\D", "", text)
    if len(digits) < 4 or re.search(r"[a-z]", text, re.IGNORECASE):
        return ""
    return without_country(digits)


def without_country(digits: str) -> str:
    return digits[1:] if len(digits) == 11 and digits.startswith("1") else digits


def _all_words(column: str, words: list[str]) -> Q:
    wanted = Q() if words else Q(pk__in=[])
    for word in words:
        wanted &= Q(**{f"{column}__icontains": word})
    return wanted


def _alike(rows: QuerySet[Any], column: str, text: str) -> list[tuple[Any, float]]:
    """Rows that share most three-letter pieces with the text, compared letter by letter."""
    letters = text.replace(" ", "")
    pieces = list(dict.fromkeys(text[i : i + 3] for i in range(len(text) - 2)))[:24]
    pieces = [piece for piece in pieces if " " not in piece]
    if len(letters) < 3 or not pieces:
        return []
    shared: Any = Value(0, output_field=IntegerField())
    for piece in pieces:
        shared = shared + Case(When(**{f"{column}__icontains": piece}, then=1), default=0)
    nearest = rows.annotate(shared=shared).filter(shared__gte=max(1, len(pieces) // 4))
    compared = [
        (row, _likeness(text, getattr(row, column).lower()))
        for row in nearest.order_by(F("shared").desc(), "pk")[:SHORT_LIST]
    ]
    close = [(row, points) for row, points in compared if points >= LIKE_ENOUGH]
    return sorted(close, key=lambda pair: -pair[1])[:MOST]


def _likeness(typed: str, kept: str) -> float:
    """Every typed word against its nearest word of the row; the worst of them counts most."""
    words = [word for word in re.split(r"[\s-]+", kept) if word]
    best = [max((fuzz.ratio(word, other) for other in words), default=0) for word in typed.split()]
    return min(best) * 0.6 + sum(best) / len(best) * 0.4 if best else 0


def near_sites(street: str, town: str, *, besides: int | None = None) -> list[Site]:
    """Houses that are probably the same address, written otherwise."""
    key = street_key(street, town)
    number = next((word for word in key.split() if word.isdigit()), "")
    rows = Site.objects.exclude(pk=besides or 0)
    candidates = rows.filter(address_key__startswith=number) if number else rows
    return [
        site
        for site, _ in _alike(candidates, "address_key", key)
        if fuzz.ratio(key, site.address_key) >= SAME_STREET and _number_of(site) == number
    ][:5]


def _number_of(site: Site) -> str:
    return next((word for word in site.address_key.split() if word.isdigit()), "")


def near_customers(
    name: str, digits: list[str], email: str, *, besides: int | None = None
) -> list[Customer]:
    """Customers with the same number, the same mail address, or almost the same name."""
    rows = Customer.objects.exclude(pk=besides or 0)
    same = Q(pk__in=[])
    for number in filter(None, digits):
        same |= Q(phone_digits__contains=without_country(number))
    if email:
        same |= Q(email__iexact=email)
    found = {row.pk: row for row in rows.filter(same)[:5]}
    for row, _ in _alike(rows, "name", name.lower()):
        if fuzz.token_sort_ratio(name.lower(), row.name.lower()) >= SAME_NAME:
            found[row.pk] = row
    return list(found.values())[:5]
