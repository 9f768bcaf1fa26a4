from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from .visits import Visit


class VisitRequestQuerySet(models.QuerySet["VisitRequest"]):
    def open(self) -> Self:
        return self.filter(handled_at=None)


class VisitRequest(models.Model):
    """A customer asks for another time, or for no visit. Each is kept, and handled by a name."""

    class Kind(models.TextChoices):
        MOVE = "move", "asks for another time"
        CANCEL = "cancel", "asks to cancel the visit"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="requests")
    kind = models.CharField(max_length=8, choices=Kind)
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    handled_at = models.DateTimeField(null=True, blank=True)
    handled_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    handled_how = models.CharField(max_length=200, blank=True)

    objects = VisitRequestQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="request_handled_by_a_name",
                condition=Q(handled_at=None, handled_by=None, handled_how="")
                | (Q(handled_at__isnull=False, handled_by__isnull=False) & ~Q(handled_how="")),
            ),
        ]
        indexes = [
            models.Index(fields=["visit"], name="request_open", condition=Q(handled_at=None)),
        ]

    def __str__(self) -> str:
        return self.said

    @property
    def said(self) -> str:
        """asks for another time: after four"""
        said = self.get_kind_display()
        return f"{said}: {self.note}" if self.note else said
