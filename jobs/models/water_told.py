"""Who of a house knows what was found in its water: each who must be told, by name."""

from __future__ import annotations

from django.db import models
from django.db.models import Exists, OuterRef, Q

from equipment.models import ResultTold, Sample, Site

from .customers import Customer, SiteTenure


class ResultToldTo(models.Model):
    """For which contact a telling counts. A telling without one counts for the whole house:
    those from before each was asked for, and those of a house where nobody is on file."""

    told = models.OneToOneField(ResultTold, on_delete=models.PROTECT, related_name="+")
    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.customer_id} by telling {self.told_id}"


def untold_samples() -> models.QuerySet[Sample]:
    """Bacteria were found, and somebody on that water does not know from us; oldest first.

    Whoever is called first, owns a house or lives there, and who else is told of notices and
    results. Somebody of two houses on one water is told once.
    """
    whole = _for_the_house(OuterRef("pk"), OuterRef(OuterRef("pk")))
    must = SiteTenure.objects.open().told_of_water()
    knows = ResultToldTo.objects.filter(
        customer=OuterRef("customer"), told__sample=OuterRef(OuterRef(OuterRef("pk")))
    )
    untold = must.filter(~Exists(knows), site=OuterRef("pk"))
    nobody = ~Exists(must.filter(site=OuterRef("pk")))
    on_it = (
        Q(pk=OuterRef("site_id"))
        | Q(wells=OuterRef("well_id"))
        | Q(wells_elsewhere=OuterRef("well_id"))
    )
    houses = Site.objects.filter(on_it).filter(~Exists(whole), Exists(untold) | nobody)
    return Sample.objects.found().filter(Exists(houses)).order_by("result_on", "pk")


def _for_the_house(site: OuterRef, sample: OuterRef) -> models.QuerySet[ResultTold]:
    rows = ResultTold.objects.filter(site=site, sample=sample)
    return rows.exclude(pk__in=ResultToldTo.objects.values("told"))
