"""What technicians did, as a page or a phone told it, and what was answered."""

from __future__ import annotations

from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from equipment.models import Site

from .records import ChecklistRecord
from .visits import Visit


class ActQuerySet(models.QuerySet["Act"]):
    def waiting(self) -> Self:
        """Told by a phone, not or only against a rule applied, and nobody has looked at it yet.

        What the same person kept later in the same box has taken its place.
        """
        kept = ActAnswer.State.KEPT
        open_ones = ~Q(answer__state=kept) | ~Q(answer__against="")
        later = Act.objects.filter(
            box=OuterRef("box"), user=OuterRef("user"), answer__state=kept, pk__gt=OuterRef("pk")
        )
        rows = self.filter(open_ones, by_phone=True, answer__isnull=False, note=None)
        return rows.filter(Q(answer__state=kept) | ~Exists(later))

    def with_answer(self) -> Self:
        """What a row of a list prints, in one query."""
        return self.select_related(
            "user", "answer__record__template", "answer__site", "answer__visit"
        )


class Act(models.Model):
    """One act under its own name: sent twice, it has one effect. Insert only."""

    uuid = models.UUIDField(unique=True)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    kind = models.CharField(max_length=20)
    box = models.CharField("what it is about", max_length=200)
    body = models.JSONField("as it was told")
    sha256 = models.CharField(max_length=64)
    by_phone = models.BooleanField("kept on a phone before it was told", default=False)
    at = models.DateTimeField("done", null=True, blank=True)
    received_at = models.DateTimeField()

    objects = ActQuerySet.as_manager()

    class Meta:
        ordering = ["received_at", "pk"]
        indexes = [models.Index(fields=["box"], name="act_box")]

    def __str__(self) -> str:
        return f"{self.kind} {self.uuid}"


class ActAnswer(models.Model):
    """What became of an act, written in the transaction of its effect. Insert only."""

    class State(models.TextChoices):
        KEPT = "kept", "kept"
        LOOK = "look", "waits for a decision"
        REFUSED = "refused", "not applied"

    act = models.OneToOneField(Act, on_delete=models.PROTECT, related_name="answer")
    state = models.CharField(max_length=7, choices=State)
    told = models.JSONField("as it was answered")
    against = models.CharField("rule that was broken", max_length=300, blank=True)
    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="acts"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="acts"
    )
    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["state"], name="act_state")]

    def __str__(self) -> str:
        return f"{self.act_id} {self.state}"


class ActNote(models.Model):
    """Somebody of the office, or who did it, has looked at an act that was not applied."""

    act = models.OneToOneField(Act, on_delete=models.PROTECT, related_name="note")
    words = models.CharField("what becomes of it", max_length=200)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.CheckConstraint(name="act_note_says_what", condition=~Q(words="")),
        ]

    def __str__(self) -> str:
        return self.words
