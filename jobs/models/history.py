from __future__ import annotations

from django.conf import settings
from django.db import models
from django.utils.timezone import localtime
from simple_history.signals import post_create_historical_record


def keep_entry(instance: models.Model, history_instance: models.Model, **kwargs: object) -> None:
    """A row remembers the entry that its saving wrote, until an act is logged about it."""
    instance._entry_written = history_instance.pk  # type: ignore[attr-defined]


def take_entry(row: models.Model) -> int | None:
    """The entry of the row's own history that no act has been logged for yet."""
    entry: int | None = row.__dict__.pop("_entry_written", None)
    return entry


post_create_historical_record.connect(keep_entry, dispatch_uid="keep_entry")


class LogEntry(models.Model):
    """Who did what to which row, when, why. Ids only, no personal values. Insert only."""

    at = models.DateTimeField()
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    verb = models.CharField(max_length=40)
    subject_type = models.CharField(max_length=30)
    subject_id = models.BigIntegerField()
    site_id_logged = models.BigIntegerField("site", null=True, blank=True)
    reason = models.CharField(max_length=300, blank=True)
    data = models.JSONField(default=dict, blank=True)
    #: the entry of the subject's own history that this act wrote: the same change, said once
    entry_id_logged = models.BigIntegerField("entry", null=True, blank=True)

    class Meta:
        ordering = ["-at", "-pk"]
        indexes = [
            models.Index(fields=["-at"], name="log_newest"),
            models.Index(fields=["by", "-at"], name="log_person"),
            models.Index(fields=["subject_type", "subject_id"], name="log_subject"),
            models.Index(fields=["site_id_logged", "-at"], name="log_site"),
        ]

    def __str__(self) -> str:
        return f"{self.verb} {self.subject_type} {self.subject_id}"


class SubmittedForm(models.Model):
    """One key per opening of a form: the second sending of it has no second effect."""

    key = models.CharField(max_length=64)
    user = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.CASCADE, related_name="+")
    body_sha256 = models.CharField(max_length=64)
    location = models.CharField("where the first sending led", max_length=200)
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="submitted_once", fields=["user", "key"]),
        ]

    def __str__(self) -> str:
        return self.key


class WorkerPass(models.Model):
    """When a scan of the worker last finished; health is judged by work done."""

    name = models.SlugField(unique=True)
    finished_at = models.DateTimeField()
    items = models.PositiveIntegerField(default=0)

    def __str__(self) -> str:
        return self.name


class Night(models.Model):
    """The work of one night. Whoever claims the row does it; a claim that ends in nothing ends."""

    day = models.DateField(unique=True)
    lease_until = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    error = models.CharField(max_length=300, blank=True)

    def __str__(self) -> str:
        return f"night of {self.day}"


class PasswordAsk(models.Model):
    """Somebody asked for a password by mail; whose address it is nobody has looked yet."""

    email = models.CharField(max_length=254)
    asked_at = models.DateTimeField()

    def __str__(self) -> str:
        return f"asked {localtime(self.asked_at):%Y-%m-%d %H:%M}"
