"""Photos as a form takes them: chosen files, pictures that were sent before, and their words."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from django import forms
from django.contrib.auth.models import User
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict

from equipment.models import Stage
from jobs.errors import JobsError
from jobs.fieldwork.sheet import Sheet
from jobs.forms.fields import say_optional
from jobs.http import MOST_DIGITS
from jobs.models import Photo, Picture
from jobs.workflows.photos import MOST_PHOTOS, Shows
from jobs.workflows.pictures import keep_picture

ACCEPTED = "image/jpeg,image/png"
#: between the names of part, line and piece of equipment in one choice
BETWEEN = "/"


class SeveralFiles(forms.ClearableFileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Each file that was chosen."""

    def clean(self, data: Any, initial: Any = None) -> Any:
        chosen = data if isinstance(data, list | tuple) else [data] if data else []
        return [each for each in chosen if each]


class WordsForm(forms.Form):
    """What a photo shows, and whether the customer sees it."""

    caption = forms.CharField(
        label="What it shows",
        max_length=120,
        error_messages={"required": "Say what the photo shows."},
    )
    for_customer = forms.BooleanField(label="On the customer's record too", required=False)


class PhotosForm(WordsForm):
    """Several photos at once. Pictures that arrived are kept, also when the form is refused."""

    camera = PhotosField(
        label="Take a photo",
        required=False,
        widget=SeveralFiles(attrs={"accept": ACCEPTED, "capture": "environment"}),
        help_text="No faces, no house number.",
    )
    photos = PhotosField(
        label="From this phone or computer",
        required=False,
        widget=SeveralFiles(attrs={"accept": ACCEPTED, "multiple": True}),
        help_text="JPEG or PNG, at most 25 megapixels each and 30 MB together.",
    )
    field_order = ("camera", "photos", "shows", "caption", "for_customer")

    def __init__(
        self,
        *args: Any,
        sheet: Sheet | None = None,
        by: User,
        now: datetime,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.by, self.now, self.sheet = by, now, sheet
        self.pictures: list[Picture] = []
        if sheet:
            self.fields["shows"] = forms.ChoiceField(
                label="Part of the record", choices=places_of(sheet), required=False
            )
            self.order_fields(self.field_order)
        else:
            del self.fields["for_customer"]
        say_optional(self, "or choose below", ("camera",))
        say_optional(self, "one or several", ("photos",))
        say_optional(self, "the whole record unless chosen", self.fields.keys() & {"shows"})

    def clean(self) -> dict[str, Any]:
        told = super().clean() or {}
        self.pictures = self._sent_before()
        for name in ("camera", "photos"):
            for file in told.get(name) or []:
                self._take(name, file)
        if not self.pictures and not self.errors:
            self.add_error("photos", "Choose a photo, or take one.")
        return told

    def _sent_before(self) -> list[Picture]:
        """Pictures of this person, named by their number; those that never arrived are said."""
        named = [number for text in self._sent() if (number := uuid_in(text))]
        found = {row.uuid: row for row in Picture.objects.filter(uuid__in=named, by=self.by)}
        if len(found) < len(set(self._sent())):
            self.add_error("photos", "A picture has not arrived. Choose it again.")
        return list(found.values())

    def _sent(self) -> list[str]:
        assert isinstance(self.data, QueryDict)
        return self.data.getlist("sent")[: 2 * MOST_PHOTOS]

    def _take(self, name: str, file: UploadedFile[bytes]) -> None:
        try:
            row, _ = keep_picture(uuid=uuid4(), content=file.read(), by=self.by, now=self.now)
        except JobsError as refusal:
            self.add_error(name, f"{file.name}: {refusal.message}")
        else:
            self.pictures.append(row)

    def shows(self) -> Shows:
        return shows_of(self.cleaned_data, self.cleaned_data.get("shows", ""))


def shows_of(told: Mapping[str, Any], place: str) -> Shows:
    """Words of a photo, and the choice that says what it is of."""
    block, line, part = (*place.split(BETWEEN), "", "")[:3]
    known = part.isascii() and part.isdigit() and len(part) <= MOST_DIGITS
    stage = Stage.objects.filter(pk=int(part)).first() if known else None
    return Shows(told["caption"], block, line, stage, told.get("for_customer", False))


def uuid_in(text: str) -> UUID | None:
    try:
        return UUID(text)
    except ValueError:
        return None


def places_of(sheet: Sheet) -> list[tuple[str, str]]:
    """Each part of the record, and each line in it."""
    rows = [("", "the whole record")]
    for block in sheet.blocks:
        rows.append((block.key, f"Part {block.number}: {block.title}"))
        for item in block.items:
            stage = str(item.stage.pk) if item.stage else ""
            key = BETWEEN.join((block.key, item.line.key, stage)).rstrip(BETWEEN)
            rows.append((key, f"\u2003{item.label}"))
    return rows


def place_of(photo: Photo, places: Iterable[tuple[str, str]]) -> str:
    """How the part or line of a photo is called, "" for the whole record."""
    stage = str(photo.stage_id or "")
    key = BETWEEN.join((photo.block, photo.line_key, stage)).rstrip(BETWEEN)
    return dict(places).get(key, "").strip() if key else ""
