from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import OuterRef, Q, Subquery

from equipment.models import Sample, Site
from jobs.fieldwork.kinds import NOTICE_TITLES, NoticeLevel


class DoNotUseQuerySet(models.QuerySet["DoNotUse"]):
    def standing(self) -> Self:
        return self.filter(lifted_at=None)

    def with_untold_result(self) -> Self:
        """`untold`: the oldest sample of the house that found bacteria and nobody was told of."""
        samples = Sample.objects.untold().filter(site=OuterRef("site_id"))
        return self.annotate(untold=Subquery(samples.values("pk")[:1]))

    def blocking(self) -> Self:
        """Only "no drinking" stops a start-up."""
        return self.standing().filter(level=DoNotUse.Level.NO_DRINKING)


class DoNotUse(models.Model):
    """Water that must not be used, or not be drunk, until somebody says so on a reading."""

    class Level(models.TextChoices):
        NO_USE = NoticeLevel.NO_USE.value, NOTICE_TITLES[NoticeLevel.NO_USE]
        NO_DRINKING = (
            NoticeLevel.NO_DRINKING.value,
            NOTICE_TITLES[NoticeLevel.NO_DRINKING],
        )
        SAMPLE_PENDING = (
            NoticeLevel.SAMPLE_PENDING.value,
            NOTICE_TITLES[NoticeLevel.SAMPLE_PENDING],
        )

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    level = models.CharField(max_length=14, choices=Level)
    reason = models.CharField(max_length=200)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    occasion = models.UUIDField(null=True, blank=True)
    lifted_at = models.DateTimeField(null=True, blank=True)
    lifted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    lifted_on_reading = models.CharField(max_length=120, blank=True)
    lifted_on_sample = models.ForeignKey(
        Sample, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = DoNotUseQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="do_not_use_once_open", fields=["site", "level"], condition=Q(lifted_at=None)
            ),
            models.CheckConstraint(
                name="do_not_use_lifted_by_someone",
                condition=Q(lifted_at=None, lifted_by=None)
                | Q(lifted_at__isnull=False, lifted_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return self.get_level_display()
