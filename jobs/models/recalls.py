"""Parts or solution called back: which houses have them, who knows, and how each was worked off."""

from __future__ import annotations

from dataclasses import replace
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q
from django.utils.timezone import localtime

from equipment.engineering.names import way_said
from equipment.models import Fill, ResultTold, Site, Stage

from .customers import Customer, SiteTenure
from .notice_told import WENT_NOWHERE
from .outbox import OutboxMail
from .pieces import Sought


class RecallQuerySet(models.QuerySet["Recall"]):
    def standing(self) -> Self:
        return self.filter(closed_at=None)


class Recall(models.Model):
    """Why, by whose word, which pieces, and what the households are told."""

    class Marks(models.TextChoices):
        LOT = "lot", "lots"
        SERIAL = "serial", "serial numbers"

    title = models.CharField("what is called back", max_length=120)
    reason = models.CharField("why", max_length=300)
    source = models.CharField("who says so, in which paper, of which day", max_length=300)
    #: read out, and in the letter
    caution = models.TextField("what the household is told to do", max_length=600)
    what = models.CharField("which part", max_length=40)
    marks = models.CharField("the range is of", max_length=6, choices=Marks, default=Marks.LOT)
    first = models.CharField("first", max_length=60, blank=True)
    last = models.CharField("last", max_length=60, blank=True)
    since = models.DateField("fitted or filled from", null=True, blank=True)
    until = models.DateField("until", null=True, blank=True)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = RecallQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="recall_closed_by_somebody",
                condition=Q(closed_at=None, closed_by=None)
                | Q(closed_at__isnull=False, closed_by__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return self.title

    @property
    def sought(self) -> Sought:
        """Pieces that stand where a household lives with them; a single mark is a range of one."""
        last = self.last or self.first
        return Sought(
            self.what, self.first, last, self.since, self.until, stands=True, by=self.marks
        )

    @property
    def unmarked(self) -> Sought | None:
        """The same parts of which nobody wrote down the mark; None where marks do not matter."""
        if not self.first:
            return None
        return replace(self.sought, first="", last="")


class RecalledPieceQuerySet(models.QuerySet["RecalledPiece"]):
    def open(self) -> Self:
        return self.filter(end="", recall__closed_at=None)

    def untold(self) -> Self:
        """Somebody of the house who must be told knows nothing, and no letter is on its way."""
        must = SiteTenure.objects.open().told_of_water()
        counting = RecallTold.objects.counting()
        knows = counting.filter(
            recall=OuterRef(OuterRef("recall")),
            site=OuterRef(OuterRef("site")),
            customer=OuterRef("customer"),
        )
        waits = must.filter(~Exists(knows), site=OuterRef("site"))
        nobody = ~Exists(must.filter(site=OuterRef("site")))
        whole = counting.filter(recall=OuterRef("recall"), site=OuterRef("site"), customer=None)
        return self.filter(~Exists(whole), Exists(waits) | nobody)

    def to_look_at(self) -> Self:
        """Nobody knows whether it is one of them: its mark is not on file."""
        lots = Q(recall__marks=Recall.Marks.LOT, stage__lot="")
        serials = Q(recall__marks=Recall.Marks.SERIAL, stage__serial="")
        return self.filter(lots | serials, fill=None).exclude(recall__first="")


class RecalledPiece(models.Model):
    """One piece at one house, found when the recall was opened or later."""

    class End(models.TextChoices):
        STANDS = "", "stands"
        REPLACED = "replaced", "replaced"
        GONE = "gone", "taken out"
        OTHER_MARK = "other_mark", "not one of them"
        NOT_THERE = "not_there", "not there"
        GIVEN_UP = "given_up", "given up"

    #: what somebody says by hand; the rest follows from acts on the part
    BY_HAND = (End.REPLACED, End.NOT_THERE, End.GIVEN_UP)

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="pieces")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    stage = models.ForeignKey(Stage, on_delete=models.PROTECT, related_name="+")
    #: where the solution in its tank is called back
    fill = models.ForeignKey(
        Fill, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    found_at = models.DateTimeField()
    end = models.CharField("how it was worked off", max_length=10, choices=End, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_why = models.CharField("why", max_length=200, blank=True)

    objects = RecalledPieceQuerySet.as_manager()

    class Meta:
        ordering = ["recall", "site", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="recalled_part_once", fields=["recall", "stage"], condition=Q(fill=None)
            ),
            models.UniqueConstraint(
                name="recalled_fill_once",
                fields=["recall", "fill"],
                condition=Q(fill__isnull=False),
            ),
            models.CheckConstraint(
                name="recalled_piece_ended_iff_dated",
                condition=Q(end="", ended_at=None) | (~Q(end="") & Q(ended_at__isnull=False)),
            ),
        ]
        indexes = [models.Index(fields=["stage", "end"], name="recalled_piece_stage")]

    def __str__(self) -> str:
        return f"{self.stage} at {self.site}"

    @property
    def said(self) -> str:
        """What it is, with its mark where that is on file."""
        if self.fill:
            what = self.fill.product.name if self.fill.product else "solution"
            lot = f", lot {self.fill.lot}" if self.fill.lot else ""
            return f"{what} in the tank of the {self.stage}{lot}"
        lot = f", lot {self.stage.lot}" if self.stage.lot else ""
        serial = f", serial number {self.stage.serial}" if self.stage.serial else ""
        return f"{self.stage}{lot}{serial}"


class RecallToldQuerySet(models.QuerySet["RecallTold"]):
    def counting(self) -> Self:
        """By name, or by a letter that has arrived or is on its way."""
        return self.filter(Q(mail=None) | ~Q(mail__state__in=WENT_NOWHERE)).select_related(
            "mail", "by"
        )


class RecallTold(models.Model):
    """A household knows: an adult by name, or a letter. Without a contact: the whole house."""

    recall = models.ForeignKey(Recall, on_delete=models.PROTECT, related_name="told")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    mail = models.ForeignKey(
        OutboxMail, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    whom = models.CharField("adult who was told", max_length=120, blank=True)
    how = models.CharField(max_length=10, choices=ResultTold.How, blank=True)
    number = models.CharField("number called", max_length=30, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    objects = RecallToldQuerySet.as_manager()

    class Meta:
        ordering = ["at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="recall_told_by_name_or_letter",
                condition=Q(mail=None, how__gt="", whom__gt="") | Q(mail__isnull=False, how=""),
            )
        ]
        indexes = [models.Index(fields=["recall", "site"], name="recall_told_at_house")]

    def __str__(self) -> str:
        return f"{self.recall} told on {localtime(self.at):%Y-%m-%d}"

    @property
    def way(self) -> str:
        return way_said(self.how, self.number)
