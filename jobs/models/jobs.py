from __future__ import annotations

from datetime import date
from typing import ClassVar, Self

from django.conf import settings
from django.db import models
from django.db.models import F, Q
from simple_history.models import HistoricalRecords

from equipment.models import Site, Train

from .customers import Customer


class JobQuerySet(models.QuerySet["Job"]):
    def open(self) -> Self:
        return self.filter(status=Job.Status.OPEN)

    def at_site(self, site: Site | int) -> Self:
        return self.filter(site=site)

    def possible_origins(self, train: Train, *, reported_on: date, window_days: int) -> Self:
        """Work on this train, handed over within the window, newest first.

        So is work that somebody went to and has not told yet: the customer may call before.
        """
        first = date.fromordinal(reported_on.toordinal() - window_days)
        handed_over = Q(index_on__gte=first, index_on__lte=reported_on)
        not_told = Q(
            index_on=None,
            status=Job.Status.OPEN,
            visits__starts_at__date__gte=first,
            visits__starts_at__date__lte=reported_on,
            visits__status__in=("confirmed", "en_route", "on_site", "closed"),
        )
        return (
            self.filter(handed_over | not_told, kind__in=Job.INDEX_KINDS, train=train)
            .exclude(status=Job.Status.CANCELLED)
            .distinct()
            .order_by(F("index_on").desc(nulls_first=True), "-pk")
        )


class Job(models.Model):
    """A piece of work at a site; done in one or several visits."""

    class Kind(models.TextChoices):
        SURVEY = "survey", "Survey and water test"
        SAMPLE = "sample", "Sample"
        INSTALL = "install", "Installation"
        DISINFECT = "disinfect", "Disinfection of well and plumbing"
        STARTUP = "startup", "Start-up"
        RECHECK = "recheck", "Recheck of the oxidant setting"
        INTERVAL = "interval", "Recheck of the backwash or regeneration interval"
        REFILL = "refill", "Refill"
        SERVICE = "service", "Service"
        REBED = "rebed", "New media"
        REPAIR = "repair", "Repair"
        CALLBACK = "callback", "Callback"
        REMOVAL = "removal", "Removal"
        OTHER = "other", "Other"

    #: where there is no room for the whole name
    SHORT_KINDS: ClassVar[dict[str, str]] = {
        Kind.SURVEY: "Survey",
        Kind.DISINFECT: "Disinfection",
        Kind.RECHECK: "Recheck",
        Kind.INTERVAL: "Interval",
    }

    class Status(models.TextChoices):
        OPEN = "open", "open"
        COMPLETED = "completed", "completed"
        CANCELLED = "cancelled", "cancelled"

    class CallbackAnswer(models.TextChoices):
        NOT_ASKED = "", "not asked"
        YES = "yes", "a callback"
        NO = "no", "not a callback"
        NOT_SURE = "not_sure", "not sure"

    class Cause(models.TextChoices):
        """Group and cause; the group letter decides what counts."""

        A_LEAK = "A_leak", "leak at a joint"
        A_DRAIN = "A_drain", "drain or air gap"
        A_INJECTION = "A_injection", "injection point"
        A_WIRING = "A_wiring", "dosing pump wiring or switching"
        A_MISSED = "A_missed", "a check was missed"
        A_DEBRIS = "A_debris", "debris in a valve"
        A_BYPASS = "A_bypass", "bypass left wrong"
        B_HIGH = "B_high", "oxidant set too high"
        B_LOW = "B_low", "oxidant set too low"
        B_INTERVAL = "B_interval", "interval set wrong"
        B_CLOCK = "B_clock", "clock or program wrong"
        C_BACKWASH = "C_backwash", "backwash flow not available"
        C_SIZE = "C_size", "bed or contact tank too small"
        C_MEDIUM = "C_medium", "wrong medium or missing part"
        D_TEST = "D_test", "wrong or missing water test"
        E_EQUIPMENT = "E_equipment", "equipment failed"
        F_RAN_OUT = "F_ran_out", "solution or salt ran out"
        F_WEAK = "F_weak", "weak or wrong solution"
        G_SOURCE = "G_source", "the well or its water changed"
        H_HOUSE = "H_house", "house plumbing or heater"
        I_CUSTOMER = "I_customer", "changed by the customer or others"
        J_EXPLAIN = "J_explain", "needed explaining"
        K_NO_FAULT = "K_no_fault", "no fault found"
        L_UNKNOWN = "L_unknown", "not known"

    class Charge(models.TextChoices):
        BILLABLE = "billable", "billable"
        WARRANTY = "warranty", "warranty"
        GOODWILL = "goodwill", "no charge"

    INDEX_KINDS = (Kind.STARTUP, Kind.REBED, Kind.REPAIR, Kind.SERVICE)
    WORKMANSHIP_GROUPS = ("A", "B")
    #: nothing is charged for these
    NOT_CHARGED = (Charge.WARRANTY, Charge.GOODWILL)
    #: the longest window of the report: so far back a report may come from
    ORIGIN_DAYS = 365

    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    train = models.ForeignKey(
        Train, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    customer = models.ForeignKey(
        Customer, on_delete=models.PROTECT, null=True, blank=True, related_name="jobs"
    )
    kind = models.CharField(max_length=10, choices=Kind)
    status = models.CharField(max_length=10, choices=Status, default=Status.OPEN)
    symptom = models.TextField("what the customer says", blank=True)
    reported_on = models.DateField("day the customer reported")
    opened_at = models.DateTimeField()
    opened_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, related_name="+"
    )
    completed_at = models.DateTimeField(null=True, blank=True)
    #: the day treated water was handed to the house by this job; the callback clock starts here
    index_on = models.DateField(null=True, blank=True)
    installer = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    callback_answer = models.CharField(
        max_length=10, choices=CallbackAnswer, default=CallbackAnswer.NOT_ASKED, blank=True
    )
    origin = models.ForeignKey(
        "self", on_delete=models.PROTECT, null=True, blank=True, related_name="callbacks"
    )
    planned = models.BooleanField("made by a follow-up", default=False)
    cause = models.CharField(max_length=14, choices=Cause, blank=True)
    cause_note = models.CharField(max_length=300, blank=True)
    cause_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    cause_reviewed_at = models.DateTimeField(null=True, blank=True)
    cause_reviewed_by = models.ForeignKey(
        settings.AUTH_USER_MODEL, on_delete=models.PROTECT, null=True, blank=True, related_name="+"
    )
    recheck_missed = models.BooleanField("recheck was overdue at the report", default=False)
    defect_found = models.BooleanField("defect found at a planned visit", default=False)
    charge_kind = models.CharField(
        "what is charged", max_length=10, choices=Charge, default=Charge.BILLABLE
    )
    charge_note = models.CharField("why nothing is charged", max_length=200, blank=True)
    #: billed, or given away: what it would have come to
    cost_cents = models.PositiveIntegerField("amount, cents", null=True, blank=True)
    invoice_ref = models.CharField("reference of the invoice", max_length=40, blank=True)

    objects = JobQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["-opened_at", "-pk"]
        constraints = [
            models.CheckConstraint(
                name="job_completed_iff_dated",
                condition=Q(status="completed", completed_at__isnull=False)
                | (~Q(status="completed") & Q(completed_at=None)),
            ),
            models.CheckConstraint(
                name="job_invoice_only_where_charged",
                condition=Q(invoice_ref="") | Q(charge_kind="billable"),
            ),
            models.CheckConstraint(
                name="job_origin_not_itself", condition=Q(origin=None) | ~Q(origin=F("pk"))
            ),
            models.CheckConstraint(
                name="job_origin_only_for_callbacks",
                condition=Q(origin=None) | Q(callback_answer__in=["yes", "not_sure"]),
            ),
        ]
        indexes = [
            models.Index(fields=["train", "kind", "index_on"], name="job_origin_search"),
            models.Index(fields=["installer", "index_on"], name="job_installer_index"),
            models.Index(fields=["site", "-opened_at"], name="job_site"),
            models.Index(
                fields=["index_on"], name="job_index_day", condition=Q(index_on__isnull=False)
            ),
            models.Index(fields=["id"], name="job_open", condition=Q(status="open")),
            # rare rows that the callback report asks for at every job
            models.Index(
                fields=["origin", "reported_on"],
                name="job_callbacks",
                condition=Q(origin__isnull=False),
            ),
            models.Index(fields=["train"], name="job_defects", condition=Q(defect_found=True)),
            models.Index(
                fields=["completed_at"],
                name="job_not_billed",
                condition=Q(status="completed", charge_kind="billable", invoice_ref=""),
            ),
            models.Index(
                fields=["completed_at"],
                name="job_not_charged",
                condition=Q(status="completed", charge_kind__in=["warranty", "goodwill"]),
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} at {self.site}"

    @property
    def short_kind(self) -> str:
        return self.SHORT_KINDS.get(self.kind) or self.get_kind_display()

    @property
    def cause_group(self) -> str:
        return self.cause[:1]
