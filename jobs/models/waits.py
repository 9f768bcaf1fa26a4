"""A visit that waits: for days to pass after another one, or for what a laboratory finds."""

from __future__ import annotations

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from equipment.models import Sample

from .visits import Visit

LONGEST_DAYS = 365


class VisitWaitQuerySet(models.QuerySet["VisitWait"]):
    def standing(self) -> VisitWaitQuerySet:
        """Of visits that are only held: what is firm or over waits for nothing any more."""
        return self.filter(ended_at=None, visit__status__in=Visit.NOT_FIRM)

    def with_visits(self) -> VisitWaitQuerySet:
        """With the visit that waits, and what it waits for."""
        return self.select_related(
            "visit__job__site", "visit__lead", "visit__helper", "after__job__site", "sample"
        )


class VisitWait(models.Model):
    """The time of a visit is only held until this has come; what it says now is never stored."""

    class Kind(models.TextChoices):
        GAP = "gap", "days after another visit"
        RESULT = "result", "the result of a sample"

    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="waits")
    kind = models.CharField(max_length=6, choices=Kind)
    #: the visit that goes before; its samples are those of the house that were taken on its day
    after = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="waited_for"
    )
    days = models.PositiveSmallIntegerField(
        null=True,
        blank=True,
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST_DAYS)],
    )
    #: a bottle that is at the laboratory already
    sample = models.ForeignKey(
        Sample, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_why = models.CharField("why it waits no more", max_length=200, blank=True)

    objects = VisitWaitQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="visit_waits_once_of_a_kind",
                fields=["visit", "kind"],
                condition=Q(ended_at=None),
            ),
            models.CheckConstraint(
                name="visit_waits_for_something",
                condition=Q(kind="gap", after__isnull=False, days__isnull=False, sample=None)
                | Q(kind="result", days=None, after__isnull=False, sample=None)
                | Q(kind="result", days=None, after=None, sample__isnull=False),
            ),
            models.CheckConstraint(
                name="visit_wait_ended_by_someone",
                condition=Q(ended_at=None, ended_by=None, ended_why="")
                | (Q(ended_at__isnull=False, ended_by__isnull=False) & ~Q(ended_why="")),
            ),
        ]

    def __str__(self) -> str:
        return f"visit {self.visit_id} waits for {self.get_kind_display()}"


class LaboratoryDay(models.Model):
    """A day on which the laboratory takes no samples, besides the weekdays it never does."""

    day = models.DateField(unique=True)
    name = models.CharField("why", max_length=80)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return self.name
