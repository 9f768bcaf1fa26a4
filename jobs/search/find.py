"""One search over everything a caller may name, and the near-duplicates of what is typed anew.

The word tables give the houses that have the typed words, or, where none has, words a slip or a
sound away; only that short list is read and compared.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from datetime import date
from typing import TypeVar

from django.db.models import Q, QuerySet
from rapidfuzz import fuzz

from equipment.models import Site
from equipment.models.sites import street_key
from jobs.models import Customer, SearchWord

from .hits import SPOKEN, Found, Hit
from .places import (
    MOST_WORDS,
    Place,
    almost_so,
    places_with,
    written_so,
)
from .spelling import email_word, fold, without_country

SAME_NAME, SAME_STREET = 90, 88
Kind = SearchWord.Kind
Row = TypeVar("Row", Customer, Site)


def search(
    text: str, sites: QuerySet[Site], *, today: date, only_houses: bool = False
) -> list[Hit]:
    """Houses of `sites` and customers that the words, number or tag could mean, best first.

    `only_houses`: for a person who sees these houses and nobody else's.
    """
    text = " ".join(text.split())[:80]
    if len(text) < 2:
        return []
    readings = _readings(text)
    if not any(readings):
        return []
    for spelled in (written_so, almost_so):
        for words in readings:
            read, spellings = spelled(words)
            can_miss = spelled is almost_so and len(read) > 2
            places = places_with(spellings, need=len(read) - can_miss, kinds=SPOKEN, sites=sites)
            if only_houses and places:
                own = set(sites.values_list("pk", flat=True))
                places = [place for place in places if place.number in own]
            if not places:
                continue
            found = Found(sites, today, read, places, slips=spelled is almost_so)
            if hits := found.in_order():
                return hits
    return []


def _readings(text: str) -> list[list[str]]:
    """The words; figures that may be one telephone number are first read as one."""
    words = fold(text)[:MOST_WORDS]
    found: list[str] = []
    run: list[str] = []
    for word in [*fold(text), ""]:
        if word.isdigit():
            run.append(word)
            continue
        digits = "".join(run)
        least = 4 if len(digits) == sum(map(len, fold(text))) else 7
        found += [without_country(digits)] if least <= len(digits) <= 15 else run
        run = []
        found += [word] if word else []
    found = found[:MOST_WORDS]
    return [found] if found == words else [found, words]


# --- near-duplicates -------------------------------------------------------------------------


def near_sites(street: str, town: str, *, besides: int | None = None) -> list[Site]:
    """Houses that are probably the same address, written otherwise."""
    key = street_key(street, town)
    number = _number_in(key)
    rows = Site.objects.exclude(pk=besides or 0)
    if number:
        numbered = SearchWord.objects.filter(text=number, kind=Kind.ADDRESS)
        rows = rows.filter(pk__in=numbered.values("place"))
    else:
        places = _similar(fold(key), Kind.ADDRESS, missing=1)
        rows = rows.filter(pk__in=[place.number for place in places])
    return _most_like(
        (row, fuzz.ratio(key, row.address_key))
        for row in rows
        if _number_in(row.address_key) == number and fuzz.ratio(key, row.address_key) >= SAME_STREET
    )


def _most_like(rows: Iterable[tuple[Row, float]]) -> list[Row]:
    return [row for row, _ in sorted(rows, key=lambda pair: (-pair[1], pair[0].pk))][:5]


def _number_in(key: str) -> str:
    return next((word for word in key.split() if word.isdigit()), "")


def _similar(words: list[str], kind: str, *, missing: int = 0) -> list[Place]:
    """Places with such words of one kind, a slip or a sound away at most; signs alone are none."""
    if not words:
        return []
    read, spellings = almost_so(words[:MOST_WORDS])
    need = max(1, len(read) - missing)
    return places_with(spellings, need=need, kinds=[kind], sites=Site.objects.all())


def near_customers(name: str, digits: list[str], email: str) -> list[Customer]:
    """Customers with the same number, the same mail address, or almost the same name."""
    same = Q(pk__in=[])
    for number in filter(None, (without_country(re.sub(r"\D", "", each)) for each in digits)):
        same |= Q(kind=Kind.PHONE, text=number)
    if email:
        same |= Q(kind=Kind.EMAIL, text=email_word(email))
    found = list(
        Customer.objects.filter(pk__in=SearchWord.objects.filter(same).values("source"))[:5]
    )
    places = _similar(fold(name), Kind.NAME)
    likely = {pk for place in places for _, pk in place.whole_sources}
    named = [
        (row, fuzz.token_sort_ratio(name.lower(), row.name.lower()))
        for row in Customer.objects.filter(pk__in=likely - {row.pk for row in found})
    ]
    return [*found, *_most_like(pair for pair in named if pair[1] >= SAME_NAME)][:5]
