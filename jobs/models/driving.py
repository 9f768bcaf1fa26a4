"""How long the company drives from town to town."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from simple_history.models import HistoricalRecords

#: nobody is sent farther; a figure beyond it is a slip
LONGEST_MIN = 600


class TownDrive(models.Model):
    """Minutes between two towns, the same in both directions; or within one."""

    one = models.CharField(max_length=80)
    other = models.CharField(max_length=80)
    #: the towns folded for comparing, in the order of the alphabet
    one_key = models.CharField(max_length=100, editable=False)
    other_key = models.CharField(max_length=100, editable=False)
    minutes = models.PositiveSmallIntegerField(
        validators=[MinValueValidator(1), MaxValueValidator(LONGEST_MIN)]
    )
    history = HistoricalRecords()

    class Meta:
        ordering = ["one_key", "other_key"]
        constraints = [
            models.UniqueConstraint(name="town_drive_once", fields=["one_key", "other_key"]),
        ]

    def __str__(self) -> str:
        return f"within {self.one}" if self.is_within else f"{self.one} and {self.other}"

    @property
    def is_within(self) -> bool:
        return self.one_key == self.other_key
