"""Water of a well whose bacteria stay, treated at one house: a notice that is held, not lifted."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models import ResultTold, Sample, Site, Train
from jobs.fieldwork.kinds import RAISED_WORDS, RaisedBy

from .notices import DoNotUse


class HeldQuerySet(models.QuerySet["HeldByTreatment"]):
    def standing(self) -> Self:
        """Not raised again, and the notice is not lifted altogether."""
        return self.filter(raised_at=None, notice__lifted_at=None)


class HeldByTreatment(models.Model):
    """At this house the treated taps may be drunk from, for as long as its treatment runs.

    The notice stays open at the well. Each row is one time it was held: who said so, on which
    evidence, who was told; and what raised it again.
    """

    class Alarm(models.TextChoices):
        SHUTS = "shuts", "shuts the water off by itself"
        SOUNDS = "sounds", "sounds or lights where the household notices it"

    class Raised(models.TextChoices):
        POWER = RaisedBy.POWER.value, RAISED_WORDS[RaisedBy.POWER]
        BYPASS = RaisedBy.BYPASS.value, RAISED_WORDS[RaisedBy.BYPASS]
        ALARM = RaisedBy.ALARM.value, RAISED_WORDS[RaisedBy.ALARM]
        OFF = RaisedBy.OFF.value, RAISED_WORDS[RaisedBy.OFF]
        PARTS = RaisedBy.PARTS.value, RAISED_WORDS[RaisedBy.PARTS]
        FOUND = RaisedBy.FOUND.value, RAISED_WORDS[RaisedBy.FOUND]
        GRAVER = RaisedBy.GRAVER.value, RAISED_WORDS[RaisedBy.GRAVER]
        OTHER = RaisedBy.OTHER.value, RAISED_WORDS[RaisedBy.OTHER]

    notice = models.ForeignKey(DoNotUse, on_delete=models.PROTECT, related_name="held")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(Train, on_delete=models.PROTECT, related_name="+")
    alarm = models.CharField("what warns when it stops", max_length=6, choices=Alarm)
    alarm_tested_on = models.DateField("day the alarm was made to go")
    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="+")
    whom = models.CharField("adult who was told", max_length=120)
    how = models.CharField(max_length=10, choices=ResultTold.How)
    number = models.CharField("number called", max_length=30, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    raised_at = models.DateTimeField(null=True, blank=True)
    raised_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    raised_why = models.CharField(max_length=6, choices=Raised, blank=True)
    raised_note = models.CharField(max_length=200, blank=True)
    raised_whom = models.CharField(max_length=120, blank=True)
    raised_how = models.CharField(max_length=10, choices=ResultTold.How, blank=True)
    raised_number = models.CharField(max_length=30, blank=True)

    objects = HeldQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="held_by_treatment_once_at_a_house",
                fields=["notice", "site"],
                condition=Q(raised_at=None),
            ),
            models.CheckConstraint(name="held_by_treatment_told", condition=~Q(whom="")),
            models.CheckConstraint(
                name="held_by_treatment_raised_by_someone",
                condition=Q(raised_at=None, raised_by=None, raised_why="")
                | (Q(raised_at__isnull=False, raised_by__isnull=False) & ~Q(raised_why="")),
            ),
        ]

    def __str__(self) -> str:
        return f"held by treatment at {self.site}"
