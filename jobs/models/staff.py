from __future__ import annotations

from datetime import date

from django.contrib.auth.models import User
from django.db import models
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


class Skill(models.Model):
    """A licence or training, with its end."""

    person = models.ForeignKey(User, on_delete=models.PROTECT, related_name="skills")
    name = models.CharField(max_length=80)
    expires_on = models.DateField(null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(name="skill_once_per_person", fields=["person", "name"])
        ]

    def __str__(self) -> str:
        return self.name

    def holds_on(self, day: date) -> bool:
        return self.expires_on is None or self.expires_on >= day
