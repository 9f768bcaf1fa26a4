"""The answer of one day of two a year, as it was given."""

from __future__ import annotations

from django.db import models

from .facts import InsertOnly, InsertOnlyQuerySet


class Verdict(InsertOnly):
    """Facts that become known later change no answer that was given. Ids only, no names."""

    day = models.DateField(unique=True)
    #: the facts that were known then
    recorded_at = models.DateTimeField()
    since = models.DateField("first day of handover")
    until = models.DateField("last day of handover")
    method = models.CharField(max_length=20)
    kind = models.CharField(max_length=10)
    #: jobs and callbacks by person and class, from which the answer can be found again
    table = models.JSONField()
    answer = models.JSONField()
    #: causes of the callbacks of whom it names
    causes = models.JSONField(default=dict)

    objects = InsertOnlyQuerySet["Verdict"].as_manager()

    class Meta:
        ordering = ["-day"]

    def __str__(self) -> str:
        return f"answer of {self.day.isoformat()}"
