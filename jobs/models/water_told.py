"""Who of a house knows what was found in its water: each who must be told, by name."""

from __future__ import annotations

from functools import reduce
from operator import or_
from typing import Any

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
    waiting = a_house_under(
        OuterRef("site_id"), OuterRef("well_id"), ~Exists(whole), Exists(untold) | nobody
    )
    return Sample.objects.found().filter(waiting).order_by("result_on", "pk")


def a_house_under(site: OuterRef, well: OuterRef, *such: Any) -> Q:
    """The house of a bottle or notice, or a house on its well, is such a one.

    Asked three times, because the database reads every house there is where one question has the
    three ways beside each other.
    """
    ways = (Q(pk=site), Q(wells=well), Q(wells_elsewhere=well))
    return reduce(or_, (Q(Exists(Site.objects.filter(way, *such))) for way in ways))


def _for_the_house(site: OuterRef, sample: OuterRef) -> models.QuerySet[ResultTold]:
    rows = ResultTold.objects.filter(site=site, sample=sample)
    return rows.exclude(pk__in=ResultToldTo.objects.values("told"))
