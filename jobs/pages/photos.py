"""What the pages of photos show."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from django.contrib.auth.models import User

from equipment.models import Site
from jobs.fieldwork.sheet import Sheet
from jobs.forms.photos import place_of, places_of
from jobs.models import ChecklistRecord, Photo, Visit
from jobs.workflows.photo_withdrawals import may_withdraw
from jobs.workflows.photos import MOST_PHOTOS, may_change, may_remove

#: the newest of a house; the others stand with their record or visit
OF_HOUSE = 12


@dataclass(frozen=True)
class Shown:
    photo: Photo
    place: str = ""


def by_record(records: Collection[ChecklistRecord]) -> dict[int, list[Photo]]:
    """The photos of each record by its number, those that were removed as well."""
    found: dict[int, list[Photo]] = {record.pk: [] for record in records}
    for row in Photo.objects.filter(record__in=found).with_people():
        found[row.record_id or 0].append(row)
    return found


def by_visit(visits: Collection[Visit]) -> dict[int, list[Photo]]:
    """All of each visit by its number, those of its records as well."""
    found: dict[int, list[Photo]] = {visit.pk: [] for visit in visits}
    for row in Photo.objects.filter(visit__in=found).with_people():
        found[row.visit_id or 0].append(row)
    return found


def split(rows: Iterable[Photo], sheet: Sheet | None = None) -> dict[str, object]:
    """The photos, of a record each with its part, and what was removed."""
    places, photos = places_of(sheet) if sheet else (), list(rows)
    standing = [Shown(row, place_of(row, places)) for row in photos if row.removed_at is None]
    return {
        "photos": standing,
        "photos_removed": [row for row in photos if row.removed_at],
        "most": MOST_PHOTOS,
    }


def of_block(rows: Iterable[Photo], block: str) -> list[Shown]:
    return [Shown(row) for row in rows if row.block == block and row.removed_at is None]


def of_house(site: Site) -> list[Shown]:
    rows = Photo.objects.filter(site=site).shown().with_people()[:OF_HOUSE]
    return [Shown(row) for row in rows]


def of_one(photo: Photo, by: User) -> dict[str, object]:
    """One photo: whether its words are this person's, and whether it is theirs to remove."""
    may = may_change(photo, by)
    return {
        "photo": photo,
        "writes": may,
        "may_remove": may_remove(photo, by),
        "may_withdraw": may_withdraw(photo, by),
    }
