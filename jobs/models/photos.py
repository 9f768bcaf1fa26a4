"""Photos of a record or a visit, and the bytes they show."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models import Site, Stage

from .records import ChecklistRecord
from .visits import Visit


def photo_folder() -> Path:
    """Beside the database, outside of everything the web server hands out by itself."""
    return Path(settings.MEDIA_ROOT) / "photos"


class Picture(models.Model):
    """Bytes that arrived, made anew and kept in a file; shown nowhere until a photo names them."""

    uuid = models.UUIDField(unique=True)
    sha256 = models.CharField("of what was sent", max_length=64)
    name = models.CharField("random name of the file", max_length=32, unique=True)
    width = models.PositiveIntegerField()
    height = models.PositiveIntegerField()
    size = models.PositiveIntegerField("bytes kept")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return str(self.uuid)

    @property
    def path(self) -> Path:
        return photo_folder() / f"{self.name}.jpg"

    @property
    def small_path(self) -> Path:
        return photo_folder() / f"{self.name}-small.jpg"

    def read(self, *, small: bool = False) -> bytes | None:
        """What the file holds; None where it is gone, as after a restore without the folder."""
        try:
            return (self.small_path if small else self.path).read_bytes()
        except OSError:
            return None


class PhotoQuerySet(models.QuerySet["Photo"]):
    def shown(self) -> Self:
        return self.filter(removed_at=None)

    def with_people(self) -> Self:
        return self.select_related("picture", "by", "removed_by", "stage")

    def on_paper(self) -> Self:
        """Chosen for the customer's record, in the order they were taken."""
        return self.shown().filter(for_customer=True).select_related("picture").order_by("pk")

    def removed_before(self, moment: datetime) -> Self:
        return self.filter(removed_at__lt=moment)


class Photo(models.Model):
    """A picture as evidence: of a visit, and of a record, one of its parts or one of its lines."""

    picture = models.OneToOneField(Picture, on_delete=models.PROTECT, related_name="photo")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="photos"
    )
    block = models.SlugField("part of the record", max_length=40, blank=True)
    line_key = models.SlugField(max_length=60, blank=True)
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    caption = models.CharField("what it shows", max_length=120)
    for_customer = models.BooleanField("on the customer's record too", default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    removed_at = models.DateTimeField(null=True, blank=True)
    removed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = PhotoQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="photo_of_a_visit_or_record",
                condition=Q(visit__isnull=False) | Q(record__isnull=False),
            ),
            models.CheckConstraint(
                name="photo_removed_by_somebody",
                condition=Q(removed_at=None, removed_by=None)
                | Q(removed_at__isnull=False, removed_by__isnull=False),
            ),
        ]
        indexes = [models.Index(fields=["site", "-at"], name="photo_of_house")]

    def __str__(self) -> str:
        return self.caption

    @property
    def is_settled(self) -> bool:
        """What it belongs to has ended: neither words nor picture change any more."""
        if self.record:
            return self.record.is_closed
        return self.visit is not None and not self.visit.is_to_come
