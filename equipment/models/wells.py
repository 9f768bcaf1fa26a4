from __future__ import annotations

from collections.abc import Collection

from django.db import models
from simple_history.models import HistoricalRecords

from .sites import Site


class WellQuerySet(models.QuerySet["Well"]):
    def at_site(self, site: Site | int) -> WellQuerySet:
        """Wells on this land or serving this house from elsewhere."""
        return self.at_sites([site])

    def at_sites(self, sites: Collection[Site | int]) -> WellQuerySet:
        elsewhere = Well.also_serves.through.objects.filter(site__in=sites).values("well")
        return self.filter(models.Q(site__in=sites) | models.Q(pk__in=elsewhere))

    def houses_of(self, sites: Collection[int]) -> dict[int, set[int]]:
        """Of each well, those of these houses that draw from it; one query."""
        either = models.Q(site__in=sites) | models.Q(also_serves__in=sites)
        found: dict[int, set[int]] = {}
        for well, *houses in self.filter(either).values_list("pk", "site", "also_serves"):
            found.setdefault(well, set()).update(set(houses) & set(sites))
        return found

    def only_one_at(self, site: Site) -> Well | None:
        """The well a house draws from, where there is no choice."""
        used = self.at_site(site).exclude(status=Well.Status.ABANDONED)[:2]
        return used[0] if len(used) == 1 else None


class Well(models.Model):
    """Identity of a well. Its depth, levels and flows are measurements."""

    class Kind(models.TextChoices):
        DRILLED = "drilled", "drilled"
        DRIVEN = "driven", "driven"
        DUG = "dug", "dug"
        BORED = "bored", "bored"
        SPRING = "spring", "spring"
        CISTERN = "cistern", "cistern"
        UNKNOWN = "unknown", "not known"

    class Status(models.TextChoices):
        ACTIVE = "active", "in use"
        STANDBY = "standby", "standby"
        ABANDONED = "abandoned", "abandoned"

    class Control(models.TextChoices):
        SWITCH = "switch", "pressure switch"
        CONSTANT = "constant", "constant pressure (variable-speed well pump)"
        UNKNOWN = "unknown", "not known"

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="wells")
    also_serves = models.ManyToManyField(Site, blank=True, related_name="wells_elsewhere")
    tag = models.CharField("permit or tag number", max_length=40, blank=True)
    kind = models.CharField(max_length=10, choices=Kind, default=Kind.DRILLED)
    status = models.CharField(max_length=10, choices=Status, default=Status.ACTIVE)
    control = models.CharField(max_length=10, choices=Control, default=Control.UNKNOWN)
    drilled_on = models.DateField(null=True, blank=True)
    driller = models.CharField("driller's licence", max_length=60, blank=True)
    pump_note = models.CharField("pump", max_length=120, blank=True)
    head_in_pit = models.BooleanField("well head in a pit or below grade", default=False)
    casing_is_true_inside = models.BooleanField(
        "casing diameter is a measured inside diameter", default=False
    )
    notes = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = WellQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["site", "pk"]

    def __str__(self) -> str:
        return f"well {self.tag}" if self.tag else f"{self.get_kind_display()} well"
