"""Who changed what: acts, and the entries of edited rows, in one list, newest first.

An act that wrote an entry names it, and stands there once: with the act's person, moment and
reason, and with the columns of the entry.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.apps import apps
from django.contrib.auth.models import User
from django.db.models import Exists, OuterRef, Q, QuerySet, Value
from django.db.models.fields import CharField

from equipment.models import Site, Train
from jobs.models import LogEntry, SiteTenure
from jobs.models.visits import day_start
from jobs.reports.log_words import PROGRAM, details, nobody_of_ours, verb_words
from jobs.wording.names import person as person_name

from .changed_columns import Column, Names, columns, names_for
from .changed_rows import SUBJECTS, name_of

ROWS = 50
#: lines of one file; more days than that hold are asked for in parts
FILE_ROWS = 20_000
EVERYBODY, NOBODY = "anybody", "program"
EVERYTHING = "everything"
ENTERED = {"+": "entered", "~": "changed", "-": "removed"}
#: how a row of a history belongs to a house: its column, and the rows of the house to look among
HOUSES: Mapping[str, tuple[str, type[Any] | None]] = {
    "equipment.site": ("id", None),
    "equipment.well": ("site_id", None),
    "equipment.train": ("site_id", None),
    "equipment.sample": ("site_id", None),
    "equipment.specialuse": ("site_id", None),
    "equipment.stage": ("train_id", Train),
    "jobs.sitetenure": ("site_id", None),
    "jobs.customer": ("id", SiteTenure),
}


@dataclass(frozen=True)
class Asked:
    since: date
    until: date
    #: a person's number, EVERYBODY who signs in (and customers), or NOBODY: the program itself
    person: str = EVERYBODY
    house: int | None = None
    subject: str = EVERYTHING

    @property
    def between(self) -> tuple[datetime, datetime]:
        return day_start(self.since), day_start(self.until + timedelta(days=1))


@dataclass(frozen=True)
class Line:
    at: datetime
    by: str
    what: str
    label: str  # of the model, for links
    row: int
    about: str
    house: Site | None
    reason: str
    details: tuple[tuple[str, str], ...]
    columns: tuple[Column, ...]


@dataclass(frozen=True)
class _Place:
    """Where a line stands before it is read: an act, or an entry that no act names."""

    at: datetime
    order: int
    act: int | None
    label: str
    entry: int | None


#: rows of which every change is told by an act
TOLD_BY_ACTS = "jobs.job"


def histories() -> dict[str, Any]:
    """The tables of entries, by the label of the rows they are about."""
    return {
        model._meta.label_lower: model.history.model
        for model in apps.get_models()
        if hasattr(model, "history") and hasattr(model.history, "model")
    }


def lines(asked: Asked, *, first: int = 0, most: int = ROWS) -> tuple[list[Line], bool]:
    """`most` lines from the one numbered `first`, and whether there are more."""
    places = _places(asked, first + most + 1)
    return _read(places[first : first + most]), len(places) > first + most


def people() -> list[User]:
    rows = User.objects.all()
    return sorted(rows, key=lambda user: person_name(user).casefold())


# --- where the lines stand -----------------------------------------------------------------


def _places(asked: Asked, most: int) -> list[_Place]:
    found = [*_of_acts(asked, most), *_of_entries(asked, most)]
    found.sort(key=lambda place: (place.at, place.order), reverse=True)
    return found[:most]


def _of_acts(asked: Asked, most: int) -> Iterable[_Place]:
    since, until = asked.between
    rows = LogEntry.objects.filter(at__gte=since, at__lt=until)
    if asked.person == NOBODY:
        rows = rows.filter(by=None).exclude(_BY_CUSTOMERS)
    elif asked.person != EVERYBODY:
        rows = rows.filter(by=int(asked.person))
    else:
        rows = rows.filter(Q(by__isnull=False) | _BY_CUSTOMERS)
    if asked.house is not None:
        rows = rows.filter(site_id_logged=asked.house)
    if asked.subject != EVERYTHING:
        rows = rows.filter(SUBJECTS[asked.subject].of_acts())
    rows = rows.order_by("-at", "-pk")[:most]
    wanted = rows.values_list("at", "pk", "subject_type", "entry_id_logged")
    return (_Place(at, pk, pk, label, entry) for at, pk, label, entry in wanted)


_BY_CUSTOMERS = Q(by=None, verb__startswith="customer_") | Q(by=None, verb="mail_stopped")


def _of_entries(asked: Asked, most: int) -> Iterable[_Place]:
    parts = [
        _part(label, model.objects.all(), asked)
        for label, model in histories().items()
        if _is_asked(label, asked)
    ]
    if not parts:
        return []
    every = parts[0].union(*parts[1:], all=True) if parts[1:] else parts[0]
    newest = every.order_by("-history_date", "-history_id")[:most]
    return [_Place(at, entry, None, label, entry) for label, entry, at in newest]


def _is_asked(label: str, asked: Asked) -> bool:
    if label == TOLD_BY_ACTS:
        return False
    is_of_house = asked.house is None or label in HOUSES
    return is_of_house and (asked.subject == EVERYTHING or SUBJECTS[asked.subject].holds(label))


def _part(label: str, rows: QuerySet[Any], asked: Asked) -> QuerySet[Any, Any]:
    since, until = asked.between
    rows = rows.filter(history_date__gte=since, history_date__lt=until)
    if asked.person == NOBODY:
        rows = rows.filter(history_user=None)
    elif asked.person != EVERYBODY:
        rows = rows.filter(history_user=int(asked.person))
    else:
        rows = rows.filter(history_user__isnull=False)
    if asked.house is not None:
        rows = rows.filter(**_at_house(label, asked.house))
    told = LogEntry.objects.filter(
        subject_type=label, subject_id=OuterRef("id"), entry_id_logged=OuterRef("history_id")
    )
    rows = rows.filter(~Exists(told)).order_by()
    labelled = rows.annotate(of_rows=Value(label, CharField()))
    wanted: QuerySet[Any, Any] = labelled.values_list("of_rows", "history_id", "history_date")
    return wanted


def _at_house(label: str, house: int) -> dict[str, object]:
    column, among = HOUSES[label]
    if among is Train:
        return {f"{column}__in": Train.objects.filter(site=house).values("pk")}
    if among is SiteTenure:
        return {f"{column}__in": SiteTenure.objects.filter(site=house).values("customer_id")}
    return {column: house}


# --- the lines themselves ------------------------------------------------------------------


def _read(places: list[_Place]) -> list[Line]:
    pks = [place.act for place in places if place.act is not None]
    acts = LogEntry.objects.select_related("by").in_bulk(pks)
    entries = _entries(places)
    pairs = list(entries.values())
    names = names_for(pairs)
    trains = _sites_of_trains(entries)
    at_houses = [_house_of(place, acts, entries, trains) for place in places]
    houses = Site.objects.in_bulk({pk for pk in at_houses if pk is not None})
    found = []
    for place, house in zip(places, at_houses, strict=True):
        entry, before = entries.get((place.label, place.entry), (None, None))
        line = _line(place, acts.get(place.act or 0), entry, before, names)
        if line is not None:
            found.append(replace(line, house=houses.get(house or 0)))
    return found


def _entries(places: list[_Place]) -> dict[tuple[str, int | None], tuple[Any, Any]]:
    """Each entry with the one before it of the same row; one question a table."""
    wanted: dict[str, set[int]] = {}
    for place in places:
        if place.entry is not None:
            wanted.setdefault(place.label, set()).add(place.entry)
    tables, found = histories(), {}
    for label, pks in wanted.items():
        if label not in tables:
            continue
        rows = tables[label].objects
        earlier = rows.filter(id=OuterRef("id"), history_id__lt=OuterRef("history_id"))
        last = earlier.order_by("-history_id").values("history_id")[:1]
        named = rows.filter(history_id__in=pks)
        is_wanted = Q(history_id__in=pks) | Q(history_id__in=named.order_by().values_list(last))
        before: dict[int, Any] = {}
        for entry in rows.filter(is_wanted).select_related("history_user").order_by("history_id"):
            if entry.history_id in pks:
                found[label, entry.history_id] = (entry, before.get(entry.id))
            before[entry.id] = entry
    return found


def _line(
    place: _Place, act: LogEntry | None, entry: Any, before: Any, names: Names
) -> Line | None:
    """None for a saving that changed nothing and that no act tells of."""
    changed = columns(entry, before, names) if entry is not None else ()
    said: tuple[tuple[str, str], ...] = ()
    if act is None:
        if entry is None or (entry.history_type == "~" and not changed):
            return None
        by = person_name(entry.history_user) or PROGRAM
        reason = entry.history_change_reason or ""
        what, row = ENTERED[entry.history_type], entry.id
    else:
        by, reason = person_name(act.by) or nobody_of_ours(act.verb), act.reason
        what, row, said = verb_words(act.verb), act.subject_id, details(act.data)
    about = name_of(place.label, row, entry, names.people)
    return Line(place.at, by, what, place.label, row, about, None, reason, said, changed)


def _house_of(
    place: _Place,
    acts: Mapping[int, LogEntry],
    entries: Mapping[tuple[str, int | None], tuple[Any, Any]],
    trains: Mapping[int, int],
) -> int | None:
    act = acts.get(place.act or 0)
    if act is not None and act.site_id_logged is not None:
        return act.site_id_logged
    entry, _ = entries.get((place.label, place.entry), (None, None))
    if entry is None or place.label not in HOUSES:
        return None
    column, among = HOUSES[place.label]
    value: int = getattr(entry, column)
    if among is Train:
        return trains.get(value)
    return None if among is SiteTenure else value


def _sites_of_trains(entries: Mapping[tuple[str, int | None], tuple[Any, Any]]) -> dict[int, int]:
    wanted = {entry.train_id for (label, _), (entry, _) in entries.items() if _is_part(label)}
    if not wanted:
        return {}
    return dict(Train.objects.filter(pk__in=wanted).values_list("pk", "site_id"))


def _is_part(label: str) -> bool:
    return HOUSES.get(label, ("", None))[1] is Train
