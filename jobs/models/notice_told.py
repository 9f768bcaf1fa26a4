"""Who of a house knows of a notice that no sample tells of: each who must be told, by name.

What a laboratory found is told as a result (`water_told.py`); before chlorine is poured everybody
is told (`PourTold`). A flood, an illness, an oxidant or fuel has neither: it is told here.
"""

from __future__ import annotations

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.db.models.fields.json import KeyTextTransform
from django.db.models.functions import Cast

from equipment.engineering.names import way_said
from equipment.models import ResultTold, Site

from .customers import Customer, SiteTenure
from .notices import DoNotUse
from .outbox import OutboxMail
from .water_told import a_house_under

Cause, Level = DoNotUse.Cause, DoNotUse.Level
#: nobody in a house knows of these unless somebody says it
SAID_BY_US = (Cause.FLOOD, Cause.OPENED, Cause.SUSPECTED, Cause.OXIDANT, Cause.OTHER)
LEVELS = (Level.NO_USE, Level.NO_DRINKING)
#: a letter in these states did not arrive and does not wait
WENT_NOWHERE = (OutboxMail.State.DEAD, OutboxMail.State.SKIPPED)


class NoticeTold(models.Model):
    """An adult of one house knows of a notice, or that it was a mistake.

    Without a contact it counts for the whole house: where nobody is on file.
    """

    notice = models.ForeignKey(DoNotUse, on_delete=models.PROTECT, related_name="told")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    #: it was raised at the wrong house, and they know that too
    is_taken_back = models.BooleanField(default=False)
    whom = models.CharField("adult who was told", max_length=120)
    how = models.CharField(max_length=10, choices=ResultTold.How)
    number = models.CharField("number called", max_length=30, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["at", "pk"]
        indexes = [models.Index(fields=["site", "notice"], name="notice_told_at_house")]

    def __str__(self) -> str:
        return f"{self.whom} told of {self.notice}"

    @property
    def way(self) -> str:
        return way_said(self.how, self.number)


def untold_notices() -> models.QuerySet[DoNotUse]:
    """Somebody under it does not know; or knows, and not that it was taken back. Oldest first."""
    told = NoticeTold.objects.filter(notice=OuterRef(OuterRef("pk")), is_taken_back=False)
    whole = told.filter(site=OuterRef("pk"), customer=None)
    must = SiteTenure.objects.open().told_of_water()
    knows = NoticeTold.objects.filter(
        notice=OuterRef(OuterRef(OuterRef("pk"))),
        customer=OuterRef("customer"),
        is_taken_back=False,
    )
    untold = must.filter(~Exists(knows), site=OuterRef("pk"))
    nobody = ~Exists(must.filter(site=OuterRef("pk")))
    waiting = a_house_under(
        OuterRef("site_id"), OuterRef("well_id"), ~Exists(whole), Exists(untold) | nobody
    )
    raised = Q(waiting, lifted_at=None, level__in=LEVELS, cause__in=SAID_BY_US)
    return DoNotUse.objects.filter(raised | _untold_back()).order_by("opened_at", "pk")


def _untold_back() -> Q:
    """Told that it stands, and neither told nor written to that it was a mistake."""
    knowing = NoticeTold.objects.filter(notice=OuterRef("pk"), is_taken_back=False)
    return Q(~Q(taken_back_why=""), Exists(unanswered(knowing)))


def unanswered(tellings: models.QuerySet[NoticeTold]) -> models.QuerySet[NoticeTold]:
    """Of those who were told of a notice and are here still, who does not know it is taken back."""
    back = NoticeTold.objects.filter(
        Q(customer=OuterRef("customer")) | Q(customer=None, site=OuterRef("site")),
        notice=OuterRef("notice"),
        is_taken_back=True,
    )
    at_site = Cast(KeyTextTransform("site", "context"), models.BigIntegerField())
    letters = OutboxMail.objects.filter(
        template="notice_taken_back",
        customer=OuterRef("customer"),
        created_at__gte=OuterRef("notice__lifted_at"),
    ).exclude(state__in=WENT_NOWHERE)
    letters = letters.annotate(at_site=at_site).filter(at_site=OuterRef("notice__site_id"))
    here = SiteTenure.objects.open().told_of_water()
    still = here.filter(site=OuterRef("site"), customer=OuterRef("customer"))
    return tellings.filter(Q(customer=None) | Exists(still), ~Exists(back), ~Exists(letters))
