"""What the pages of photos show."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.contrib.auth.models import User

from equipment.models import Site
from jobs.fieldwork.sheet import Sheet
from jobs.forms.photos import place_of, places_of
from jobs.models import ChecklistRecord, Photo, Visit
from jobs.workflows.photos import MOST_PHOTOS, may_change

#: the newest of a house; the others stand with their record or visit
OF_HOUSE = 12


@dataclass(frozen=True)
class Shown:
    photo: Photo
    place: str = ""


def of_record(record: ChecklistRecord, sheet: Sheet | None = None) -> dict[str, object]:
    """The photos of a record, each with its part, and what was removed."""
    places = places_of(sheet) if sheet else ()
    return _split(Photo.objects.filter(record=record).with_people(), places)


def of_block(record: ChecklistRecord, block: str) -> list[Shown]:
    rows = Photo.objects.filter(record=record, block=block).shown().with_people()
    return [Shown(row) for row in rows]


def of_visit(visit: Visit) -> dict[str, object]:
    """All of a visit, those of its records as well."""
    return _split(Photo.objects.filter(visit=visit).with_people(), ())


def of_house(site: Site) -> list[Shown]:
    rows = Photo.objects.filter(site=site).shown().with_people()[:OF_HOUSE]
    return [Shown(row) for row in rows]


def _split(rows: Iterable[Photo], places: Iterable[tuple[str, str]]) -> dict[str, object]:
    photos = list(rows)
    standing = [Shown(row, place_of(row, places)) for row in photos if row.removed_at is None]
    return {
        "photos": standing,
        "photos_removed": [row for row in photos if row.removed_at],
        "most": MOST_PHOTOS,
    }


def of_one(photo: Photo, by: User) -> dict[str, object]:
    """One photo: whether its words are this person's, and whether it is theirs to remove."""
    may = may_change(photo, by)
    return {"photo": photo, "writes": may, "is_own": may and photo.by_id == by.pk}
