from __future__ import annotations

import uuid
from collections.abc import Sequence
from datetime import date, datetime, time, timedelta
from typing import TYPE_CHECKING, Self

from django.conf import settings
from django.contrib.auth.models import User
from django.db import models
from django.db.models import F, FilteredRelation, Q
from django.utils import timezone
from django.utils.timezone import localtime

from .jobs import Job

if TYPE_CHECKING:
    from .requests import VisitRequest

#: the time of a technician is held in pieces of this length
QUARTER = timedelta(minutes=15)


def day_start(day: date) -> datetime:
    """The first moment of a company day."""
    return timezone.make_aware(datetime.combine(day, time.min))  # noqa: DTZ001


def quarters(starts_at: datetime, ends_at: datetime) -> list[datetime]:
    """The UTC quarter hours a time span touches: the start rounded down, the end up."""
    first = starts_at.replace(minute=starts_at.minute // 15 * 15, second=0, microsecond=0)
    held = []
    while first < ends_at:
        held.append(first)
        first += QUARTER
    return held


class VisitQuerySet(models.QuerySet["Visit"]):
    def standing(self) -> Self:
        """Everything that still holds time."""
        return self.exclude(status__in=[Visit.Status.CANCELLED])

    def to_come(self) -> Self:
        return self.filter(status__in=Visit.TO_COME)

    def on_day(self, day: date) -> Self:
        start, end = day_start(day), day_start(day + timedelta(days=1))
        return self.filter(starts_at__gte=start, starts_at__lt=end)

    def of_technician(self, user: User) -> Self:
        return self.filter(Q(lead=user) | Q(helper=user))

    def seen_by_technician(self, user: User, *, today: date) -> Self:
        """Own visits, 30 days back to 60 days ahead."""
        first, last = day_start(today - timedelta(days=30)), day_start(today + timedelta(days=61))
        return self.of_technician(user).filter(starts_at__gte=first, starts_at__lt=last)

    def left_on(self) -> Self:
        """Ended with an oxidant feeder that goes on feeding; an index of their own finds them."""
        return self.filter(status=Visit.Status.CLOSED, feeder_left=Visit.Feeder.ON)

    def with_job(self) -> Self:
        """What a row of a list prints, in one query."""
        return self.select_related("job__site", "job__train", "job__customer", "lead", "helper")

    def with_open_requests(self) -> Self:
        """A row for each open request, one for a visit without, in the order of the day:
        `request`, `asked_at`, `asked_kind` and `asked_note`."""
        open_ones = FilteredRelation("requests", condition=Q(requests__handled_at=None))
        rows = self.alias(of_now=open_ones).annotate(
            request=F("of_now__pk"),
            asked_at=F("of_now__at"),
            asked_kind=F("of_now__kind"),
            asked_note=F("of_now__note"),
        )
        return rows.order_by("starts_at", "pk", "asked_at", "request")


class Visit(models.Model):
    class Status(models.TextChoices):
        REQUESTED = "requested", "requested"
        TENTATIVE = "tentative", "tentative"
        CONFIRMED = "confirmed", "confirmed"
        EN_ROUTE = "en_route", "en route"
        ON_SITE = "on_site", "on site"
        CLOSED = "closed", "closed"
        CANCELLED = "cancelled", "cancelled"

    class Outcome(models.TextChoices):
        COMPLETED = "completed", "completed"
        STABLE = "stable", "stable, no change"
        ADJUSTED = "adjusted", "adjusted, recheck again"
        DEFECT_FOUND = "defect_found", "defect found"
        INCOMPLETE_PARTS = "incomplete_parts", "incomplete: parts"
        INCOMPLETE_TIME = "incomplete_time", "incomplete: time"
        INCOMPLETE_SITE = "incomplete_site", "incomplete: house not ready"
        WAITING = "waiting", "waiting (contact time or laboratory)"
        STOPPED_UNSAFE = "stopped_unsafe", "stopped: not safe"
        NO_ACCESS = "no_access", "no access"
        NO_FAULT = "no_fault", "no fault found"
        REFERRED = "referred", "referred to another trade"
        DECLINED = "declined", "declined by the customer"

    class Feeder(models.TextChoices):
        NONE = "none", "no dosing pump here"
        ON = "on", "on"
        OFF = "off", "off"
        UNPLUGGED = "unplugged", "unplugged"

    class Bypass(models.TextChoices):
        NONE = "none", "no bypass here"
        #: "bypass open" is read both ways, these are not
        SERVICE = "service", "SERVICE (treated)"
        BYPASSED = "bypassed", "BYPASS (untreated, unplug the dosing pump)"

    TO_COME = (
        Status.REQUESTED,
        Status.TENTATIVE,
        Status.CONFIRMED,
        Status.EN_ROUTE,
        Status.ON_SITE,
    )
    #: time is held, nobody is told
    NOT_FIRM = (Status.REQUESTED, Status.TENTATIVE)
    COMPLETING = (
        Outcome.COMPLETED,
        Outcome.STABLE,
        Outcome.ADJUSTED,
        Outcome.DEFECT_FOUND,
        Outcome.NO_FAULT,
    )

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="visits")
    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    status = models.CharField(max_length=10, choices=Status, default=Status.TENTATIVE)
    outcome = models.CharField(max_length=18, choices=Outcome, blank=True)
    lead = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="visits_led"
    )
    helper = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="visits_helped",
    )
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    arrive_from = models.DateTimeField()
    arrive_until = models.DateTimeField()
    #: the house's at the telling; an edit of the house changes no hours that were told
    time_zone = models.CharField(
        "clock by which the hours are told", max_length=40, blank=True, default=""
    )
    sequence = models.PositiveIntegerField("times told to the customer", default=0)
    version = models.PositiveIntegerField(default=1)
    note = models.TextField(blank=True)
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    customer_confirmed_at = models.DateTimeField(null=True, blank=True)
    arrived_at = models.DateTimeField(null=True, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    feeder_left = models.CharField(max_length=10, choices=Feeder, blank=True)
    bypass_left = models.CharField(max_length=10, choices=Bypass, blank=True)
    outcome_note = models.TextField(blank=True)
    cancelled_reason = models.CharField(max_length=200, blank=True)

    #: of a page that says it: what it waits for (jobs/schedule/waiting.py)
    waiting: object | None = None
    #: of a page that says it: what its customer asks and nobody has handled, oldest first
    asked: Sequence[VisitRequest] = ()

    objects = VisitQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at", "pk"]
        constraints = [
            models.CheckConstraint(
                name="visit_outcome_iff_closed",
                condition=(Q(status="closed") & ~Q(outcome="") & Q(closed_at__isnull=False))
                | (~Q(status="closed") & Q(outcome="") & Q(closed_at=None)),
            ),
            models.CheckConstraint(
                name="visit_ends_after_start", condition=Q(ends_at__gt=F("starts_at"))
            ),
            models.CheckConstraint(
                name="visit_window_in_order", condition=Q(arrive_until__gte=F("arrive_from"))
            ),
            models.CheckConstraint(  # what is over was told as it was told
                name="visit_told_inside_held",
                condition=Q(status__in=["closed", "cancelled"])
                | Q(arrive_from__gte=F("starts_at"), arrive_until__lte=F("ends_at")),
            ),
            models.CheckConstraint(
                name="visit_helper_is_another", condition=Q(helper=None) | ~Q(helper=F("lead"))
            ),
        ]
        indexes = [
            models.Index(fields=["lead", "starts_at"], name="visit_lead_day"),
            models.Index(fields=["helper", "starts_at"], name="visit_helper_day"),
            models.Index(fields=["status", "starts_at"], name="visit_status_day"),
            models.Index(
                fields=["job"],
                name="visit_left_on",
                condition=Q(status="closed", feeder_left="on"),
            ),
        ]

    def __str__(self) -> str:
        return f"visit {self.pk}"

    @property
    def is_only_held(self) -> bool:
        """Not firm: time is held and nobody is told."""
        return self.status in self.NOT_FIRM

    @property
    def is_to_come(self) -> bool:
        return self.status in self.TO_COME


class TechnicianSlot(models.Model):
    """A quarter hour of one person, held by one visit. The unique pair forbids double booking."""

    technician = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="slots"
    )
    quarter_at = models.DateTimeField()
    visit = models.ForeignKey(Visit, on_delete=models.CASCADE, related_name="slots")

    class Meta:
        constraints = [
            models.UniqueConstraint(name="slot_one_visit", fields=["technician", "quarter_at"])
        ]

    def __str__(self) -> str:
        return f"{self.technician_id} at {localtime(self.quarter_at):%Y-%m-%d %H:%M}"
