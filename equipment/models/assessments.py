from __future__ import annotations

from django.db import models
from django.utils.timezone import localtime

from .measurements import Evidence, EvidenceQuerySet
from .sites import Site
from .trains import Train


class StoredAssessment(Evidence):
    """What was computed, from what, by which version of the method, on which occasion."""

    name = models.CharField("calculation", max_length=40)
    method_version = models.CharField(max_length=30)
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="assessments")
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="assessments"
    )
    inputs = models.JSONField()
    results = models.JSONField()
    warnings = models.JSONField(default=list)
    cautions = models.JSONField(default=list)
    sources = models.JSONField(default=list)
    working = models.JSONField(default=list)

    objects = EvidenceQuerySet.as_manager()

    class Meta:
        ordering = ["-recorded_at", "-pk"]
        indexes = [models.Index(fields=["occasion"], name="assessment_occasion")]

    def __str__(self) -> str:
        return f"{self.name} of {localtime(self.recorded_at):%Y-%m-%d}"
