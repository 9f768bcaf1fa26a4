"""Measured or told figures, settings and fills: rows that are never changed.

A correction is a newer row that says what it `corrects`; "superseded" is a query.
"""

from __future__ import annotations

import uuid
from collections.abc import Collection, Iterable
from typing import Any, Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Case, F, Q, Value, When
from django.db.models.functions import Coalesce
from django.utils.timezone import localtime

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.quantities import CARRIED, NOT_FOUND

from .catalog import OxidantProduct
from .samples import Sample
from .sites import Site
from .trains import Stage
from .wells import Well

Row = TypeVar("Row", bound="Evidence")


class EvidenceQuerySet(models.QuerySet[Row]):
    def standing(self) -> Self:
        """Rows that no newer row corrects."""
        return self.filter(corrected_by=None)

    def of_occasion(self, occasion: uuid.UUID) -> Self:
        return self.filter(occasion=occasion)


class Evidence(models.Model):
    """Shared by the insert-only rows: who wrote it, on which occasion, and what it corrects."""

    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    occasion = models.UUIDField("visit, record or call it belongs to", null=True, blank=True)
    line_key = models.CharField(max_length=80, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    class Meta:
        abstract = True


class MeasurementQuerySet(EvidenceQuerySet["Measurement"]):
    def of_house(self, site: Site) -> MeasurementQuerySet:
        """About the house itself, a well it draws from, a part of its systems, its samples."""
        return self.of_houses([site])

    def of_houses(self, sites: Collection[Site | int]) -> MeasurementQuerySet:
        """Four questions of an index each: asked as one the database reads every row."""
        about = (
            Q(site__in=sites),
            Q(well__in=Well.objects.at_sites(sites)),
            Q(stage__train__site__in=sites),
            Q(sample__site__in=sites),
        )
        first, *others = (Measurement.objects.order_by().filter(q).values("pk") for q in about)
        return self.filter(pk__in=first.union(*others, all=True))

    def with_house(self) -> MeasurementQuerySet:
        """`house`: of what is about a house, its part or its sample; a well may have several."""
        return self.annotate(house=Coalesce("site", "stage__train__site", "sample__site"))


class Measurement(Evidence):
    class Comparator(models.TextChoices):
        EQUAL = "=", "="
        BELOW = NOT_FOUND, "<"
        ABOVE = ">", ">"

    class Origin(models.TextChoices):
        MEASURED = "measured", "measured"
        STATE_RECORD = "state_record", "state record"
        OWNER_SAYS = "owner_says", "owner says"
        LABORATORY = "laboratory", "laboratory"
        COMPUTED = "plate", "read from a plate or label"
        UNKNOWN = "unknown", "not known"

    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    well = models.ForeignKey(
        Well, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    sample = models.ForeignKey(
        Sample, on_delete=models.PROTECT, null=True, blank=True, related_name="measurements"
    )
    quantity_key = models.CharField(max_length=40)
    #: raw, after_stage, tap, hot_tap, other_tap, drain or "" where the subject says it all
    place = models.CharField(max_length=20, blank=True)
    place_stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="measured_after"
    )
    tank = models.PositiveSmallIntegerField("of tanks side by side, 0: the whole", default=0)
    #: found, left or ""
    side = models.CharField(max_length=6, blank=True)
    comparator = models.CharField(max_length=1, choices=Comparator, default=Comparator.EQUAL)
    value = models.FloatField("value in the canonical unit", null=True, blank=True)
    #: of a range that a strip gave: `value` is the end that is counted with
    other_end = models.FloatField("other end of a range", null=True, blank=True)
    text = models.CharField(max_length=200, blank=True)
    entered = models.CharField("as entered", max_length=60, blank=True)
    entered_unit = models.CharField(max_length=20, blank=True)
    dilution = models.FloatField("dilution factor", default=1)
    origin = models.CharField(max_length=14, choices=Origin)
    method = models.CharField(max_length=80, blank=True)
    measured_at = models.DateTimeField()

    objects = MeasurementQuerySet.as_manager()

    class Meta:
        ordering = ["-measured_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="measurement_one_subject",
                condition=(
                    Q(site__isnull=False, well=None, stage=None, sample=None)
                    | Q(site=None, well__isnull=False, stage=None, sample=None)
                    | Q(site=None, well=None, stage__isnull=False, sample=None)
                    | Q(site=None, well=None, stage=None, sample__isnull=False)
                ),
            ),
            models.CheckConstraint(
                name="measurement_value_or_text",
                condition=Q(value__isnull=False) | ~Q(text=""),
            ),
            models.CheckConstraint(name="measurement_dilution", condition=Q(dilution__gte=1)),
            models.CheckConstraint(
                name="measurement_range_of_two_ends",
                condition=Q(other_end=None)
                | (Q(comparator="=", value__isnull=False) & ~Q(other_end=F("value"))),
            ),
        ]
        indexes = [
            models.Index(fields=["site", "quantity_key", "-measured_at"], name="measurement_site"),
            models.Index(fields=["well", "quantity_key", "-measured_at"], name="measurement_well"),
            models.Index(
                fields=["stage", "quantity_key", "-measured_at"], name="measurement_stage"
            ),
            models.Index(fields=["occasion"], name="measurement_occasion"),
        ]

    def __str__(self) -> str:
        shown = self.text or f"{'' if self.comparator == '=' else self.comparator}{self.value:g}"
        return f"{self.quantity_key} {shown}"


def counted_value() -> Case:
    """The figure that calculations count with (`quantities.counted`), for a query."""
    nothing = When(quantity_key__in=CARRIED, comparator=NOT_FOUND, then=Value(0.0))
    return Case(nothing, default=F("value"))


class SettingChangeQuerySet(EvidenceQuerySet["SettingChange"]):
    def current(self, stage: Stage, name: str) -> SettingChange | None:
        return self.standing().filter(stage=stage, name=name).order_by("at", "pk").last()

    def history(self, stages: Iterable[Stage]) -> SettingChangeQuerySet:
        return self.filter(stage__in=stages).select_related("stage__feed_pump", "recorded_by")


class SettingChange(Evidence):
    """A setting, from and to. The current setting is the newest standing row."""

    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="setting_changes")
    tank = models.PositiveSmallIntegerField("of tanks side by side, 0: the whole", default=0)
    #: output_percent, solution_strength_g_l, wash_interval_days, wash_hour, hardness_gpg, ...
    name = models.CharField(max_length=40)
    old_value = models.FloatField(null=True, blank=True)
    new_value = models.FloatField(null=True, blank=True)
    new_text = models.CharField(max_length=80, blank=True)
    #: of a dosing pump that is set by two figures: those beside the share that it feeds
    old_marks = models.JSONField(default=dict, blank=True)
    new_marks = models.JSONField(default=dict, blank=True)
    unit = models.CharField(max_length=20, blank=True)
    reason = models.CharField(max_length=300)
    at = models.DateTimeField()

    objects = SettingChangeQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["stage", "name", "-at"], name="setting_stage_name")]
        constraints = [
            models.CheckConstraint(
                name="setting_value_or_text",
                condition=Q(new_value__isnull=False) | ~Q(new_text=""),
            )
        ]

    def __str__(self) -> str:
        return f"{self.name} {self.new_text or self.new_value} {self.unit}"

    @property
    def part(self) -> str:
        """The part, and which of its tanks."""
        return f"{self.stage}, tank {self.tank}" if self.tank else str(self.stage)

    @property
    def pump_now(self) -> PumpSetting | None:
        """What a dosing pump was set to, both figures."""
        return _pump(self.new_value, self.new_marks)

    @property
    def pump_before(self) -> PumpSetting | None:
        return _pump(self.old_value, self.old_marks)


def _pump(percent: float | None, marks: dict[str, Any]) -> PumpSetting | None:
    return None if percent is None else PumpSetting.of(percent, marks)


class Fill(Evidence):
    """Solution or salt put into a tank."""

    class FilledBy(models.TextChoices):
        COMPANY = "company", "company"
        CUSTOMER = "customer", "customer"

    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="fills")
    product = models.ForeignKey(
        OxidantProduct, on_delete=models.PROTECT, null=True, blank=True, related_name="fills"
    )
    lot = models.CharField(max_length=40, blank=True)
    strength_g_l = models.FloatField("strength of the mixed solution", null=True, blank=True)
    water_kind = models.CharField(max_length=20, blank=True)
    product_gal = models.FloatField(null=True, blank=True)
    water_gal = models.FloatField(null=True, blank=True)
    salt_lb = models.FloatField(null=True, blank=True)
    level_before_gal = models.FloatField(null=True, blank=True)
    level_after_gal = models.FloatField(null=True, blank=True)
    filled_by = models.CharField(max_length=8, choices=FilledBy, default=FilledBy.COMPANY)
    at = models.DateTimeField()

    objects = EvidenceQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [models.Index(fields=["stage", "-at"], name="fill_stage")]

    def __str__(self) -> str:
        return f"fill of {self.stage} on {localtime(self.at):%Y-%m-%d}"
