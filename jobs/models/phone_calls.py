from __future__ import annotations

import uuid
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q

from equipment.models import Site
from jobs.fieldwork.dangers import RED, Told

from .customers import Customer
from .visits import Visit


class PhoneCallQuerySet(models.QuerySet["PhoneCall"]):
    def waiting(self) -> Self:
        """Not finished, not answered, or a caution that nobody was told yet."""
        return self.filter(WAITS).order_by("answer_by", "at", "pk")

    def at_site(self, site: Site | int) -> Self:
        return self.filter(site=site)

    def with_people(self) -> Self:
        return self.select_related("site", "customer", "by", "answerer", "answered_by", "visit")


class PhoneCall(models.Model):
    """Somebody called: who, when, in what words, and what came of it.

    It ends with a visit, or as a note that somebody answers by a day. What was told of danger and
    not read out to them waits on the worklist whatever else came of the call.
    """

    class End(models.TextChoices):
        NONE = "", "not finished"
        VISIT = "visit", "a visit was booked"
        NOTE = "note", "a note, no visit"

    #: made when the page was opened: whatever is sent of it again is the same call
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="calls"
    )
    caller = models.CharField(max_length=120, blank=True)
    number = models.CharField("call back at", max_length=30, blank=True)
    words = models.TextField("in the caller's words", blank=True)
    #: keys of what the caller says is so
    dangers = models.JSONField(default=list, blank=True)
    asked_all = models.BooleanField("all red questions were asked", default=False)
    read_out_at = models.DateTimeField(null=True, blank=True)
    read_out_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    end = models.CharField(max_length=6, choices=End, default=End.NONE, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="calls"
    )
    answer_by = models.DateField("answered by", null=True, blank=True)
    answerer = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answered_at = models.DateTimeField(null=True, blank=True)
    answered_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    answer = models.CharField("what was said", max_length=400, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    taken_back_why = models.CharField(max_length=200, blank=True)
    #: boxes of the page as they stood, while the call is not finished
    typed = models.JSONField(default=dict, blank=True)

    objects = PhoneCallQuerySet.as_manager()

    class Meta:
        ordering = ["-at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="call_ends_as_it_says",
                condition=Q(end="", ended_at=None, visit=None)
                | Q(end="visit", ended_at__isnull=False, visit__isnull=False)
                | Q(end="note", ended_at__isnull=False, visit=None, answer_by__isnull=False),
            ),
            models.CheckConstraint(
                name="call_answered_by_a_name",
                condition=Q(answered_at=None, answered_by=None, answer="")
                | (Q(answered_at__isnull=False, answered_by__isnull=False) & ~Q(answer="")),
            ),
            models.CheckConstraint(
                name="call_taken_back_by_a_name",
                condition=Q(taken_back_at=None, taken_back_by=None, taken_back_why="")
                | (Q(taken_back_at__isnull=False, taken_back_by__isnull=False))
                & ~Q(taken_back_why=""),
            ),
            models.CheckConstraint(
                name="call_read_out_by_a_name",
                condition=Q(read_out_at=None, read_out_by=None)
                | Q(read_out_at__isnull=False, read_out_by__isnull=False),
            ),
        ]
        indexes = [
            models.Index(fields=["site", "-at"], name="call_site"),
            models.Index(fields=["customer", "-at"], name="call_customer"),
            models.Index(fields=["-at"], name="call_newest"),
            models.Index(
                fields=["answer_by"],
                name="call_waiting",
                condition=Q(taken_back_at=None, answered_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"call of {self.caller or 'somebody'}"

    @property
    def told(self) -> list[str]:
        """What the caller said of danger, in words."""
        return [RED[Told(key)].title for key in self.dangers if key in RED]

    @property
    def must_be_read_out(self) -> bool:
        return bool(self.dangers) and self.read_out_at is None

    @property
    def is_waiting(self) -> bool:
        if self.taken_back_at or self.answered_at:
            return False
        return self.end != self.End.VISIT or self.must_be_read_out


#: nobody has answered it: not finished, a note, or danger that was not read out
WAITS = Q(taken_back_at=None, answered_at=None) & (
    ~Q(end=PhoneCall.End.VISIT) | (Q(read_out_at=None) & ~Q(dangers=[]))
)
