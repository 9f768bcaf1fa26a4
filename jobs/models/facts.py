"""What decides about a counted job: facts that are never changed, and the narrow table from them.

A correction is a newer row that says what it `corrects`; the standing row is the one that none
corrects. `Follow` is worked out from the standing facts alone and can be made anew at any time.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Any, Self, TypeVar

from django.conf import settings
from django.db import models
from django.db.models import Exists, OuterRef, Q

from equipment.models import Measurement, Site, Train
from jobs.errors import WrongState

from .jobs import Job

#: the rules that named kind of work and raw water; older rows keep theirs
METHOD, CARRIED_METHOD = "class/1", "carried/1"
NEVER_CHANGED = "Facts are never changed: write a newer one."
NEVER_DELETED = "Facts are never deleted: write a newer one."
Once = TypeVar("Once", bound="InsertOnly")
Row = TypeVar("Row", bound="Fact")


class InsertOnlyQuerySet(models.QuerySet[Once]):
    """Neither changed nor deleted, not even many at once."""

    def update(self, **fields: Any) -> int:
        raise WrongState(NEVER_CHANGED)

    def delete(self) -> Any:
        raise WrongState(NEVER_DELETED)


class FactQuerySet(InsertOnlyQuerySet[Row]):
    def standing(self) -> Self:
        """Rows that no newer row corrects."""
        return self.filter(corrected_by=None)

    def as_of(self, moment: datetime) -> Self:
        """Rows that stood at that moment."""
        newer = self.model._default_manager.filter(corrects=OuterRef("pk"))
        return self.filter(~Exists(newer.filter(recorded_at__lte=moment)), recorded_at__lte=moment)


class InsertOnly(models.Model):
    """Saved once."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise WrongState(NEVER_CHANGED)
        super().save(*args, **kwargs)

    def delete(self, *args: Any, **kwargs: Any) -> Any:
        raise WrongState(NEVER_DELETED)


class Fact(InsertOnly):
    """Who wrote it, when, why, and which row it takes the place of."""

    recorded_at = models.DateTimeField()
    recorded_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    reason = models.CharField(max_length=300, blank=True)
    corrects = models.OneToOneField(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="corrected_by"
    )

    class Meta:
        abstract = True


class HandoverFact(Fact):
    """Treated water was handed to the house by this job; without a day it never was."""

    class Kind(models.TextChoices):
        FEEDER = "feeder", "oxidant feed"
        FILTER = "filter", "filter, neutralizer or aeration"
        OTHER = "other", "softener, UV or cartridge"

    class Water(models.TextChoices):
        SULFIDE = "sulfide", "sulfide"
        LOW_PH = "low_ph", "low pH"
        USUAL = "usual", "neither"
        UNTESTED = "untested", "not tested"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="handovers")
    day = models.DateField("treated water handed to the house", null=True, blank=True)
    train = models.ForeignKey(Train, on_delete=models.PROTECT, related_name="+")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    installer = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    kind = models.CharField("kind of work", max_length=10, choices=Kind)
    water = models.CharField("raw water", max_length=10, choices=Water)
    is_inherited = models.BooleanField(default=False)
    method = models.CharField(max_length=12, default=METHOD)
    parts = models.JSONField("ids of the parts that stood", default=list)
    sulfide = models.FloatField(null=True, blank=True)
    ph = models.FloatField("pH", null=True, blank=True)
    sulfide_reading = models.ForeignKey(
        Measurement, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    ph_reading = models.ForeignKey(
        Measurement, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )

    objects = FactQuerySet["HandoverFact"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="handover_one_chain_a_job", fields=["job"], condition=Q(corrects=None)
            ),
        ]
        indexes = [
            models.Index(fields=["train", "day"], name="handover_of_system"),
            models.Index(fields=["site", "day"], name="handover_of_house"),
            models.Index(fields=["day"], name="handover_inherited", condition=Q(is_inherited=True)),
        ]

    def __str__(self) -> str:
        return f"handover of job {self.job_id}"


class HandoverHelper(InsertOnly):
    """Who else worked on it, by name; no rate stands behind it."""

    fact = models.ForeignKey(HandoverFact, on_delete=models.PROTECT, related_name="helpers")
    person = models.ForeignKey(settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+")
    did = models.CharField(max_length=60)

    objects = InsertOnlyQuerySet["HandoverHelper"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(name="handover_helper_once", fields=["fact", "person"])
        ]

    def __str__(self) -> str:
        return f"{self.person} {self.did}"


class CallbackFact(Fact):
    """A customer reported something: does it come from an earlier job, from which, and why?"""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="callback_facts")
    origin = models.ForeignKey(
        Job, on_delete=models.PROTECT, null=True, blank=True, related_name="called_back_by"
    )
    answer = models.CharField(max_length=10, choices=Job.CallbackAnswer)
    reported_on = models.DateField("day the customer reported")
    cause = models.CharField(max_length=14, choices=Job.Cause, blank=True)
    group = models.CharField(max_length=1, blank=True)
    recheck_overdue = models.BooleanField(default=False)
    method = models.CharField(max_length=12, default=METHOD)

    objects = FactQuerySet["CallbackFact"].as_manager()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                name="callback_one_chain_a_job", fields=["job"], condition=Q(corrects=None)
            ),
        ]
        indexes = [
            models.Index(
                fields=["origin", "answer", "reported_on"],
                name="callback_of_origin",
                condition=Q(origin__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"report of job {self.job_id}: {self.get_answer_display()}"


class LossFact(Fact):
    """From that day a house or a system is not followed any more."""

    class How(models.TextChoices):
        CUSTOMER_GONE = "customer", "customer gone"
        SYSTEM_GONE = "system", "system gone"
        WATER_OFF = "off", "water off"
        UNREACHED = "unreached", "could not be reached"
        STANDS = "stands", "followed on"

    #: nobody of the house would tell us
    HOUSE_GONE = (How.CUSTOMER_GONE, How.UNREACHED)

    site = models.ForeignKey(
        Site, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    day = models.DateField("day it happened")
    how = models.CharField(max_length=10, choices=How)

    objects = FactQuerySet["LossFact"].as_manager()

    class Meta:
        constraints = [
            models.CheckConstraint(
                name="loss_of_a_house_or_a_system",
                condition=Q(site__isnull=False, train=None) | Q(site=None, train__isnull=False),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_how_display()} from {self.day}"


#: number of a day: plain integers on both databases
def number_of(day: date) -> int:
    return day.toordinal()


class Follow(models.Model):
    """One row a job that is followed; derived, never typed."""

    class How(models.IntegerChoices):
        NONE = 0
        CALLBACK = 1
        CUSTOMER_GONE = 2
        SYSTEM_GONE = 3
        WATER_OFF = 4

    #: days of a job that neither a callback nor a loss has ended
    NEVER = 32767
    LONGEST = 365

    job = models.OneToOneField(
        Job, on_delete=models.CASCADE, primary_key=True, related_name="follow", db_column="job"
    )
    installer = models.ForeignKey(
        settings.AUTH_USER_MODEL,
        on_delete=models.PROTECT,
        related_name="+",
        db_index=False,
        db_column="installer",
    )
    #: kind of work x 4 + raw water
    work = models.SmallIntegerField(db_column="class")
    day = models.IntegerField()
    ended = models.SmallIntegerField(default=NEVER)
    how = models.SmallIntegerField(choices=How, default=How.NONE)
    cause = models.SmallIntegerField(null=True)

    class Meta:
        db_table = "follow"
        indexes = [
            models.Index(
                fields=["installer", "work", "day", "ended", "how", "cause"],
                name="follow_short",
                condition=Q(ended__lte=365),
            ),
            models.Index(fields=["day", "installer", "work", "ended", "how"], name="follow_day"),
            models.Index(fields=["installer", "work", "day", "ended", "how"], name="follow_class"),
            models.Index(fields=["installer", "day", "job"], name="follow_newest"),
        ]

    def __str__(self) -> str:
        return f"job {self.job_id}, {self.get_how_display()}"


#: order of the numbers in `Follow.work`
KINDS = tuple(HandoverFact.Kind.values)
WATERS = tuple(HandoverFact.Water.values)
NOT_CODED, RECHECK_MISSED = "not_coded", "R_missed"
#: causes that a recheck would have found; its being overdue is the office's part
RECHECK_WOULD_FIND = (Job.Cause.B_HIGH, Job.Cause.B_LOW)
#: numbers in `Follow.cause`; a new cause goes to the end
CAUSES: tuple[str, ...] = (
    NOT_CODED,
    RECHECK_MISSED,
    "A_leak",
    "A_drain",
    "A_injection",
    "A_wiring",
    "A_missed",
    "A_debris",
    "A_bypass",
    "B_high",
    "B_low",
    "B_interval",
    "B_clock",
    "C_backwash",
    "C_size",
    "C_medium",
    "D_test",
    "E_equipment",
    "F_ran_out",
    "F_weak",
    "G_source",
    "H_house",
    "I_customer",
    "J_explain",
    "K_no_fault",
    "L_unknown",
)


def work_number(kind: str, water: str) -> int:
    return KINDS.index(kind) * len(WATERS) + WATERS.index(water)


def work_of(number: int) -> tuple[str, str]:
    """Kind of work and raw water."""
    kind, water = divmod(number, len(WATERS))
    return KINDS[kind], WATERS[water]


def cause_number(cause: str, *, recheck_overdue: bool) -> int:
    if recheck_overdue and cause in RECHECK_WOULD_FIND:
        return CAUSES.index(RECHECK_MISSED)
    return CAUSES.index(cause or NOT_CODED)
