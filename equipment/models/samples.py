"""Water taken to a laboratory, what it says, and who at which house knows."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime
from simple_history.models import HistoricalRecords

from equipment.engineering.names import TOLD_WORDS, ToldBy, way_said
from equipment.quantities import SamplePlace

from .sites import Site
from .trains import Stage
from .wells import Well

#: places that are known by a name of their own
NAMED_TAPS = [SamplePlace.OTHER_TAP.value, SamplePlace.WRITTEN.value]


class SampleQuerySet(models.QuerySet["Sample"]):
    def found(self) -> Self:
        """Bacteria were found in it."""
        return self.filter(outcome__in=Sample.FOUND)

    def of_water(self, site: Site, well: Well | None) -> Self:
        """Of one well and every house on it; of the house alone where no well is named."""
        if well is None:
            return self.filter(site=site)
        return self.filter(Q(well=well) | Q(well=None, site__in=Site.objects.on_well(well)))


class Sample(models.Model):
    """Water taken to a laboratory (or a field kit with several results)."""

    class Kind(models.TextChoices):
        BACTERIA = "bacteria", "bacteria"
        ANNUAL = "annual", "annual test"
        SURVEY = "survey", "survey"
        FUEL = "fuel", "fuel and chemicals"
        OTHER = "other", "other"

    class Place(models.TextChoices):
        """Where the bottle was filled; the last one is of rows from before taps were choices."""

        RAW = SamplePlace.RAW.value, "raw tap, before any treatment"
        AFTER_STAGE = SamplePlace.AFTER_STAGE.value, "after a part of the system"
        KITCHEN = SamplePlace.KITCHEN.value, "kitchen tap, cold"
        HOT = SamplePlace.HOT.value, "hot tap"
        OTHER_TAP = SamplePlace.OTHER_TAP.value, "another tap, by its name"
        WRITTEN = SamplePlace.WRITTEN.value, "as written"

    class Outcome(models.TextChoices):
        WAITING = "waiting", "waiting for the laboratory"
        NEGATIVE = "negative", "negative"
        POSITIVE = "positive", "positive: coliform, no E. coli"
        ECOLI = "ecoli", "positive: E. coli"
        RESULTS = "results", "results entered"
        SPOILED = "spoiled", "not usable"

    FOUND = (Outcome.POSITIVE, Outcome.ECOLI)

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="samples")
    well = models.ForeignKey(
        Well, on_delete=models.PROTECT, null=True, blank=True, related_name="samples"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    place = models.CharField("where it was taken", max_length=12, choices=Place)
    place_stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tap_name = models.CharField("name of the tap", max_length=40, blank=True)
    residual_free = models.BooleanField("no oxidant in the water when taken", null=True)
    bottle = models.CharField("bottle number", max_length=40, blank=True)
    laboratory = models.CharField(max_length=80, blank=True)
    received_at = models.DateTimeField("reached the laboratory", null=True, blank=True)
    is_accredited = models.BooleanField("the laboratory is accredited for it", null=True)
    outcome = models.CharField(max_length=10, choices=Outcome, default=Outcome.WAITING)
    result_on = models.DateField(null=True, blank=True)
    read_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    note = models.CharField(max_length=200, blank=True)
    history = HistoricalRecords()

    objects = SampleQuerySet.as_manager()

    class Meta:
        ordering = ["-taken_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="sample_after_a_named_part",
                condition=Q(place=SamplePlace.AFTER_STAGE.value, place_stage__isnull=False)
                | (~Q(place=SamplePlace.AFTER_STAGE.value) & Q(place_stage=None)),
            ),
            models.CheckConstraint(
                name="sample_at_a_named_tap",
                condition=~Q(place__in=NAMED_TAPS) | ~Q(tap_name=""),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} sample of {localtime(self.taken_at):%Y-%m-%d}"

    @property
    def tap(self) -> str:
        """Where it was taken, in words."""
        if self.place == self.Place.AFTER_STAGE:
            return f"after the {str(self.place_stage).lower()}"
        if self.place == self.Place.OTHER_TAP:
            return self.tap_name
        if self.place == self.Place.WRITTEN:
            return f"as written: {self.tap_name}"
        return str(self.get_place_display())

    @property
    def is_found(self) -> bool:
        return self.outcome in self.FOUND


class ResultTold(models.Model):
    """An adult of one house knows of a result, by name.

    For whom of the house it counts stands with the contacts; older rows are of the whole house.
    """

    class How(models.TextChoices):
        TELEPHONE = ToldBy.TELEPHONE.value, TOLD_WORDS[ToldBy.TELEPHONE]
        DOOR = ToldBy.DOOR.value, TOLD_WORDS[ToldBy.DOOR]

    sample = models.ForeignKey(Sample, on_delete=models.PROTECT, related_name="told")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="results_told")
    whom = models.CharField("adult who was told", max_length=120)
    how = models.CharField(max_length=10, choices=How, blank=True)
    #: these two are not known of who was told before they were asked
    number = models.CharField("number called", max_length=30, blank=True)
    read_back = models.BooleanField("they said it back", default=False)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(name="result_told_to_somebody", condition=~Q(whom="")),
        ]

    def __str__(self) -> str:
        return f"{self.whom} told of {self.sample}"

    @property
    def way(self) -> str:
        return way_said(self.how, self.number)
