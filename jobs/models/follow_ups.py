from __future__ import annotations

from datetime import date
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from django.utils.timezone import localtime

from equipment.models import Sample, Site, Stage, Train

from .rules import FollowUpRule, RuleVersion, events
from .visits import Visit

#: what can do harm, then the longest due
WORST_FIRST = ("terms__harm", "due_on", "pk")


def past_window(day: date) -> Q:
    """Late begins the day after the window; this is the one place that says so to the database."""
    return Q(window_until__lt=day)


def awake(day: date) -> Q:
    """Not put off beyond that day."""
    return Q(snoozed_until=None) | Q(snoozed_until__lte=day)


class FollowUpQuerySet(models.QuerySet["FollowUp"]):
    def alive(self) -> Self:
        """Promises that still stand: open or booked."""
        return self.filter(status__in=[FollowUp.Status.OPEN, FollowUp.Status.BOOKED])

    def open(self) -> Self:
        return self.filter(status=FollowUp.Status.OPEN)

    def due_by(self, day: date) -> Self:
        """Open, window begun by that day, not put off beyond it; worst first, then oldest."""
        return self.open().filter(awake(day), window_from__lte=day).order_by(*WORST_FIRST)

    def to_do_on(self, day: date) -> Self:
        """What the office works on: due, and booked ones past their window; worst first."""
        due = Q(status=FollowUp.Status.OPEN, window_from__lte=day) & awake(day)
        booked_late = Q(status=FollowUp.Status.BOOKED) & past_window(day)
        return self.filter(due | booked_late).order_by(*WORST_FIRST)

    def put_off_on(self, day: date) -> Self:
        """Open and put off beyond that day: nobody works on it, and it is not forgotten."""
        return self.open().filter(snoozed_until__gt=day).order_by(*WORST_FIRST)

    def overdue_on(self, day: date) -> Self:
        """Alive and past the end of the window, booked or put off or not."""
        return self.alive().filter(past_window(day))

    def was_overdue_on(self, day: date) -> Self:
        """Past its window and not yet ended on a day that has gone by."""
        return self.filter(past_window(day)).filter(Q(ended_at=None) | Q(ended_at__date__gt=day))

    def with_site(self) -> Self:
        return self.select_related("rule", "terms", "site", "train", "stage", "visit", "owner")


class FollowUp(models.Model):
    """A promise to come back."""

    class Status(models.TextChoices):
        OPEN = "open", "open"
        BOOKED = "booked", "booked"
        DONE = "done", "done"
        WAIVED = "waived", "waived"
        SUPERSEDED = "superseded", "superseded"

    rule = models.ForeignKey(FollowUpRule, on_delete=models.PROTECT, related_name="follow_ups")
    #: the rule as it stood when this was promised: everything read of it is read here
    terms = models.ForeignKey(RuleVersion, on_delete=models.PROTECT, related_name="follow_ups")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    #: "site:5", "train:3", "stage:12" ... what the cycle counts for
    subject_key = models.CharField(max_length=60)
    cycle = models.PositiveIntegerField(default=1)
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    due_on = models.DateField()
    window_from = models.DateField()
    window_until = models.DateField()
    first_due_on = models.DateField("lateness counts from here")
    snoozed_until = models.DateField(null=True, blank=True)
    snoozes = models.PositiveSmallIntegerField(default=0)
    reason = models.CharField(max_length=300)
    details = models.JSONField(default=dict, blank=True)
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="follow_ups"
    )
    from_visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="follow_ups_made"
    )
    owner = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    made_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ended_reason = models.CharField(max_length=200, blank=True)

    objects = FollowUpQuerySet.as_manager()

    class Meta:
        ordering = ["due_on", "pk"]
        constraints = [
            models.UniqueConstraint(
                name="follow_up_once_per_cycle", fields=["rule", "subject_key", "cycle"]
            ),
            models.CheckConstraint(
                name="follow_up_window_in_order",
                condition=Q(window_from__lte=F("due_on"), window_until__gte=F("due_on")),
            ),
            models.CheckConstraint(
                name="follow_up_booked_iff_visit",
                condition=Q(status="booked", visit__isnull=False) | ~Q(status="booked"),
            ),
            models.CheckConstraint(
                name="follow_up_open_without_visit",
                condition=~Q(status="open") | Q(visit=None),
            ),
            models.CheckConstraint(
                name="follow_up_ended_iff_dated",
                condition=Q(status__in=["open", "booked"], ended_at=None)
                | Q(status__in=["done", "waived", "superseded"], ended_at__isnull=False),
            ),
        ]
        indexes = [
            models.Index(  # status and snooze too, so that finding due work reads no row
                fields=["window_from", "due_on", "status", "snoozed_until"],
                name="follow_up_due",
                condition=Q(status="open"),
            ),
            models.Index(
                fields=["window_until", "status"],
                name="follow_up_booked_late",
                condition=Q(status="booked"),
            ),
            models.Index(fields=["site", "status"], name="follow_up_site"),
        ]

    def __str__(self) -> str:
        return f"{self.terms} due {self.due_on}"

    @property
    def is_alive(self) -> bool:
        return self.status in (self.Status.OPEN, self.Status.BOOKED)

    @property
    def is_of_recall(self) -> bool:
        """Worked off on the page of the recall."""
        return bool(self.details.get("event") == FollowUpRule.Event.PART_RECALLED)

    def days_late(self, day: date) -> int:
        """0 until its window has ended; then since the first due day, put off or not."""
        return (day - self.first_due_on).days if self.window_until < day else 0

    def days_left(self, day: date) -> int:
        """Days to the end of the window, 0 on its last day."""
        return max((self.window_until - day).days, 0)


class ContactAttempt(models.Model):
    """A try to reach the customer about a promise or a visit."""

    class How(models.TextChoices):
        CALLED = "called", "called, reached"
        NOT_REACHED = "not_reached", "called, not reached"
        MESSAGE = "message", "left a message"
        MAILED = "mailed", "wrote"

    #: nobody heard what we wanted to say
    IN_VAIN = (How.NOT_REACHED, How.MESSAGE)

    follow_up = models.ForeignKey(
        FollowUp, on_delete=models.PROTECT, null=True, blank=True, related_name="attempts"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="attempts"
    )
    how = models.CharField(max_length=12, choices=How)
    note = models.CharField(max_length=200, blank=True)
    #: the day on which they are called again, as this try left it; the newest try says
    again_on = models.DateField(null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-at", "-pk"]

    def __str__(self) -> str:
        return f"{self.get_how_display()} {localtime(self.at):%Y-%m-%d}"


class Happening(models.Model):
    """An event of the list and what was told of it; a rule is tried on these before it is kept."""

    event = models.CharField(max_length=40, choices=events)
    day = models.DateField()
    at = models.DateTimeField()
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    sample = models.ForeignKey(
        Sample, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    facts = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["day", "pk"]
        indexes = [models.Index(fields=["day", "event"], name="happening_day")]

    def __str__(self) -> str:
        return f"{self.event} {self.day}"
