"""When people work: hours of a weekday, time away, days of the company, and what work asks for."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from typing import ClassVar, Self

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from .jobs import Job
from .visits import Visit, VisitQuerySet


class WorkHours(models.Model):
    """Hours of a person on one weekday; where none stand, the company's hold.

    Both empty: not at work on that weekday.
    """

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="hours"
    )
    #: 0 is Monday
    weekday = models.PositiveSmallIntegerField(validators=[MaxValueValidator(6)])
    works_from = models.TimeField(null=True, blank=True)
    works_until = models.TimeField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["person", "weekday"]
        verbose_name_plural = "work hours"
        constraints = [
            models.UniqueConstraint(name="hours_once_a_weekday", fields=["person", "weekday"]),
            models.CheckConstraint(
                name="hours_in_order",
                condition=Q(works_from=None, works_until=None)
                | Q(works_from__isnull=False, works_until__gt=F("works_from")),
            ),
        ]

    def __str__(self) -> str:
        return f"hours of {self.person_id} on weekday {self.weekday}"


class AbsenceQuerySet(models.QuerySet["Absence"]):
    def standing(self) -> Self:
        return self.filter(withdrawn_at=None)

    def within(self, starts_at: datetime, ends_at: datetime) -> Self:
        """Those that touch a span of time."""
        return self.filter(starts_at__lt=ends_at, ends_at__gt=starts_at)

    def of(self, people: Iterable[int | None]) -> Self:
        return self.filter(person__in=[person for person in people if person])


class Absence(models.Model):
    """A person is away. Schedules say only that; the kind is for who plans."""

    class Kind(models.TextChoices):
        ILL = "ill", "ill"
        LEAVE = "leave", "leave"
        COURSE = "course", "course"
        OTHER = "other", "something else"

    person = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="absences"
    )
    kind = models.CharField(max_length=6, choices=Kind)
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    note = models.CharField(max_length=200, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    withdrawn_at = models.DateTimeField(null=True, blank=True)

    objects = AbsenceQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="absence_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))
            ),
        ]
        indexes = [models.Index(fields=["person", "ends_at"], name="absence_of_person")]

    def __str__(self) -> str:
        return f"absence {self.pk}"

    def visits(self) -> VisitQuerySet:
        """What still stands in this person's name while they are away."""
        mine = Q(lead=self.person_id) | Q(helper=self.person_id)
        span = Q(starts_at__lt=self.ends_at, ends_at__gt=self.starts_at)
        return Visit.objects.to_come().filter(mine, span)


class Giving(models.Model):
    """A visit of somebody who is away was given to somebody else, and how it stood before."""

    MAY_GO_BACK: ClassVar = (
        Visit.Status.REQUESTED,
        Visit.Status.TENTATIVE,
        Visit.Status.CONFIRMED,
    )

    absence = models.ForeignKey(Absence, on_delete=models.PROTECT, related_name="givings")
    visit = models.ForeignKey(Visit, on_delete=models.PROTECT, related_name="givings")
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    lead_before = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    helper_before = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    starts_before = models.DateTimeField()
    ends_before = models.DateTimeField()
    from_before = models.DateTimeField()
    until_before = models.DateTimeField()
    version_after = models.PositiveIntegerField()

    class Meta:
        ordering = ["at", "pk"]

    def __str__(self) -> str:
        return f"visit {self.visit_id} given away"


class CompanyDay(models.Model):
    """A day on which the company is closed besides the holidays, or works on one of them."""

    day = models.DateField(unique=True)
    name = models.CharField(max_length=80)
    is_worked = models.BooleanField(default=False)
    history = HistoricalRecords()

    class Meta:
        ordering = ["day"]

    def __str__(self) -> str:
        return self.name


class WorkNeed(models.Model):
    """What a kind of work asks for: a licence that one of its people holds, and how many people."""

    kind = models.CharField(max_length=10, choices=Job.Kind, unique=True)
    licence = models.CharField(max_length=80, blank=True)
    people = models.PositiveSmallIntegerField(
        default=1, validators=[MinValueValidator(1), MaxValueValidator(2)]
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind"]

    def __str__(self) -> str:
        return self.get_kind_display()
