"""Rules that promise to come back, and each version of one that was ever saved."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import Any, Self

from django.db import models, transaction
from django.db.models import Exists, OuterRef
from django.utils import timezone
from simple_history.models import HistoricalRecords


class RuleCode(StrEnum):
    """Rules that code asks for by their code; `fixtures/rules.json` has more."""

    RECHECK = "f1"
    INTERVAL = "f2"
    REFILL = "f3"
    CAUSE_REVIEW = "f24"
    RECALL = "f29"


def events() -> list[tuple[str, str]]:
    """What may happen, as a rule offers it; migrations name this function."""
    return FollowUpRule.Event.choices


class RuleContent(models.Model):
    """What a rule says: when something happens, promise to come back. Kinds are lists in code."""

    class Event(models.TextChoices):
        STARTUP_CLOSED = "startup_closed", "a start-up is closed"
        FEEDER_LEFT_ON = "feeder_left_on", "a visit leaves a dosing pump on"
        SETTING_CHANGED = "setting_changed", "a setting is changed"
        FILL_RECORDED = "fill_recorded", "a fill is recorded"
        STAGE_FITTED = "stage_fitted", "a part is fitted"
        VISIT_CLOSED = "visit_closed", "a visit is closed"
        SAMPLE_SENT = "sample_sent", "a sample is sent"
        RESULT_ENTERED = "result_entered", "a result is entered"
        OCCUPANT_CHANGED = "occupant_changed", "the house changes hands"
        FOUND_WANTING = "found_wanting", "a correction shows that a line did not pass"
        DANGER_TOLD = "danger_told", "a caller tells of a danger"
        PART_RECALLED = "part_recalled", "a part is called back"

    class Subject(models.TextChoices):
        """What the promise is about; one of each stands at a time."""

        SITE = "site", "the house"
        TRAIN = "train", "the system"
        STAGE = "stage", "one part"
        SAMPLE = "sample", "the sample"
        JOB = "job", "the job"

    class Anchor(models.TextChoices):
        EVENT_DAY = "event_day", "the day of the event plus the offset"
        WORKING_DAYS = "working_days", "the same, counted in working days"
        REFILL_FORECAST = "refill_forecast", "20 percent level, solution age or company cap"
        RUN_END = "run_end", "last fifth of a backwash run, three to six weeks on"

    class Closing(models.TextChoices):
        VISIT = "visit_closed_with", "a visit closed with the right work"
        FILL = "fill_recorded", "a fill"
        RESULT = "result_entered", "a result entered"
        ACKNOWLEDGED = "acknowledged", "a named person"
        PART_OUT = "part_out", "the part taken out or replaced"

    class Harm(models.IntegerChoices):
        """Order of the worklist, worst first."""

        NO_DRINKING = 1, "no drinking"
        UNREAD_RESULT = 2, "unread positive result"
        FEEDER_ON = 3, "dosing pump left on without a recheck"
        RECHECK = 4, "recheck of the oxidant setting"
        REFILL = 5, "refill"
        INTERVAL = 6, "backwash or regeneration interval"
        ANNUAL = 7, "annual test"
        OTHER = 8, "other"

    name = models.CharField(max_length=80)
    #: the list is asked when it is needed, so that a new event is no change of the table
    event = models.CharField(max_length=40, choices=events)
    filter = models.JSONField(default=dict, blank=True)
    #: further events: [{"event": ..., "filter": {...}, "working_days": 2, "window_after_days": 5}]
    also_on = models.JSONField(default=list, blank=True)
    subject = models.CharField(max_length=8, choices=Subject, default=Subject.TRAIN)
    anchor = models.CharField(max_length=20, choices=Anchor, default=Anchor.EVENT_DAY)
    offset_days = models.IntegerField(default=0)
    window_before_days = models.PositiveSmallIntegerField(default=0)
    window_after_days = models.PositiveSmallIntegerField(default=0)
    recurrence = models.JSONField(default=dict, blank=True)
    closing = models.CharField(max_length=18, choices=Closing)
    closing_parameters = models.JSONField(default=dict, blank=True)
    #: kind of job to book for it, and usual minutes
    job_kind = models.CharField(max_length=10, blank=True)
    minutes = models.PositiveSmallIntegerField(default=60)
    harm = models.PositiveSmallIntegerField(choices=Harm, default=Harm.OTHER)
    reason = models.CharField("why, as shown", max_length=200)
    mark = models.CharField(max_length=10, default="PRACTICE")

    class Meta:
        abstract = True

    def reason_on(self, day: date) -> str:
        """Why, of a promise that arises on that day."""
        return self.reason.replace("{day}", f"{day:%-d %B %Y}")

    def content(self) -> dict[str, Any]:
        """What it says, by name of the column."""
        return {field.name: field.to_python(getattr(self, field.name)) for field in CONTENT}


#: its columns
CONTENT: tuple[models.Field[Any, Any], ...] = tuple(RuleContent._meta.local_fields)


class FollowUpRule(RuleContent):
    """A rule as it stands today; what was promised before is read from its version of then."""

    code = models.SlugField(max_length=8, unique=True)
    is_active = models.BooleanField(default=True)
    history = HistoricalRecords()

    class Meta:
        ordering = ["code"]

    def __str__(self) -> str:
        return f"{self.code.upper()} {self.name}"

    def save(self, **kwargs: Any) -> None:
        """Whatever changes what it says is a version of its own."""
        with transaction.atomic():
            super().save(**kwargs)
            newest = self.versions.order_by("number").last()
            content = self.content()
            if newest is None or newest.content() != content:
                number = newest.number + 1 if newest else 1
                when = getattr(self, "_history_date", None)
                known = {"kept_at": when} if when else {}
                self.versions.create(number=number, **known, **content)

    @property
    def is_review(self) -> bool:
        """The owner decides something; nobody settles it with a word."""
        return self.code == RuleCode.CAUSE_REVIEW


class RuleVersionQuerySet(models.QuerySet["RuleVersion"]):
    def newest(self) -> Self:
        """Of each rule what it says today."""
        later = RuleVersion.objects.filter(rule=OuterRef("rule"), number__gt=OuterRef("number"))
        return self.filter(~Exists(later))

    def in_force(self) -> Self:
        """What promises are made under from now on."""
        return self.newest().filter(rule__is_active=True).select_related("rule")


class RuleVersion(RuleContent):
    """What a rule said from one saving to the next; promises made under it point here."""

    rule = models.ForeignKey(FollowUpRule, on_delete=models.PROTECT, related_name="versions")
    number = models.PositiveSmallIntegerField()
    kept_at = models.DateTimeField("since when it said so", default=timezone.now)

    objects = RuleVersionQuerySet.as_manager()

    class Meta:
        ordering = ["rule", "number"]
        constraints = [
            models.UniqueConstraint(name="rule_version_once", fields=["rule", "number"]),
        ]

    def __str__(self) -> str:
        return f"{self.rule.code.upper()} {self.name}"


#: what is told of each event, for filters to ask; a stage_kind chooses the parts of its system
FACTS_TOLD: dict[str, frozenset[str]] = {
    FollowUpRule.Event.STARTUP_CLOSED: frozenset(
        {"job_kind", "completed", "disinfected", "stage_kind"}
    ),
    FollowUpRule.Event.FEEDER_LEFT_ON: frozenset(
        {"job_kind", "changed", "completed", "stage_kind"}
    ),
    FollowUpRule.Event.SETTING_CHANGED: frozenset({"job_kind", "dose_moved_percent", "stage_kind"}),
    FollowUpRule.Event.FILL_RECORDED: frozenset({"stage_kind"}),
    FollowUpRule.Event.STAGE_FITTED: frozenset({"stage_kind"}),
    FollowUpRule.Event.VISIT_CLOSED: frozenset(
        {"job_kind", "outcome", "completed", "is_callback", "stage_kind"}
    ),
    FollowUpRule.Event.SAMPLE_SENT: frozenset({"sample_kind"}),
    FollowUpRule.Event.RESULT_ENTERED: frozenset({"sample_kind", "outcome"}),
    FollowUpRule.Event.OCCUPANT_CHANGED: frozenset(),
    FollowUpRule.Event.FOUND_WANTING: frozenset({"job_kind", "contact_short"}),
    FollowUpRule.Event.DANGER_TOLD: frozenset({"danger"}),
    FollowUpRule.Event.PART_RECALLED: frozenset({"stage_kind"}),
}
#: the types of their values
FACTS: dict[str, type] = {
    "job_kind": str,
    "outcome": str,
    "completed": bool,
    "changed": bool,
    "disinfected": bool,
    "contact_short": bool,
    "is_callback": bool,
    "stage_kind": str,
    "sample_kind": str,
    "danger": str,
    "dose_moved_percent": float,
}
