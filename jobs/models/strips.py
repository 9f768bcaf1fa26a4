"""Test strips of a van: a lot with its expiry, and how they were found on a record."""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models import OxidantProduct
from jobs.wording.strips import strips_said

from .records import ChecklistRecord


class StripLotQuerySet(models.QuerySet["StripLot"]):
    def for_oxidant(self, oxidant: str) -> StripLotQuerySet:
        return self.filter(oxidant=oxidant)


class StripLot(models.Model):
    """Entered once from the bottle, then chosen."""

    oxidant = models.CharField(max_length=12, choices=OxidantProduct.Oxidant)
    lot = models.CharField("lot on the bottle", max_length=40)
    expires_on = models.DateField("good until")
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    objects = StripLotQuerySet.as_manager()

    class Meta:
        ordering = ["-expires_on", "lot"]
        constraints = [
            models.UniqueConstraint(name="strip_lot_once", fields=["oxidant", "lot"]),
            models.CheckConstraint(name="strip_lot_named", condition=~Q(lot="")),
        ]

    def __str__(self) -> str:
        return strips_said(self)


class StripCheck(models.Model):
    """Strips taken into use on a record: blank with the dosing pump off, and a known mix.

    The newest of a record is what its next readings are read with. None: not looked at.
    """

    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, related_name="strip_checks"
    )
    lot = models.ForeignKey(StripLot, on_delete=models.PROTECT, related_name="checks")
    blank_low_mg_l = models.FloatField(null=True, blank=True)
    blank_high_mg_l = models.FloatField(null=True, blank=True)
    mix_low_mg_l = models.FloatField(null=True, blank=True)
    mix_high_mg_l = models.FloatField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["record", "at", "pk"]

    def __str__(self) -> str:
        return f"{self.lot} on {self.record}"
