"""What the company fits: generic descriptions with limits and where the limits come from."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from equipment.engineering import names
from equipment.engineering.errors import EngineeringError
from equipment.engineering.oxidant.label import grams_per_litre


class CatalogEntry(models.Model):
    """Shared by all catalog tables: a stable slug, a generic name, a source for the limits."""

    slug = models.SlugField(unique=True)
    name = models.CharField(max_length=120)
    source = models.TextField("where the limits come from")
    mark = models.CharField(
        max_length=10,
        choices=[
            ("SEEN", "read in the source"),
            ("MEMORY", "known, source not at hand"),
            ("PRACTICE", "common practice, no source"),
        ],
        default="PRACTICE",
    )
    is_active = models.BooleanField(default=True)

    class Meta:
        abstract = True
        ordering = ["name"]

    def __str__(self) -> str:
        return self.name


class FeedPump(CatalogEntry):
    class Head(models.TextChoices):
        VARIABLE = names.PumpHead.VARIABLE.value, "one dial in percent"
        TIMER = names.PumpHead.TIMER.value, "timer: cycle and share of it"
        STROKE = names.PumpHead.STROKE.value, "stroke and speed"
        METERED = names.PumpHead.METERED.value, "pulses of a meter"

    class Restart(models.TextChoices):
        """What the timer does each time the well pump starts."""

        ON = "on", "begins with feeding"
        OFF = "off", "begins with its pause"
        CONTINUES = "continues", "goes on where it stopped"

    head = models.CharField("set by", max_length=10, choices=Head, default=Head.VARIABLE)
    nameplate_output_gpd = models.FloatField()
    rated_pressure_psi = models.FloatField()
    voltage = models.PositiveSmallIntegerField()
    cycle_s = models.FloatField("longest timer cycle", null=True, blank=True)
    cycle_step_s = models.FloatField("one mark of the cycle", default=1.0)
    restart = models.CharField(
        "the timer, as the well pump starts", max_length=10, choices=Restart, blank=True
    )
    strokes_per_min = models.FloatField("fastest, strokes in a minute", null=True, blank=True)
    pulses_per_gal = models.FloatField("pulses of its meter for a gallon", null=True, blank=True)
    setting_step_percent = models.FloatField("one mark of the setting", default=1.0)
    history = HistoricalRecords()


class OxidantProduct(CatalogEntry):
    class Oxidant(models.TextChoices):
        PEROXIDE = names.Oxidant.PEROXIDE.value, "hydrogen peroxide"
        CHLORINE = names.Oxidant.CHLORINE.value, "chlorine"
        PERMANGANATE = names.Oxidant.PERMANGANATE.value, "potassium permanganate"

    class Basis(models.TextChoices):
        WEIGHT = "w/w", "percent by weight"
        TRADE = "trade", "trade percent (g available chlorine in 100 mL)"
        AVAILABLE = "available", "available chlorine by weight"

    oxidant = models.CharField(max_length=12, choices=Oxidant)
    is_dry = models.BooleanField(default=False)
    for_shock = models.BooleanField("for disinfecting wells", default=False)
    for_feeding = models.BooleanField("for the solution tank", default=True)
    label_strength_percent = models.FloatField()
    strength_basis = models.CharField(max_length=10, choices=Basis)
    density_g_ml = models.FloatField("density", null=True, blank=True)
    safety_class = models.TextField("hazard class as on the label")
    maximum_use_level_mg_l = models.FloatField(
        "maximum use level of this product",
        null=True,
        blank=True,
        help_text="from the product's drinking-water certification; empty: not on file",
    )
    shelf_life_days = models.PositiveSmallIntegerField(null=True, blank=True)
    history = HistoricalRecords()

    @property
    def strength_g_l(self) -> float | None:
        """Active oxidant in g/L as it comes from the container, None for dry products and where
        its density is missing."""
        if self.is_dry:
            return None
        try:
            return grams_per_litre(
                self.label_strength_percent,
                self.strength_basis,
                self.density_g_ml,
                is_chlorine=self.oxidant == self.Oxidant.CHLORINE,
            )
        except EngineeringError:
            return None


class Vessel(CatalogEntry):
    diameter_in = models.FloatField()
    height_in = models.FloatField()
    rated_pressure_psi = models.FloatField()
    rated_temperature_f = models.FloatField()
    history = HistoricalRecords()


class Medium(CatalogEntry):
    backwash_low_gpm_ft2 = models.FloatField()
    backwash_high_gpm_ft2 = models.FloatField()
    rate_temperature_c = models.FloatField("temperature the rate holds for", default=15)
    service_max_gpm_ft2 = models.FloatField(null=True, blank=True)
    bed_depth_min_in = models.FloatField(null=True, blank=True)
    interval_max_days = models.PositiveSmallIntegerField("longest backwash interval")
    loading_limit_grain_ft2 = models.FloatField(null=True, blank=True)
    ph_min = models.FloatField(null=True, blank=True)
    ph_max = models.FloatField(null=True, blank=True)
    is_carbon = models.BooleanField(default=False)
    is_manganese_oxide = models.BooleanField(default=False)
    raises_ph = models.BooleanField(default=False)
    history = HistoricalRecords()

    class Meta(CatalogEntry.Meta):
        constraints = [
            models.CheckConstraint(
                name="medium_backwash_low_below_high",
                condition=Q(backwash_low_gpm_ft2__lte=models.F("backwash_high_gpm_ft2")),
            )
        ]


class RetentionTank(CatalogEntry):
    volume_gal = models.FloatField()
    baffling_factor = models.FloatField()
    history = HistoricalRecords()


class Resin(CatalogEntry):
    iron_limit_mg_l = models.FloatField("iron the softener may see", default=0.3)
    chlorine_limit_mg_l = models.FloatField("free chlorine the resin may see", default=1)
    service_max_gpm_ft3 = models.FloatField(default=5)
    interval_max_days = models.PositiveSmallIntegerField(default=14)
    history = HistoricalRecords()
