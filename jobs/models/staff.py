from __future__ import annotations

from datetime import date, timedelta
from typing import Self

from django.contrib.auth.models import User
from django.db import models
from django.db.models import Q
from phonenumber_field.modelfields import PhoneNumberField
from simple_history.models import HistoricalRecords


class StaffProfile(models.Model):
    """What the company keeps about a person besides the account."""

    class UnitSystem(models.TextChoices):
        US = "us", "US customary"
        METRIC = "metric", "metric"

    user = models.OneToOneField(User, on_delete=models.PROTECT, related_name="profile")
    phone = PhoneNumberField(region="US", blank=True)
    #: both empty: lunch when the company has it
    lunch_from = models.TimeField(null=True, blank=True)
    lunch_until = models.TimeField(null=True, blank=True)
    unit_system = models.CharField(max_length=6, choices=UnitSystem, default=UnitSystem.US)
    history = HistoricalRecords()

    def __str__(self) -> str:
        return self.user.get_full_name() or self.user.get_username()


class SkillQuerySet(models.QuerySet["Skill"]):
    def of_who_works(self) -> Self:
        """Of the company itself, and of everybody with an open account."""
        return self.filter(Q(person=None) | Q(person__is_active=True))

    def in_use(self) -> Self:
        return self.of_who_works().filter(withdrawn_on=None)

    def to_renew(self, on: date, lead: timedelta) -> Self:
        """What has ended, or ends within the days of lead."""
        return self.in_use().filter(expires_on__lte=on + lead)


class Skill(models.Model):
    """A licence, certificate or training with its end; without a person it is the company's own.

    A renewal or a correction is an entry of its history.
    """

    person = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="skills"
    )
    name = models.CharField(max_length=80)
    number = models.CharField(max_length=60, blank=True)
    #: the last day on which it holds; empty: no end
    expires_on = models.DateField("ends on", null=True, blank=True)
    withdrawn_on = models.DateField("left out of use on", null=True, blank=True)
    history = HistoricalRecords()

    objects = SkillQuerySet.as_manager()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(name="skill_once_per_person", fields=["person", "name"]),
            models.UniqueConstraint(
                name="licence_of_the_company_once",
                fields=["name"],
                condition=Q(person=None),
            ),
        ]

    def __str__(self) -> str:
        return self.name
