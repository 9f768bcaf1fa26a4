"""From what was typed to the houses it may mean: words of the dictionary, then who has them."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from django.db.models import (
    Case,
    Count,
    Exists,
    F,
    IntegerField,
    OuterRef,
    Q,
    QuerySet,
    Value,
    When,
)
from rapidfuzz import fuzz, process

from equipment.models import Site
from equipment.models.sites import STREET_WORDS
from jobs.models import SearchPiece, SearchWord
from jobs.together import together

from . import spelling as spelling

#: a word of more houses than this is common: it judges houses found by rarer ones
COMMON = 500
MOST_PLACES = 200
#: houses taken of those that have nothing but common words
MOST_CROSSED = 60
MOST_WORDS = 6
MOST_ENDINGS = 40
#: so many spellings of a word answer a typed one, and so many of a number: those are all alike
SPELLINGS, NUMBERS = 12, 60
COMPARED = 80
LIKE_ENOUGH = 0.74

#: spellings that answer one typed word, with their likeness from 0 to 1
Spellings = dict[str, float]


@dataclass
class Place:
    """A house (minus a customer without one) and, of each typed word, the rows that have it."""

    number: int
    found: dict[int, dict[tuple[str, int], float]] = field(default_factory=dict)

    def add(self, nth: int, source: tuple[str, int], points: float) -> None:
        row = self.found.setdefault(nth, {})
        row[source] = max(row.get(source, 0), points)

    def points(self, typed: int) -> float:
        """0 to 100: the worst word counts as much as all together; a missing one costs more."""
        best = [max(row.values()) for row in self.found.values()]
        mean = sum(best) / typed
        return 100 * (0.8 * mean if len(best) < typed else (min(best) + mean) / 2)

    @property
    def whole_sources(self) -> dict[tuple[str, int], float]:
        """Rows that have every typed word by themselves, with the likeness of their worst."""
        rows = list(self.found.values())
        shared = set(rows[0]).intersection(*rows[1:])
        return {source: min(row[source] for row in rows) for source in shared}


# --- words -----------------------------------------------------------------------------------


def written_so(words: list[str]) -> tuple[list[str], list[Spellings]]:
    """The typed words with the spellings that are the same or go on; parted words joined."""
    pairs = ["".join(pair) for pair in zip(words, words[1:], strict=False)]
    every = {form for word in (*words, *pairs) for form in _forms(word)}
    entries = SearchPiece.objects.filter(piece="").order_by()
    parts: list[QuerySet[Any]] = [entries.filter(word__in=every).values_list("word")]
    for word in words:
        if len(word) >= (4 if word.isdigit() else 2):
            ends = word + "z" * 40
            ahead = entries.filter(word__gt=word, word__lte=ends).order_by("word")
            parts.append(ahead.values_list("word")[:MOST_ENDINGS])
    known = {word for (word,) in together(parts)}
    words = _joined(words, known)
    return words, [_goes_on(word, known) for word in words]


def _forms(word: str) -> set[str]:
    return {word, STREET_WORDS.get(word, word)}


def _joined(words: list[str], known: set[str]) -> list[str]:
    """Two words that are one in the dictionary, where one of them alone is not."""
    for n, (one, other) in enumerate(zip(words, words[1:], strict=False)):
        if one + other in known and not {one, other} <= known:
            return [*words[:n], one + other, *words[n + 2 :]]
    return words


def _goes_on(word: str, known: set[str]) -> Spellings:
    found = {form: 1.0 for form in _forms(word) if form in known}
    longer = (other for other in known if other.startswith(word) and other != word)
    if len(word) > 1:
        found |= {other: 0.85 + 0.14 * len(word) / len(other) for other in longer}
    return found


def almost_so(words: list[str]) -> tuple[list[str], list[Spellings]]:
    """The same with spellings a slip, a sound or a missing space away too."""
    words, same = written_so(words)
    slips = [spelling.one_slip(word) for word in words]
    halves = [half for word in words for pair in _halves(word) for half in pair]
    entries = SearchPiece.objects.filter(piece="", word__in=set(halves).union(*slips)).order_by()
    known = set(entries.values_list("word", flat=True))
    near = _near_in_pieces(words)
    found: list[Spellings] = []
    parted: list[str] = []
    for word, slip, exact in zip(words, slips, same, strict=True):
        like = _most_like(word, (slip & known) | near) | exact
        pair = next((pair for pair in _halves(word) if known.issuperset(pair)), ())
        if pair and not like:
            parted += pair
            found += [{half: 1.0} for half in pair]
        else:
            parted.append(word)
            found.append(like)
    return parted, found


def _halves(word: str) -> list[tuple[str, str]]:
    return [(word[:n], word[n:]) for n in range(3, len(word) - 2)] if word.isalpha() else []


def _near_in_pieces(words: list[str]) -> set[str]:
    """Words of the dictionary that share a good part of the pieces of one typed word."""
    wanted = [pieces for word in words if (pieces := spelling.pieces(word))]
    if not wanted:
        return set()
    rows = SearchPiece.objects.filter(piece__in=set().union(*wanted)).values("word").order_by()
    enough = Q()
    for n, pieces in enumerate(wanted):
        share = Count(Case(When(piece__in=pieces, then=F("piece"))), distinct=True)
        rows = rows.annotate(**{f"shared_{n}": share})
        enough |= Q(**{f"shared_{n}__gte": max(2, round(len(pieces) * 0.4))})
    return set(rows.filter(enough).values_list("word", flat=True))


def _most_like(word: str, others: set[str]) -> Spellings:
    """A quick comparison of letters leaves some; those are compared by slips and sound too."""
    close = process.extract(word, others, scorer=fuzz.ratio, score_cutoff=50, limit=COMPARED)
    like = {other: spelling.likeness(word, other) for other, *_ in close}
    most = SPELLINGS if word.isalpha() else NUMBERS
    best = sorted(like, key=lambda other: (-like[other], other))[:most]
    return {other: like[other] for other in best if like[other] >= LIKE_ENOUGH}


# --- places ----------------------------------------------------------------------------------

#: which typed word, place, spelling, kind, source
Row = tuple[Any, ...]


def places_with(
    spellings: list[Spellings], *, need: int, kinds: Sequence[str], sites: QuerySet[Site]
) -> list[Place]:
    """Places that have at least `need` of the words, the likeliest first."""
    asked = {n: words for n, words in enumerate(spellings) if words}
    if not asked or len(asked) < need:
        return []
    words = SearchWord.objects.filter(kind__in=kinds).order_by()
    rows = {
        n: words.filter(text__in=forms).values_list(
            Value(n, output_field=IntegerField()), "place", "text", "kind", "source"
        )
        for n, forms in asked.items()
    }
    found = together([each[:COMMON] for each in rows.values()])
    counts = Counter(row[0] for row in found)
    common = [n for n in asked if counts[n] >= COMMON and len(asked) > 1]
    if common:
        found = [row for row in found if row[0] not in common]
        numbers = _with_rare(found, need - len(common))
        if not numbers and len(common) >= need:
            numbers = _crossed(words, [asked[n] for n in common], sites)
        found = [row for row in found if row[1] in numbers]
        found += together([rows[n].filter(place__in=numbers) for n in common] if numbers else [])
    return _best(found, spellings, need)


def _with_rare(found: list[Row], need: int) -> set[int]:
    """Places with enough of the rare words; none if there are no rare ones."""
    had = Counter(place for _, place in {row[:2] for row in found})
    return {place for place, count in had.items() if count >= need}


def _crossed(
    words: QuerySet[SearchWord], common: list[Spellings], sites: QuerySet[Site]
) -> set[int]:
    """Some of the houses that have every one of several common words."""
    first, *others = sorted(common, key=lambda forms: -max(map(len, forms)))
    rows = words.filter(text__in=first, place__in=sites.order_by().values("pk"))
    for forms in others:
        rows = rows.filter(Exists(words.filter(place=OuterRef("place"), text__in=forms)))
    return set(rows.values_list("place", flat=True)[:MOST_CROSSED])


def _best(found: list[Row], spellings: list[Spellings], need: int) -> list[Place]:
    places: dict[int, Place] = {}
    for n, number, text, kind, source in found:
        place = places.setdefault(number, Place(number))
        place.add(n, (kind, source), spellings[n][text])
    enough = [place for place in places.values() if len(place.found) >= need]
    return sorted(enough, key=lambda place: -place.points(len(spellings)))[:MOST_PLACES]
