from __future__ import annotations

from datetime import datetime
from typing import Self

from django.contrib.auth.models import User
from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime

from .customers import Customer
from .visits import Visit


class OutboxMailQuerySet(models.QuerySet["OutboxMail"]):
    def due(self, now: datetime) -> Self:
        return self.filter(state=OutboxMail.State.QUEUED, not_before__lte=now).order_by(
            "not_before", "pk"
        )

    def needs_someone(self) -> Self:
        """Dead and unknown ones, for the top of the page."""
        return self.filter(
            state__in=[OutboxMail.State.DEAD, OutboxMail.State.UNKNOWN], seen_at=None
        )


class OutboxMail(models.Model):
    """One message to one recipient. The key makes it unique, whatever runs twice."""

    class MailClass(models.TextChoices):
        STAFF = "staff", "staff"
        CUSTOMER = "customer", "customer"

    class State(models.TextChoices):
        QUEUED = "queued", "waiting"
        CLAIMED = "claimed", "taken"
        SENDING = "sending", "being sent"
        SENT = "sent", "sent"
        SKIPPED = "skipped", "not needed any more"
        UNKNOWN = "unknown", "not known whether it arrived"
        DEAD = "dead", "could not be sent"

    key = models.CharField(max_length=160, unique=True)
    mail_class = models.CharField(max_length=8, choices=MailClass)
    template = models.SlugField(max_length=40)
    context = models.JSONField(default=dict)  # ids and dates only
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="mails"
    )
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="mails"
    )
    recipient = models.EmailField()
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    not_before = models.DateTimeField()
    useful_until = models.DateTimeField()
    lease_until = models.DateTimeField(null=True, blank=True)
    token = models.CharField(max_length=32, blank=True)
    starts = models.PositiveSmallIntegerField(default=0)
    deliveries = models.PositiveSmallIntegerField(default=0)
    last_code = models.CharField(max_length=10, blank=True)
    last_error = models.TextField(blank=True)
    message_id = models.CharField(max_length=200, blank=True)
    subject = models.CharField(max_length=200, blank=True)
    rendered = models.BinaryField(null=True, blank=True)
    created_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    seen_at = models.DateTimeField("looked at by the office", null=True, blank=True)
    sent_again_as = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    hold = models.ForeignKey(
        "MailHold",
        on_delete=models.PROTECT,
        null=True,
        blank=True,
        related_name="mails",
        verbose_name="the outage in which the doubt about it arose",
    )

    objects = OutboxMailQuerySet.as_manager()

    class Meta:
        ordering = ["-created_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="mail_sent_iff_dated",
                condition=Q(state="sent", sent_at__isnull=False)
                | (~Q(state="sent") & Q(sent_at=None)),
            ),
            models.CheckConstraint(
                name="mail_token_while_held",
                condition=~Q(state__in=["claimed", "sending"]) | ~Q(token=""),
            ),
        ]
        indexes = [
            models.Index(fields=["not_before"], name="mail_due", condition=Q(state="queued")),
            models.Index(
                fields=["lease_until"],
                name="mail_lease",
                condition=Q(state__in=["claimed", "sending"]),
            ),
        ]

    def __str__(self) -> str:
        return self.key

    @property
    def title(self) -> str:
        """Its subject; before it is written, what kind of message it is."""
        return self.subject or self.template.replace("_", " ").capitalize()


class ChannelStop(models.Model):
    """The mail server turns us away altogether: no message is at fault, so none is used up.

    At most one row, and only while it lasts.
    """

    stopped_at = models.DateTimeField()
    try_again_at = models.DateTimeField()
    code = models.CharField(max_length=10, blank=True)
    error = models.TextField(blank=True)

    class Meta:
        constraints = [models.CheckConstraint(name="channel_one_row", condition=Q(pk=1))]

    def __str__(self) -> str:
        return f"no mail since {localtime(self.stopped_at):%Y-%m-%d %H:%M} ({self.code})"


class MailHoldQuerySet(models.QuerySet["MailHold"]):
    def standing(self) -> Self:
        return self.filter(ended_at=None)

    def holding(self) -> Self:
        """Those that keep mail back now."""
        return self.standing().exclude(held_at=None)


class MailHold(models.Model):
    """Mail is kept back until somebody says that it may go: nobody can know it but a person.

    Two reasons: the server breaks off after it was given messages, again and again; or the
    database was put back, and does not know what was sent since its copy was made.
    """

    class Kind(models.TextChoices):
        DOUBT = "doubt", "the mail server breaks off"
        RESTORED = "restored", "the database was put back"

    kind = models.CharField(max_length=8, choices=Kind)
    begun_at = models.DateTimeField()
    doubts = models.PositiveIntegerField("messages in a row without an answer", default=0)
    held_at = models.DateTimeField(null=True, blank=True)
    try_again_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)
    ended_by = models.ForeignKey(
        User, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = MailHoldQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                name="mail_hold_one_of_a_kind", fields=["kind"], condition=Q(ended_at=None)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} since {localtime(self.begun_at):%Y-%m-%d %H:%M}"
