"""Keeps the words of the search in step with the rows they come from.

Every saved customer, house, tenure, well and part passes `keep`. What is written past `save`
(bulk_create, update, another program) is taken in by `rebuild`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice
from typing import TypeVar

from django.db import transaction
from django.db.models import Model
from django.db.models.signals import post_delete, post_save

from equipment.models import Site, Stage, Well
from jobs.models import (
    Customer,
    SearchPiece,
    SearchWord,
    SiteTenure,
)

from . import spelling as spelling

Kind = SearchWord.Kind
#: (kind, text, house or minus customer)
Word = tuple[str, str, int]
SOURCES: dict[type[Model], tuple[Kind, ...]] = {
    Customer: (Kind.NAME, Kind.PHONE, Kind.EMAIL),
    Site: (Kind.ADDRESS, Kind.PARCEL),
    Well: (Kind.TAG,),
    Stage: (Kind.SERIAL,),
}
CHUNK = 2000
Row = TypeVar("Row", bound=Model)


def keep(row: Model) -> None:
    """The words of one row as they are now; a tenure moves the words of its customer."""
    if isinstance(row, SiteTenure):
        row = row.customer
    kinds = SOURCES[type(row)]
    wanted = set(words_of(row))
    standing = SearchWord.objects.filter(source=row.pk, kind__in=kinds)
    kept = {(word.kind, word.text, word.place): word.pk for word in standing}
    gone = [pk for word, pk in kept.items() if word not in wanted]
    if gone:
        SearchWord.objects.filter(pk__in=gone).delete()
    fresh = sorted(wanted - kept.keys())
    if fresh:
        _write((word, row.pk) for word in fresh)
        _spell({text for kind, text, _ in fresh if kind != Kind.EMAIL})


def forget(row: Model) -> None:
    SearchWord.objects.filter(source=row.pk, kind__in=SOURCES[type(row)]).delete()


@transaction.atomic
def rebuild() -> int:
    """All words anew, from the rows as they are; returns how many."""
    SearchWord.objects.all().delete()
    SearchPiece.objects.all().delete()
    texts: set[str] = set()
    count = 0
    for rows in _all_rows():
        words = [(word, pk) for pk, found in rows for word in sorted(set(found))]
        _write(words)
        texts.update(text for (kind, text, _), _pk in words if kind != Kind.EMAIL)
        count += len(words)
    _spell(texts, known=set())
    return count


def words_of(row: Model) -> Iterator[Word]:
    if isinstance(row, Customer):
        places = list(SiteTenure.objects.filter(customer=row).values_list("site", flat=True))
        yield from _customer_words(row, places)
    elif isinstance(row, Site):
        yield from _site_words(row)
    elif isinstance(row, Well):
        yield from _code_words(Kind.TAG, row.tag, row.site_id)
    elif isinstance(row, Stage) and row.serial:
        yield from _code_words(Kind.SERIAL, row.serial, row.train.site_id)


def _customer_words(row: Customer, places: Iterable[int]) -> Iterator[Word]:
    texts = [(Kind.NAME, text) for text in spelling.name_words(row.name)]
    for number in row.phone_digits.split():
        texts += [(Kind.PHONE, text) for text in spelling.phone_words(number)]
    if row.email:
        texts.append((Kind.EMAIL, spelling.email_word(row.email)))
    for place in set(places) or {-row.pk}:
        for kind, text in texts:
            yield kind, text, place


def _site_words(row: Site) -> Iterator[Word]:
    for text in spelling.address_words(row.street, row.town):
        yield Kind.ADDRESS, text, row.pk
    yield from _code_words(Kind.PARCEL, row.parcel, row.pk)


def _code_words(kind: Kind, code: str, place: int) -> Iterator[Word]:
    for text in spelling.code_words(code):
        yield kind, text, place


def _all_rows() -> Iterator[list[tuple[int, Iterator[Word]]]]:
    """(number of the row, its words) of every row there is, so many at a time."""
    for customers in _chunks(Customer.objects.order_by("pk").iterator(CHUNK)):
        held: dict[int, list[int]] = {}
        tenures = SiteTenure.objects.filter(customer__in=customers).order_by()
        for customer, site in tenures.values_list("customer", "site"):
            held.setdefault(customer, []).append(site)
        yield [(row.pk, _customer_words(row, held.get(row.pk, []))) for row in customers]
    stages = Stage.objects.exclude(serial="").select_related("train")
    for rows in (Site.objects.all(), Well.objects.exclude(tag=""), stages):
        for chunk in _chunks(rows.order_by("pk").iterator(CHUNK)):
            yield [(row.pk, words_of(row)) for row in chunk]


def _chunks(rows: Iterable[Row]) -> Iterator[list[Row]]:
    rows = iter(rows)
    while chunk := list(islice(rows, CHUNK)):
        yield chunk


def _write(words: Iterable[tuple[Word, int]]) -> None:
    rows = (
        SearchWord(kind=kind, text=text, place=place, source=source)
        for (kind, text, place), source in words
    )
    for chunk in _chunks(rows):
        SearchWord.objects.bulk_create(chunk)


def _spell(texts: set[str], known: set[str] | None = None) -> None:
    """Words the dictionary has not yet, as a whole and in pieces."""
    if known is None:
        there = SearchPiece.objects.filter(piece="", word__in=texts)
        known = set(there.values_list("word", flat=True))
    rows = (
        SearchPiece(piece=piece, word=word)
        for word in sorted(texts - known)
        for piece in ("", *sorted(spelling.pieces(word)))
    )
    for chunk in _chunks(rows):
        SearchPiece.objects.bulk_create(chunk)


def _saved(instance: Model, raw: bool = False, **kwargs: object) -> None:
    if not raw:
        keep(instance)


def _deleted(instance: Model, **kwargs: object) -> None:
    if isinstance(instance, SiteTenure):
        keep(instance)
    else:
        forget(instance)


def connect() -> None:
    """Once, when the application is ready."""
    models: list[type[Model]] = [*SOURCES, SiteTenure]
    for model in models:
        post_save.connect(_saved, sender=model, dispatch_uid=f"search-{model.__name__}")
        post_delete.connect(_deleted, sender=model, dispatch_uid=f"search-{model.__name__}")
