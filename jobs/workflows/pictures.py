"""Pictures as they are kept: judged by their header, made anew, without place and camera."""

from __future__ import annotations

import hashlib
import io
import os
import secrets
import warnings
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from uuid import UUID

from django.contrib.auth.models import User
from django.db import IntegrityError, transaction
from PIL import Image, ImageOps

from jobs.errors import BadEntry, JobsError, NotAllowed
from jobs.models import Photo, Picture
from jobs.models.photos import photo_folder

#: what the phone sends is smaller by far; a form without script sends the camera's own file
MOST_BYTES = 3 * 2**20
MOST_PIXELS = 25_000_000
LONG_SIDE, SMALL_SIDE = 1600, 400
QUALITY = 80
FORMATS = ("JPEG", "PNG")
#: bytes that nothing names, and those of a removed photo, are kept so long
KEPT_UNNAMED = timedelta(days=14)

CANNOT_READ = "This picture cannot be read. Take it again, as JPEG or PNG."
TOO_LARGE = "This picture has more than 25 megapixels. Take it again with a smaller size set."


@dataclass(frozen=True)
class Clean:
    content: bytes
    small: bytes
    width: int
    height: int


def clean(content: bytes) -> Clean:
    """The same picture as a new JPEG: upright, at most 1,600 dots long, nothing else in the file.

    Its size is read from the header, before anything is unpacked.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("error", Image.DecompressionBombWarning)
            with Image.open(io.BytesIO(content), formats=FORMATS) as opened:
                return _made_anew(opened)
    except (Image.DecompressionBombWarning, Image.DecompressionBombError) as error:
        raise BadEntry(TOO_LARGE, field="photos") from error
    except JobsError:
        raise
    except Exception as error:  # a decoder raises whatever it likes at bytes made to hurt it
        raise BadEntry(CANNOT_READ, field="photos") from error


def _made_anew(opened: Image.Image) -> Clean:
    if opened.width * opened.height > MOST_PIXELS:
        raise BadEntry(TOO_LARGE, field="photos")
    opened.thumbnail((LONG_SIDE, LONG_SIDE))
    upright = ImageOps.exif_transpose(opened)
    if upright.has_transparency_data:
        layer = upright.convert("RGBA")
        drawn = Image.new("RGB", layer.size, "white")
        drawn.paste(layer, mask=layer)
    else:
        drawn = Image.new("RGB", upright.size)
        drawn.paste(upright.convert("RGB"))
    small = drawn.copy()
    small.thumbnail((SMALL_SIDE, SMALL_SIDE))
    return Clean(_written(drawn), _written(small), *drawn.size)


def _written(picture: Image.Image) -> bytes:
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=QUALITY, optimize=True)
    return out.getvalue()


def shrunk(content: bytes, side: int) -> bytes:
    """One of our own pictures at most so long; the same bytes each time."""
    with Image.open(io.BytesIO(content), formats=FORMATS) as opened:
        opened.thumbnail((side, side))
        return _written(opened.convert("RGB"))


def keep_picture(
    *, uuid: UUID, content: bytes, by: User, now: datetime, sha256: str = ""
) -> tuple[Picture, bool]:
    """The picture of that number, and whether it is new; the same bytes again change nothing."""
    arrived = hashlib.sha256(content).hexdigest()
    if sha256 and sha256.lower() != arrived:
        raise BadEntry("The picture arrived damaged. Send it again.", field="photos")
    if known := _known(uuid, arrived, by):
        return known, False
    made = clean(content)
    name = secrets.token_hex(16)
    row = Picture(
        uuid=uuid,
        sha256=arrived,
        name=name,
        width=made.width,
        height=made.height,
        size=len(made.content),
        at=now,
        by=by,
    )
    _write(row.path, made.content)
    _write(row.small_path, made.small)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:  # the same picture came in over a second line meanwhile
        _erase(row)
        if known := _known(uuid, arrived, by):
            return known, False
        raise
    return row, True


def _known(uuid: UUID, sha256: str, by: User) -> Picture | None:
    row = Picture.objects.filter(uuid=uuid).first()
    if row is None:
        return None
    if row.by_id != by.pk:
        raise NotAllowed("This number belongs to a picture of somebody else.", field="photos")
    if row.sha256 != sha256:
        raise BadEntry("Another picture was sent under this number.", field="photos")
    return row


def _write(path: Path, content: bytes) -> None:
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    descriptor = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())


def _erase(picture: Picture) -> None:
    picture.path.unlink(missing_ok=True)
    picture.small_path.unlink(missing_ok=True)


def clear_pictures(now: datetime) -> None:
    """Bytes that no photo names after 14 days, those of photos removed so long ago, and files
    that no row knows."""
    since = now - KEPT_UNNAMED
    for picture in Picture.objects.filter(photo=None, at__lt=since):
        _erase(picture)
        picture.delete()
    for photo in Photo.objects.removed_before(since).select_related("picture"):
        _erase(photo.picture)
    known = set(Picture.objects.values_list("name", flat=True))
    for file in photo_folder().glob("*.jpg"):
        is_known = file.stem.removesuffix("-small") in known
        if not is_known and file.stat().st_mtime < since.timestamp():
            file.unlink()
