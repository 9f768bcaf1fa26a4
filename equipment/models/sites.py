from __future__ import annotations

from collections.abc import Collection

from django.conf import settings
from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

#: written the same way in every key, so that "Old Mill Rd" meets "Old Mill Road"
STREET_WORDS = {
    "rd": "road",
    "st": "street",
    "ave": "avenue",
    "av": "avenue",
    "ln": "lane",
    "dr": "drive",
    "hwy": "highway",
    "ct": "court",
    "pl": "place",
    "blvd": "boulevard",
    "rte": "route",
    "n": "north",
    "s": "south",
    "e": "east",
    "w": "west",
    "cty": "county",
    "crk": "creek",
}


def street_key(*parts: str) -> str:
    """An address folded for comparing: lower case, no punctuation, long street words."""
    text = " ".join(parts).lower()
    words = "".join(c if c.isalnum() else " " for c in text).split()
    return " ".join(STREET_WORDS.get(word, word) for word in words)


class SiteQuerySet(models.QuerySet["Site"]):
    def active(self) -> SiteQuerySet:
        return self.filter(is_active=True)

    def like_address(self, street: str, town: str) -> SiteQuerySet:
        """Sites whose folded address is the same."""
        return self.filter(address_key=street_key(street, town))

    def on_well(self, well: models.Model) -> SiteQuerySet:
        """Every house that draws from a well: where it stands, and those it serves besides."""
        return self.on_wells([well])

    def on_wells(self, wells: Collection[models.Model]) -> SiteQuerySet:
        return self.filter(Q(wells__in=wells) | Q(wells_elsewhere__in=wells)).distinct()


class Site(models.Model):
    """A house with its own water. People come and go; the site stays."""

    class Drain(models.TextChoices):
        FLOOR_DRAIN = "floor_drain", "floor drain"
        STANDPIPE = "standpipe", "standpipe"
        DRY_WELL = "dry_well", "dry well"
        OUTDOORS = "outdoors", "outdoors"
        SEPTIC = "septic", "septic system"
        UNKNOWN = "unknown", "not known"

    street = models.CharField("street and number", max_length=120)
    town = models.CharField(max_length=80)
    county = models.CharField(max_length=80, blank=True)
    region = models.CharField("state", max_length=40, blank=True)
    postcode = models.CharField(max_length=12, blank=True)
    address_key = models.CharField(max_length=220, editable=False, db_index=True)
    parcel = models.CharField("parcel or lot", max_length=40, blank=True)
    time_zone = models.CharField(
        max_length=40, blank=True, help_text="empty: the zone of the company"
    )
    #: where the house stands, in degrees; west and south are negative
    latitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-90), MaxValueValidator(90)]
    )
    longitude = models.FloatField(
        null=True, blank=True, validators=[MinValueValidator(-180), MaxValueValidator(180)]
    )
    access_notes = models.TextField(blank=True)
    gate_code = models.CharField(max_length=40, blank=True)
    hazards = models.TextField("dogs and other hazards", blank=True)
    drain = models.CharField(max_length=12, choices=Drain, default=Drain.UNKNOWN)
    has_septic = models.BooleanField(null=True, blank=True)
    is_active = models.BooleanField(default=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = SiteQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["street", "town"]
        constraints = [
            models.CheckConstraint(
                name="site_place_whole",
                condition=Q(latitude=None, longitude=None)
                | Q(latitude__isnull=False, longitude__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.street}, {self.town}"

    def save(self, *args: object, **kwargs: object) -> None:
        self.address_key = street_key(self.street, self.town)
        super().save(*args, **kwargs)  # type: ignore[arg-type]


class SpecialUse(models.Model):
    """A use of this water that disinfection or an oxidant could harm; dated."""

    class Kind(models.TextChoices):
        DIALYSIS = "dialysis", "home dialysis"
        AQUARIUM = "aquarium", "aquarium or pond"
        LIVESTOCK = "livestock", "livestock or poultry line"
        HATCHERY = "hatchery", "hatchery"
        BREWING = "brewing", "brewing"
        HUMIDIFIER = "humidifier", "humidifier"
        ICE_MAKER = "ice_maker", "ice maker or refrigerator cartridge"
        MEMBRANE = "membrane", "reverse-osmosis unit"
        POOL_FILL = "pool_fill", "pool fill"
        SPRINKLER = "sprinkler", "fire sprinkler"
        HEAT_PUMP = "heat_pump", "heat pump on well water"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="special_uses")
    kind = models.CharField(max_length=12, choices=Kind)
    noted_on = models.DateField()
    ended_on = models.DateField(null=True, blank=True)
    note = models.CharField(max_length=200, blank=True)
    #: dialysis: the clinic has been told, by whom and when
    told_at = models.DateTimeField(null=True, blank=True)
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    told_whom = models.CharField("who at the clinic was told", max_length=120, blank=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["kind"]
        constraints = [
            models.UniqueConstraint(
                name="special_use_once_open", fields=["site", "kind"], condition=Q(ended_on=None)
            ),
            models.CheckConstraint(
                name="special_use_told_whole",
                condition=Q(told_at=None, told_by=None)
                | Q(told_at__isnull=False, told_by__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.site}"

    @property
    def blocks_oxidant(self) -> bool:
        """Home dialysis stops disinfection and oxidant start-up until the clinic knows."""
        return self.kind == self.Kind.DIALYSIS and self.ended_on is None and self.told_at is None
