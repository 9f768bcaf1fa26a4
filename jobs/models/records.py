"""The record of a start-up, recheck, survey or disinfection, over one or several visits."""

from __future__ import annotations

import uuid
from typing import Self

from django.conf import settings
from django.db import models
from django.db.models import Q
from django.utils.timezone import localtime

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import ResultTold, Site, Stage, Train
from jobs.fieldwork import kinds
from jobs.wording.pump_settings import setting_said

from .checklists import ChecklistTemplate
from .jobs import Job
from .visits import Visit


class ChecklistRecordQuerySet(models.QuerySet["ChecklistRecord"]):
    def open(self) -> Self:
        return self.filter(status=ChecklistRecord.Status.OPEN)

    def for_train(self, train: Train) -> Self:
        return self.filter(train=train)

    def closed_startups(self) -> Self:
        return self.filter(
            status=ChecklistRecord.Status.CLOSED,
            template__purpose=ChecklistTemplate.Purpose.STARTUP,
        )


class ChecklistRecord(models.Model):
    """Drafted answer by answer; frozen by the database once closed."""

    class Status(models.TextChoices):
        OPEN = "open", "open"
        CLOSED = "closed", "closed"

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="records")
    template = models.ForeignKey(
        ChecklistTemplate, on_delete=models.PROTECT, related_name="records"
    )
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    status = models.CharField(max_length=6, choices=Status, default=Status.OPEN)
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    closed_at = models.DateTimeField(null=True, blank=True)
    closed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    closed_in = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="closed_records"
    )
    handed_over_to = models.CharField(max_length=120, blank=True)

    objects = ChecklistRecordQuerySet.as_manager()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.UniqueConstraint(name="record_once_per_job", fields=["job", "template"]),
            models.CheckConstraint(
                name="record_closed_iff_dated",
                condition=Q(status="closed", closed_at__isnull=False, closed_by__isnull=False)
                | Q(status="open", closed_at=None, closed_by=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.template.title} of {localtime(self.opened_at):%Y-%m-%d}"

    @property
    def is_closed(self) -> bool:
        return self.status == self.Status.CLOSED


class Answer(models.Model):
    """A draft of one line, kept on every change. Not evidence until the record closes."""

    record = models.ForeignKey(ChecklistRecord, on_delete=models.PROTECT, related_name="answers")
    line_key = models.SlugField(max_length=60)
    side = models.CharField(max_length=6, blank=True)  # found, left or ""
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tank = models.PositiveSmallIntegerField("of tanks side by side, 0: the whole", default=0)
    text = models.TextField("as typed", blank=True)
    unit = models.CharField(max_length=20, blank=True)
    dilution = models.FloatField(default=1)
    read_at = models.DateTimeField()
    saved_at = models.DateTimeField()
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    visit = models.ForeignKey(
        Visit, on_delete=models.PROTECT, null=True, blank=True, related_name="answers"
    )
    version = models.PositiveIntegerField(default=1)
    warning = models.CharField("warning shown", max_length=300, blank=True)
    warning_confirmed_at = models.DateTimeField(null=True, blank=True)
    skip_reason = models.CharField(max_length=200, blank=True)

    class Meta:
        ordering = ["record", "line_key"]
        constraints = [
            models.UniqueConstraint(
                name="answer_once",
                fields=["record", "line_key", "side", "stage", "tank"],
                condition=Q(stage__isnull=False),
            ),
            models.UniqueConstraint(
                name="answer_once_no_stage",
                fields=["record", "line_key", "side"],
                condition=Q(stage=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.line_key}: {self.text} {self.unit}".strip()


class DialStep(models.Model):
    """One confirmed step of the dial-back: set, wait, look, read."""

    class Look(models.TextChoices):
        CLEAR = kinds.Look.CLEAR.value, kinds.LOOK_WORDS[kinds.Look.CLEAR]
        FEW = kinds.Look.FEW.value, kinds.LOOK_WORDS[kinds.Look.FEW]
        MILKY = kinds.Look.MILKY.value, kinds.LOOK_WORDS[kinds.Look.MILKY]
        NOT_LOOKED = kinds.Look.NOT_LOOKED.value, kinds.LOOK_WORDS[kinds.Look.NOT_LOOKED]

    class FeederCheck(models.TextChoices):
        """How the dosing pump was found after a reading of nothing."""

        SOUND = "sound", kinds.FEEDER_CHECK_WORDS["sound"]
        MENDED = "mended", kinds.FEEDER_CHECK_WORDS["mended"]

    record = models.ForeignKey(ChecklistRecord, on_delete=models.PROTECT, related_name="steps")
    number = models.PositiveSmallIntegerField()
    #: the act that made it, by which later ones name it; None: not told by an act
    made_by = models.UUIDField(null=True, blank=True, editable=False)
    setting_percent = models.FloatField()
    #: of a pump that is set by two figures: those beside the share that it feeds
    marks = models.JSONField(default=dict, blank=True)
    set_at = models.DateTimeField()
    drawdown_ml_min = models.FloatField("measured feed", null=True, blank=True)
    tap_flow_gpm = models.FloatField(null=True, blank=True)
    read_at = models.DateTimeField(null=True, blank=True)
    turnovers = models.FloatField("turnovers waited", null=True, blank=True)
    look = models.CharField(max_length=10, choices=Look, blank=True)
    residual_low_mg_l = models.FloatField(null=True, blank=True)
    residual_high_mg_l = models.FloatField(null=True, blank=True)
    iron_clear = models.BooleanField(null=True, blank=True)
    odour_clear = models.BooleanField(null=True, blank=True)
    colour_gone = models.BooleanField(null=True, blank=True)
    feeder_check = models.CharField(max_length=6, choices=FeederCheck, blank=True)
    feeder_checked_at = models.DateTimeField(null=True, blank=True)
    skip_reason = models.CharField(max_length=200, blank=True)
    skipped_at = models.DateTimeField(null=True, blank=True)
    #: why a reading is kept and not used: strips that were out of date or read wrong
    doubt = models.CharField(max_length=160, blank=True)
    strips = models.ForeignKey(
        "jobs.StripLot", on_delete=models.PROTECT, null=True, blank=True, related_name="steps"
    )
    is_final = models.BooleanField(default=False)
    #: the final setting of this visit alone: why nothing better was read
    left_because = models.CharField(max_length=160, blank=True)
    against = models.CharField("against which rule it was set", max_length=300, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["record", "number"]
        constraints = [
            models.UniqueConstraint(name="dial_step_number", fields=["record", "number"]),
            models.UniqueConstraint(name="dial_step_of_one_act", fields=["made_by"]),
            models.UniqueConstraint(
                name="dial_step_one_final", fields=["record"], condition=Q(is_final=True)
            ),
            models.CheckConstraint(
                name="dial_step_feeder_checked_iff_dated",
                condition=Q(feeder_check="", feeder_checked_at=None)
                | Q(feeder_check__in=("sound", "mended"), feeder_checked_at__isnull=False),
            ),
            models.CheckConstraint(
                name="dial_step_left_is_final",
                condition=Q(left_because="") | Q(is_final=True),
            ),
            models.CheckConstraint(
                name="dial_step_percent",
                condition=Q(setting_percent__gte=0, setting_percent__lte=100),
            ),
        ]

    def __str__(self) -> str:
        return f"step {self.number}: {setting_said(self.setting)}"

    @property
    def setting(self) -> PumpSetting:
        return PumpSetting.of(self.setting_percent, self.marks)


class Timer(models.Model):
    """A wait that survives the phone: started by the server's clock."""

    record = models.ForeignKey(ChecklistRecord, on_delete=models.PROTECT, related_name="timers")
    line_key = models.SlugField(max_length=60)
    started_at = models.DateTimeField()
    needed_minutes = models.FloatField()
    stopped_at = models.DateTimeField(null=True, blank=True)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        constraints = [
            models.UniqueConstraint(name="timer_once", fields=["record", "line_key"]),
        ]

    def __str__(self) -> str:
        return f"{self.line_key} since {localtime(self.started_at):%H:%M}"


class Override(models.Model):
    """A line that must pass, passed over by a named person for a reason."""

    record = models.ForeignKey(ChecklistRecord, on_delete=models.PROTECT, related_name="overrides")
    line_key = models.SlugField(max_length=60)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="override_once", fields=["record", "line_key"]),
            models.CheckConstraint(name="override_has_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        return f"{self.line_key}: {self.reason}"


class Acknowledgement(models.Model):
    """A red caution read by a named person on this record."""

    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, related_name="acknowledgements"
    )
    caution = models.SlugField(max_length=40)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="acknowledged_once", fields=["record", "caution", "by", "at"]
            ),
        ]

    def __str__(self) -> str:
        return f"{self.caution} read by {self.by}"


class PourTold(models.Model):
    """Chlorine is poured, and an adult of this house was told before; "" where nobody was.

    Of who was told before the way was asked only the name is known.
    """

    record = models.ForeignKey(ChecklistRecord, on_delete=models.PROTECT, related_name="poured")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    whom = models.CharField("adult who was told", max_length=120, blank=True)
    how = models.CharField(max_length=10, choices=ResultTold.How, blank=True)
    number = models.CharField("number called", max_length=30, blank=True)
    read_back = models.BooleanField("they said it back", default=False)
    told_at = models.DateTimeField(null=True, blank=True)
    told_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    at = models.DateTimeField("poured")
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")

    class Meta:
        ordering = ["record", "pk"]
        constraints = [
            models.UniqueConstraint(name="poured_once_a_house", fields=["record", "site"]),
            models.CheckConstraint(
                name="pour_told_is_of_somebody",
                condition=~Q(whom="") | Q(how="", number="", read_back=False, told_at=None),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.whom or 'nobody'} told at {self.site}"

    @property
    def is_told(self) -> bool:
        """By name, and said back; of some only the name was asked."""
        return bool(self.whom) and (self.read_back or not self.how)


class RecordCorrection(models.Model):
    """A newer version of a closed record: one answer as it should have been. Insert only."""

    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, related_name="corrections"
    )
    version = models.PositiveSmallIntegerField()
    line_key = models.SlugField(max_length=60)
    side = models.CharField(max_length=6, blank=True)
    stage = models.ForeignKey(
        Stage, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    tank = models.PositiveSmallIntegerField("of tanks side by side, 0: the whole", default=0)
    text = models.TextField("as typed", blank=True)
    unit = models.CharField(max_length=20, blank=True)
    dilution = models.FloatField(default=1)
    #: the step that is put right; None where it is an answer or a wait
    step = models.PositiveSmallIntegerField(null=True, blank=True)
    #: of a step or a wait: its figures and moments as they should have been
    figures = models.JSONField(default=dict, blank=True)
    label = models.CharField(max_length=300)
    before = models.CharField("as it was printed", max_length=300, blank=True)
    after = models.CharField("as it is printed now", max_length=300, blank=True)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["record", "version"]
        constraints = [
            models.UniqueConstraint(name="correction_version", fields=["record", "version"]),
            models.CheckConstraint(name="correction_has_reason", condition=~Q(reason="")),
        ]

    def __str__(self) -> str:
        was, now = self.before or "nothing", self.after or "nothing"
        return f"{self.label}: {now} instead of {was}"


class Document(models.Model):
    """A printed record, made once for each version; the bytes are served everywhere."""

    record = models.ForeignKey(
        ChecklistRecord, on_delete=models.PROTECT, null=True, blank=True, related_name="documents"
    )
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    title = models.CharField(max_length=120)
    made_at = models.DateTimeField()
    content = models.BinaryField()
    sha256 = models.CharField(max_length=64)

    class Meta:
        ordering = ["-made_at", "-pk"]

    def __str__(self) -> str:
        return self.title

    @property
    def shows_withdrawn(self) -> bool:
        """A photo on it was taken off the record since."""
        if self.record is None:
            return False
        off = self.record.photos.filter(for_customer=True, removed_at__gt=self.made_at)
        return bool(off.exists())
