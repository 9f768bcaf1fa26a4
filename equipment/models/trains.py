from __future__ import annotations

from datetime import date

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from equipment.engineering import names

from .catalog import FeedPump, Medium, OxidantProduct, Resin, RetentionTank, Vessel
from .sites import Site
from .wells import Well


class TrainQuerySet(models.QuerySet["Train"]):
    def standing(self) -> TrainQuerySet:
        return self.filter(removed_on=None)

    def with_stages(self) -> TrainQuerySet:
        """Trains with their current stages and catalog rows, in two queries."""
        return self.prefetch_related(
            models.Prefetch("stages", queryset=Stage.objects.fitted().with_catalog())
        )


class Train(models.Model):
    """One treatment system at a site: ordered stages, and how its feeder is joined to the well."""

    class Side(models.TextChoices):
        BEFORE = names.Side.BEFORE.value, "before the pressure tank"
        AFTER = names.Side.AFTER.value, "after the pressure tank"

    class Switching(models.TextChoices):
        SWITCH_LOAD = names.Switching.SWITCH_LOAD.value, "load side of the pressure switch"
        CURRENT_RELAY = names.Switching.CURRENT_RELAY.value, "current-sensing relay"
        DRIVE_CONTACT = (
            names.Switching.DRIVE_CONTACT.value,
            "run contact of the drive of the well pump",
        )
        FLOW_SWITCH = names.Switching.FLOW_SWITCH.value, "flow switch"
        METERED = names.Switching.METERED.value, "metered pulses"
        ALWAYS_LIVE = names.Switching.ALWAYS_LIVE.value, "always live"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="trains")
    wells = models.ManyToManyField(Well, blank=True, related_name="trains")
    name = models.CharField(max_length=80, default="House system")
    is_inherited = models.BooleanField("taken over from others", default=False)
    designed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    installed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    installed_on = models.DateField(null=True, blank=True)
    handed_over_on = models.DateField("treated water handed to the house", null=True, blank=True)
    removed_on = models.DateField(null=True, blank=True)
    injection = models.CharField("injection point", max_length=8, choices=Side, blank=True)
    retention_side = models.CharField("contact tank", max_length=8, choices=Side, blank=True)
    switching = models.CharField(
        "how the dosing pump is switched", max_length=14, choices=Switching, blank=True
    )
    circuit_voltage = models.PositiveSmallIntegerField(null=True, blank=True)
    plumbing_volume_gal = models.FloatField("water in the house plumbing", null=True, blank=True)
    notes = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = TrainQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["site", "pk"]

    def __str__(self) -> str:
        return f"{self.name} at {self.site}"


class StageQuerySet(models.QuerySet["Stage"]):
    def fitted(self) -> StageQuerySet:
        return self.filter(removed_on=None).order_by("position", "pk")

    def on_day(self, day: date) -> StageQuerySet:
        """Stages that stood on that day."""
        return self.filter(Q(fitted_on__lte=day), Q(removed_on=None) | Q(removed_on__gt=day))

    def with_catalog(self) -> StageQuerySet:
        return self.select_related(
            "feed_pump", "product", "vessel", "medium", "retention_tank", "resin"
        )


#: what describes a part; serial number, lot, days and who fitted it belong to one piece
MAKE = (
    "label",
    "feed_pump",
    "product",
    "solution_tank_gal",
    "vessel",
    "medium",
    "retention_tank",
    "resin",
    "media_volume_ft3",
    "bed_depth_in",
    "parallel_count",
    "is_metered",
    "salt_dose_lb_ft3",
)


class Stage(models.Model):
    """One piece of a train. Replacing it ends this row and begins another."""

    class Kind(models.TextChoices):
        FEEDER = names.PartKind.FEEDER.value, "dosing pump"
        RETENTION = names.PartKind.RETENTION.value, "contact tank"
        FILTER = names.PartKind.FILTER.value, "backwashing filter"
        SOFTENER = names.PartKind.SOFTENER.value, "softener"
        NEUTRALIZER = names.PartKind.NEUTRALIZER.value, "neutralizer"
        SEDIMENT = names.PartKind.SEDIMENT.value, "sediment filter"
        CARTRIDGE = names.PartKind.CARTRIDGE.value, "cartridge filter"
        UV = names.PartKind.UV.value, "UV unit"
        AERATION = names.PartKind.AERATION.value, "aeration tank"

    train = models.ForeignKey(Train, on_delete=models.PROTECT, related_name="stages")
    position = models.PositiveSmallIntegerField()
    kind = models.CharField(max_length=12, choices=Kind)
    label = models.CharField(max_length=60, blank=True)
    serial = models.CharField("serial number", max_length=60, blank=True)
    #: of the maker; of a bed that of its media
    lot = models.CharField("lot or batch", max_length=60, blank=True)
    feed_pump = models.ForeignKey(
        FeedPump, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    product = models.ForeignKey(
        OxidantProduct, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    solution_tank_gal = models.FloatField(null=True, blank=True)
    vessel = models.ForeignKey(
        Vessel, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    medium = models.ForeignKey(
        Medium, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    retention_tank = models.ForeignKey(
        RetentionTank, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    resin = models.ForeignKey(
        Resin, on_delete=models.PROTECT, null=True, blank=True, related_name="stages"
    )
    media_volume_ft3 = models.FloatField(null=True, blank=True)
    bed_depth_in = models.FloatField(null=True, blank=True)
    parallel_count = models.PositiveSmallIntegerField("vessels side by side", default=1)
    is_metered = models.BooleanField("valve counts gallons", default=False)
    salt_dose_lb_ft3 = models.FloatField(null=True, blank=True)
    fitted_on = models.DateField()
    fitted_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    removed_on = models.DateField(null=True, blank=True)
    replaces = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="replaced_by"
    )

    objects = StageQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["train", "position", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="stage_one_fitted_per_position",
                fields=["train", "position"],
                condition=Q(removed_on=None),
            ),
            models.CheckConstraint(
                name="stage_removed_after_fitted",
                condition=Q(removed_on=None) | Q(removed_on__gte=F("fitted_on")),
            ),
            models.CheckConstraint(
                name="stage_parallel_at_least_one", condition=Q(parallel_count__gte=1)
            ),
        ]

    def __str__(self) -> str:
        return self.label or self.get_kind_display()

    def like_it(self) -> Stage:
        """Another of the same make for the same place, not saved."""
        make = {name: getattr(self, name) for name in MAKE}
        return Stage(train=self.train, kind=self.kind, position=self.position, **make)
