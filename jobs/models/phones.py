"""Phones of technicians, each by the number its browser has made up, and those that were lost."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q


class PhoneQuerySet(models.QuerySet["Phone"]):
    def with_people(self) -> Self:
        return self.select_related("user", "lost_by")

    def heard_since(self, moment: datetime) -> Self:
        return self.filter(heard_at__gte=moment)

    def lost_since(self, moment: datetime) -> Self:
        return self.filter(lost_at__gte=moment)


class Phone(models.Model):
    """One browser in which somebody was signed in: when it was heard of last, and what it kept."""

    number = models.UUIDField(default=uuid.uuid4, unique=True)
    user = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="phones"
    )
    first_heard_at = models.DateTimeField()
    heard_at = models.DateTimeField("last heard of")
    waiting = models.PositiveIntegerField("entries not sent when it was heard of", default=0)
    lost_at = models.DateTimeField(null=True, blank=True)
    lost_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    #: entries that had not come by then: nobody will send them
    entries_lost = models.PositiveIntegerField(default=0)
    wiped_at = models.DateTimeField("told to forget everything", null=True, blank=True)

    objects = PhoneQuerySet.as_manager()

    class Meta:
        ordering = ["-heard_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="phone_lost_by_somebody",
                condition=Q(lost_at=None, lost_by=None, wiped_at=None)
                | Q(lost_at__isnull=False, lost_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return str(self.number)
