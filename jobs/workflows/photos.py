"""Photos taken on a visit: added, described, removed and put back until the record closes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Stage
from jobs.access import has_role
from jobs.errors import BadEntry, NotAllowed, RecordClosed, WrongState
from jobs.models import ChecklistRecord, Photo, Picture, Visit

from .answers import may_write, open_and_allowed
from .log import log
from .moments import done_at, done_on

MOST_PHOTOS = 12
#: what fits on the customer's two pages
MOST_ON_PAPER = 6


@dataclass(frozen=True)
class Shows:
    """Words for a photo, the part or line of the record, and whether the customer sees it."""

    caption: str
    block: str = ""
    line_key: str = ""
    stage: Stage | None = None
    for_customer: bool = False


@transaction.atomic
def add_to_record(
    *,
    record: ChecklistRecord,
    visit: Visit | None,
    pictures: Sequence[Picture],
    shows: Shows,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> list[Photo]:
    """Several photos of a record, one of its parts or one of its lines, taken at that moment."""
    record = open_and_allowed(record, by)
    _refuse_unknown_place(record, shows)
    of = {"record": record, "visit": visit, "site": record.site}
    return _added(of, pictures, shows, by, done_at(record, at, now))


@transaction.atomic
def add_to_visit(
    *,
    visit: Visit,
    pictures: Sequence[Picture],
    shows: Shows,
    by: User,
    now: datetime,
    at: datetime | None = None,
) -> list[Photo]:
    """Several photos of a visit that need no record."""
    visit = (
        Visit.objects.select_for_update(of=("self",)).select_related("job__site").get(pk=visit.pk)
    )
    if by.pk not in (visit.lead_id, visit.helper_id):
        raise NotAllowed("Only who leads or helps on this visit adds photos to it.")
    if not visit.is_to_come:
        raise WrongState("This visit has ended: its photos stay as they are.")
    of = {"visit": visit, "record": None, "site": visit.job.site}
    return _added(of, pictures, shows, by, done_on([visit], at, now))


def _added(
    of: dict[str, Any], pictures: Sequence[Picture], shows: Shows, by: User, at: datetime
) -> list[Photo]:
    """The photos; a picture that is one already, as after a second sending, is counted once."""
    photos = _of(of["record"], of["visit"])
    new = [picture for picture in pictures if not _is_there(picture, of, by)]
    room = MOST_PHOTOS - photos.shown().count()
    if len(new) > room:
        raise BadEntry(_full(room), field="photos")
    if not shows.caption.strip():
        raise BadEntry("Say what the photo shows.", field="caption")
    if shows.for_customer:
        _refuse_full_paper(photos, len(new))
    said = {
        "caption": shows.caption.strip()[:120],
        "block": shows.block,
        "line_key": shows.line_key,
        "stage": shows.stage,
        "for_customer": shows.for_customer,
    }
    return [Photo.objects.create(picture=each, at=at, by=by, **of, **said) for each in new]


def _of(record: ChecklistRecord | None, visit: Visit | None) -> Any:
    """The photos that are counted together."""
    if record:
        return Photo.objects.filter(record=record)
    return Photo.objects.filter(visit=visit, record=None)


def _is_there(picture: Picture, of: dict[str, Any], by: User) -> bool:
    if picture.by_id != by.pk:
        raise NotAllowed("This picture was sent by somebody else.", field="photos")
    known = Photo.objects.filter(picture=picture).first()
    if known is None:
        return False
    if (known.record, known.record or known.visit) != (of["record"], of["record"] or of["visit"]):
        raise BadEntry("This picture stands elsewhere already.", field="photos")
    return True


def _full(room: int) -> str:
    if room > 0:
        return f"There is room for {room} more: at most {MOST_PHOTOS} photos. Choose fewer."
    return f"There are {MOST_PHOTOS} photos, which is the most. Remove one first."


def _refuse_full_paper(photos: Any, more: int) -> None:
    if photos.shown().filter(for_customer=True).count() + more > MOST_ON_PAPER:
        raise BadEntry(
            f"At most {MOST_ON_PAPER} photos go on the customer's record. Take one off first.",
            field="for_customer",
        )


def _refuse_unknown_place(record: ChecklistRecord, shows: Shows) -> None:
    lines = record.template.lines.all()
    if shows.block:
        lines = lines.filter(block=shows.block)
    if shows.line_key:
        lines = lines.filter(key=shows.line_key)
    if not lines.exists():
        raise BadEntry("This record has no such part.", field="shows")


@transaction.atomic
def describe(*, photo: Photo, caption: str, for_customer: bool, by: User) -> Photo:
    """Other words, or on the customer's record after all, or not."""
    photo = _still_open(photo, by)
    if not caption.strip():
        raise BadEntry("Say what the photo shows.", field="caption")
    if for_customer and not photo.for_customer:
        _refuse_full_paper(_of(photo.record, photo.visit), 1)
    photo.caption, photo.for_customer = caption.strip()[:120], for_customer
    photo.save()
    return photo


@transaction.atomic
def remove(*, photo: Photo, by: User, now: datetime) -> Photo:
    """Gone from every page at once; that it was there is said, and it can be put back.

    The office removes what nobody should see, also after the visit.
    """
    photo = _for_office(photo) if has_role(by, "dispatcher") else _own(photo, by)
    if photo.removed_at is None:
        photo.removed_at, photo.removed_by = now, by
        photo.save()
        log(verb="photo_removed", subject=photo, by=by, now=now, site=photo.site)
    return photo


@transaction.atomic
def put_back(*, photo: Photo, by: User, now: datetime) -> Photo:
    photo = _for_office(photo) if has_role(by, "dispatcher") else _own(photo, by)
    if photo.removed_at is None:
        return photo
    if photo.removed_by_id != by.pk and not has_role(by, "dispatcher"):
        raise NotAllowed("The office removed this photo: ask there.")
    if not photo.picture.path.exists():
        raise WrongState("This photo was removed too long ago: its picture is gone. Take it again.")
    photos = _of(photo.record, photo.visit)
    if photos.shown().count() >= MOST_PHOTOS:
        raise WrongState(_full(0))
    photo.removed_at = photo.removed_by = None
    if photo.for_customer:
        _refuse_full_paper(photos, 1)
    photo.save()
    log(verb="photo_put_back", subject=photo, by=by, now=now, site=photo.site)
    return photo


def _for_office(photo: Photo) -> Photo:
    """What stands on the paper of a closed record stays with it."""
    photo = Photo.objects.select_for_update(of=("self",)).get(pk=photo.pk)
    if is_on_paper(photo):
        raise RecordClosed(
            "It was taken off the customer's record for good: a newer version says so."
            if photo.removed_at
            else "It is on the customer's record, which is closed: say why it is taken off."
        )
    return photo


def is_on_paper(photo: Photo) -> bool:
    return bool(photo.for_customer and photo.record and photo.record.is_closed)


def may_remove(photo: Photo, by: User) -> bool:
    """Who took it until its visit or record has ended; the office at any time."""
    if has_role(by, "dispatcher"):
        return not is_on_paper(photo)
    return photo.by_id == by.pk and may_change(photo, by)


def _own(photo: Photo, by: User) -> Photo:
    photo = _still_open(photo, by)
    if photo.by_id != by.pk:
        raise NotAllowed("Only who took a photo removes it.")
    return photo


def _still_open(photo: Photo, by: User) -> Photo:
    """The photo as it is now, with what it belongs to locked."""
    photo = Photo.objects.select_related("picture", "site", "record", "visit").get(pk=photo.pk)
    if photo.record:
        photo.record = open_and_allowed(photo.record, by)
    elif photo.visit:
        photo.visit = Visit.objects.select_for_update(of=("self",)).get(pk=photo.visit.pk)
        if by.pk not in (photo.visit.lead_id, photo.visit.helper_id):
            raise NotAllowed("Only who leads or helps on this visit changes its photos.")
    if photo.is_settled:
        raise RecordClosed("This visit has ended: its photos stay as they are.")
    return photo


def may_change(photo: Photo, by: User) -> bool:
    """Whether the words of a photo are this person's to change now."""
    if photo.is_settled:
        return False
    if photo.record:
        return may_write(photo.record, by)
    return photo.visit is not None and by.pk in (photo.visit.lead_id, photo.visit.helper_id)
