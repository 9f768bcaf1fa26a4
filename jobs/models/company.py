from __future__ import annotations

from datetime import date, datetime, time

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords


def company_day(now: datetime) -> date:
    """The company's calendar day of a moment."""
    return timezone.localdate(now)


class Company(models.Model):
    """The one row of editable values of this installation. Defaults are common practice."""

    name = models.CharField(max_length=80, default="Our company")
    street = models.CharField(max_length=120, blank=True)
    town = models.CharField(max_length=120, blank=True)
    phone = models.CharField(max_length=30, blank=True)
    emergency_phone = models.CharField(max_length=30, blank=True)
    #: one number for the whole country: HRSA, Poison Help (SEEN)
    poison_phone = models.CharField(
        "Poison Help", max_length=30, blank=True, default="1-800-222-1222"
    )
    email = models.EmailField(blank=True)
    licence_note = models.CharField(max_length=160, blank=True)
    contact_minimum_h = models.FloatField(
        "shortest contact time in a well, hours", default=12, validators=[MinValueValidator(8)]
    )
    shock_target_mg_l = models.FloatField(
        "chlorine aimed at in a well, mg/L",
        default=100,
        validators=[MinValueValidator(50), MaxValueValidator(200)],
    )
    flush_high_mg_l = models.FloatField("high-range reading after flushing below", default=10)
    flush_low_mg_l = models.FloatField("low-range reading after flushing at most", default=0.2)
    peroxide_limit_percent = models.FloatField("strongest peroxide on site", default=35)
    peroxide_low_mg_l = models.FloatField("peroxide after the contact tank, least", default=5)
    peroxide_high_mg_l = models.FloatField("peroxide after the contact tank, most", default=15)
    peroxide_iron_low_mg_l = models.FloatField("the same, iron only, least", default=2)
    peroxide_iron_high_mg_l = models.FloatField("the same, iron only, most", default=10)
    peroxide_after_carbon_mg_l = models.FloatField("peroxide after carbon below", default=0.5)
    chlorine_low_mg_l = models.FloatField(
        "free chlorine after the contact tank, least", default=0.5
    )
    chlorine_high_mg_l = models.FloatField("free chlorine after the contact tank, most", default=2)
    chlorine_after_carbon_mg_l = models.FloatField("free chlorine after carbon below", default=0.1)
    dose_swing_percent = models.FloatField(
        "dose of a dosing pump with a timer, largest swing from its mean",
        default=25,
        validators=[MinValueValidator(1), MaxValueValidator(100)],
    )
    no_use_above_mg_l = models.FloatField("no use of the water above", default=4)
    negatives_needed = models.PositiveSmallIntegerField(
        "negative samples that lift “do not drink”",
        default=2,
        validators=[MinValueValidator(1), MaxValueValidator(4)],
    )
    negatives_days_apart = models.PositiveSmallIntegerField("days between them", default=2)
    sample_wait_days = models.PositiveSmallIntegerField(
        "days of use between chlorine and a bacteria sample",
        default=5,
        validators=[MinValueValidator(2)],
    )
    ecoli_wait_days = models.PositiveSmallIntegerField(
        "after E. coli: days after the chlorine, and between samples",
        default=7,
        validators=[MinValueValidator(2)],
    )
    one_negative_is_enough = models.BooleanField(
        "the state accepts one negative where nothing was found for twelve months", default=False
    )
    retention_minimum_min = models.FloatField(
        "shortest time in the contact tank before the filter", default=10
    )
    iron_target_mg_l = models.FloatField("iron at the tap at most", default=0.3)
    refill_cap_days = models.PositiveSmallIntegerField("longest time between refills", default=180)
    mail_from_hour = models.PositiveSmallIntegerField("customer mail from", default=8)
    mail_until_hour = models.PositiveSmallIntegerField("customer mail until", default=18)
    work_from_hour = models.PositiveSmallIntegerField(default=7)
    work_until_hour = models.PositiveSmallIntegerField(default=17)
    #: both empty: no lunch is planned
    lunch_from = models.TimeField(null=True, blank=True, default=time(12))
    lunch_until = models.TimeField(null=True, blank=True, default=time(12, 30))
    #: between two towns that are not in the table of towns; common practice, no source
    drive_min = models.PositiveSmallIntegerField(
        "driving between two towns that are not in the table, minutes",
        default=20,
        validators=[MinValueValidator(1), MaxValueValidator(600)],
    )
    drive_in_town_min = models.PositiveSmallIntegerField(
        "driving between two houses of one town, minutes",
        default=10,
        validators=[MinValueValidator(1), MaxValueValidator(600)],
    )
    #: roads bend: less than is driven
    drive_mph = models.PositiveSmallIntegerField(
        "driving as the crow flies, miles an hour",
        default=25,
        validators=[MinValueValidator(1), MaxValueValidator(80)],
    )
    #: weekdays on which the laboratory takes samples, Monday 0 to Sunday 6
    laboratory_weekdays = models.CharField(
        "the laboratory takes samples on", max_length=7, default="01234"
    )
    laboratory_from = models.TimeField("takes samples from", default=time(8))
    laboratory_until = models.TimeField("takes samples until", default=time(16))
    laboratory_drive_min = models.PositiveSmallIntegerField(
        "from the tap to the laboratory, minutes",
        default=60,
        validators=[MinValueValidator(1), MaxValueValidator(600)],
    )
    owner_told_after_days = models.PositiveSmallIntegerField(default=28)
    #: common practice, no source
    licence_lead_days = models.PositiveSmallIntegerField(
        "days before a licence ends on which it is told",
        default=60,
        validators=[MinValueValidator(1), MaxValueValidator(366)],
    )
    callback_window_days = models.PositiveSmallIntegerField(default=90)
    #: earlier work was billed before references were kept here
    billed_from = models.DateField("invoices are kept from", null=True, blank=True)
    history = HistoricalRecords()

    class Meta:
        constraints = [
            models.CheckConstraint(name="company_one_row", condition=Q(pk=1)),
            models.CheckConstraint(
                name="company_contact_at_least_8_h", condition=Q(contact_minimum_h__gte=8)
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def address(self) -> str:
        """Street and town in one line, as far as they are known."""
        return ", ".join(part for part in (self.street, self.town) if part)

    @classmethod
    def load(cls) -> Company:
        return cls.objects.get_or_create(pk=1)[0]
