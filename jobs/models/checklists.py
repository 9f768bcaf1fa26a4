from __future__ import annotations

from django.db import models
from django.db.models import Q
from simple_history.models import HistoricalRecords

from jobs.fieldwork import kinds


class ChecklistTemplate(models.Model):
    """A versioned list of lines. A record keeps the version it was begun with."""

    class Purpose(models.TextChoices):
        SURVEY = kinds.Purpose.SURVEY.value, "survey"
        DISINFECT = kinds.Purpose.DISINFECT.value, "disinfection"
        STARTUP = kinds.Purpose.STARTUP.value, "start-up"
        RECHECK = kinds.Purpose.RECHECK.value, "recheck"

    purpose = models.CharField(max_length=10, choices=Purpose)
    version = models.PositiveSmallIntegerField()
    title = models.CharField(max_length=80)
    #: version of the file that it is, or that the company's edits are laid over
    shipped = models.PositiveSmallIntegerField(default=0)
    is_edited = models.BooleanField("the company's edits are laid over it", default=False)
    is_current = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["purpose", "-version"]
        constraints = [
            models.UniqueConstraint(name="template_version", fields=["purpose", "version"]),
            models.UniqueConstraint(
                name="template_one_current", fields=["purpose"], condition=Q(is_current=True)
            ),
        ]

    def __str__(self) -> str:
        return f"{self.title} {self.version}"


class ChecklistLine(models.Model):
    """One thing asked, with its limits and what it opens or shuts."""

    class Kind(models.TextChoices):
        TICK = kinds.LineKind.TICK.value, "tick"
        QUANTITY = kinds.LineKind.QUANTITY.value, "figure with a unit"
        NUMBER = kinds.LineKind.NUMBER.value, "bare figure"
        CHOICE = kinds.LineKind.CHOICE.value, "choice"
        TEXT = kinds.LineKind.TEXT.value, "text"
        TIMER = kinds.LineKind.TIMER.value, "timer"
        STEPS = kinds.LineKind.STEPS.value, "steps of the dial-back"
        CYCLES = kinds.LineKind.CYCLES.value, "cycles run one after the other"

    template = models.ForeignKey(ChecklistTemplate, on_delete=models.CASCADE, related_name="lines")
    block = models.CharField(max_length=20)
    block_title = models.CharField("question over the block", max_length=120)
    position = models.PositiveSmallIntegerField()
    key = models.SlugField(max_length=60)
    label = models.CharField(max_length=160)
    hint = models.CharField(max_length=300, blank=True)
    kind = models.CharField(max_length=10, choices=Kind)
    #: key of equipment.quantities; decides unit, subject and where a Measurement is written
    quantity_key = models.CharField(max_length=40, blank=True)
    subject = models.CharField(max_length=20, blank=True)  # site, well, feeder, filter, softener
    place = models.CharField(max_length=20, blank=True)
    is_pair = models.BooleanField("as found and as left", default=False)
    choices = models.JSONField(default=list, blank=True)  # [[value, label], ...]
    required = models.BooleanField(default=False)
    is_gate = models.BooleanField("must pass", default=False)
    #: gate passes when the answer meets this: {"at_most": 0.2} {"below": 10} {"one_of": [...]} ...
    passes = models.JSONField(default=dict, blank=True)
    #: asked only when: {"line": "disinfect-scope", "one_of": ["here"]} or {"has": "softener"} ...
    condition = models.JSONField(default=dict, blank=True)
    hard_min = models.FloatField(null=True, blank=True)
    hard_max = models.FloatField(null=True, blank=True)
    warn_min = models.FloatField(null=True, blank=True)
    warn_max = models.FloatField(null=True, blank=True)
    expectation = models.CharField("result it is compared with", max_length=60, blank=True)
    caution = models.SlugField(blank=True)
    may_skip = models.BooleanField("may be skipped with a reason", default=True)
    from_file = models.BooleanField("a figure on file stands for an answer", default=False)

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(name="line_key_once", fields=["template", "key"]),
        ]

    def __str__(self) -> str:
        return self.key

    @property
    def has_limits(self) -> bool:
        limits = (self.hard_min, self.hard_max, self.warn_min, self.warn_max)
        return any(limit is not None for limit in limits)


class LineEdit(models.Model):
    """What the company changed of a shipped line, left out, or asks beside the shipped ones."""

    purpose = models.CharField(max_length=10, choices=ChecklistTemplate.Purpose)
    key = models.SlugField(max_length=60)
    #: {field: value} that stands instead of what is shipped
    changes = models.JSONField(default=dict, blank=True)
    #: {field: value} that was shipped when it was changed
    was = models.JSONField(default=dict, blank=True)
    left_out = models.BooleanField(default=False)
    #: the fields of a line of the company's own; empty for a shipped one
    own = models.JSONField(default=dict, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(name="line_edit_once", fields=["purpose", "key"]),
        ]

    def __str__(self) -> str:
        return f"{self.purpose} {self.key}"


class BlockOrder(models.Model):
    """The order in which the company asks the lines of one page."""

    purpose = models.CharField(max_length=10, choices=ChecklistTemplate.Purpose)
    block = models.CharField(max_length=20)
    keys = models.JSONField(default=list)

    class Meta:
        constraints = [
            models.UniqueConstraint(name="block_order_once", fields=["purpose", "block"]),
        ]

    def __str__(self) -> str:
        return f"{self.purpose} {self.block}"
