from __future__ import annotations

from collections.abc import Collection
from datetime import date
from typing import Any

from django.db import models
from django.db.models import F, Q
from phonenumber_field.modelfields import PhoneNumberField
from phonenumber_field.phonenumber import PhoneNumber
from simple_history.models import HistoricalRecords

from equipment.models import Site


class CustomerQuerySet(models.QuerySet["Customer"]):
    def at_site(self, site: Site, *, on: date) -> CustomerQuerySet:
        return self.filter(pk__in=SiteTenure.objects.at(on).filter(site=site).values("customer"))


class Customer(models.Model):
    """A person or body we deal with. Houses are held through SiteTenure."""

    class Kind(models.TextChoices):
        PERSON = "person", "person"
        COMPANY = "company", "company"
        LANDLORD = "landlord", "landlord"

    class MailState(models.TextChoices):
        UNPROVEN = "unproven", "not tried yet"
        ARRIVES = "arrives", "mail arrives"
        REFUSED = "refused", "mail is refused"

    kind = models.CharField(max_length=10, choices=Kind, default=Kind.PERSON)
    name = models.CharField(max_length=120)
    phone = PhoneNumberField(region="US", blank=True)
    phone_2 = PhoneNumberField("other phone", region="US", blank=True)
    #: digits as typed, so that local numbers are found too
    phone_digits = models.CharField(max_length=60, blank=True, editable=False, db_index=True)
    email = models.EmailField(blank=True)
    mail_wanted = models.BooleanField("wants mail about visits", default=True)
    mail_state = models.CharField(
        max_length=10, choices=MailState, default=MailState.UNPROVEN, editable=False
    )
    notes = models.TextField(blank=True)
    version = models.PositiveIntegerField(default=1, editable=False)

    objects = CustomerQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["name", "pk"]

    def __str__(self) -> str:
        return self.name

    def save(self, *args: Any, **kwargs: Any) -> None:
        numbers = (str(number) for number in (self.phone, self.phone_2) if number)
        self.phone_digits = " ".join("".join(filter(str.isdigit, number)) for number in numbers)
        super().save(*args, **kwargs)

    @property
    def phones(self) -> list[PhoneNumber]:
        """Numbers on file, the usual one first."""
        return [number for number in (self.phone, self.phone_2) if number]

    @property
    def mail_words(self) -> str:
        """Whether a letter reaches them."""
        if not self.email:
            return "no mail address: needs a call"
        if not self.mail_wanted:
            return "wants no mail: needs a call"
        if self.mail_state == self.MailState.REFUSED:
            return "mail is refused: needs a call"
        return f"by mail: {self.email}"

    @property
    def can_be_mailed(self) -> bool:
        return bool(self.email) and self.mail_wanted and self.mail_state != self.MailState.REFUSED


class SiteTenureQuerySet(models.QuerySet["SiteTenure"]):
    def at(self, day: date) -> SiteTenureQuerySet:
        return self.filter(Q(from_on__lte=day), Q(until_on=None) | Q(until_on__gt=day))

    def of_site(self, site: Site | int) -> SiteTenureQuerySet:
        return self.filter(site=site).select_related("customer").order_by("-from_on", "-pk")

    def to_call(self, site: Site | int) -> SiteTenureQuerySet:
        """Contacts of a house, who is called first at the head."""
        return self.of_site(site).order_by("-is_contact", "from_on", "pk")

    def contacts(self, sites: Collection[int], day: date) -> dict[int, Customer]:
        """Who is called at each house on that day, in one query."""
        rows = self.at(day).filter(site__in=sites).select_related("customer")
        return {row.site_id: row.customer for row in rows.order_by("is_contact", "from_on")}

    def open(self) -> SiteTenureQuerySet:
        """Contacts of today; none ends on a day that lies ahead."""
        return self.filter(until_on=None)

    def told_of_visits(self) -> SiteTenureQuerySet:
        """The contact, and who else is told day, hours and person."""
        return self.filter(TOLD_OF_VISITS)

    def told_of_water(self) -> SiteTenureQuerySet:
        """Whoever owns the house or lives there, the contact, and who else asked for it."""
        return self.filter(TOLD_OF_WATER)


class SiteTenure(models.Model):
    """A contact of a house: in which part, from when to when, told what; who pays, who has a key.

    The one who is called first (`is_contact`) is always told of visits. Whoever owns the house or
    lives there is always told of its water: nobody can untick that.
    """

    class Part(models.TextChoices):
        OWNER = "owner", "owner"
        TENANT = "tenant", "tenant"
        CARETAKER = "caretaker", "manager"
        BUILDER = "builder", "builder"
        NEIGHBOUR = "neighbour", "neighbour"
        PAYER = "payer", "pays the bill"

    #: these own the house or live there
    OF_THE_HOUSE = (Part.OWNER, Part.TENANT)

    customer = models.ForeignKey(Customer, on_delete=models.PROTECT, related_name="tenures")
    site = models.ForeignKey(Site, on_delete=models.PROTECT, related_name="+")
    part = models.CharField(max_length=10, choices=Part, default=Part.OWNER)
    is_contact = models.BooleanField("is called and mailed about visits", default=True)
    told_visits = models.BooleanField("is told of visits as well", default=False)
    told_water = models.BooleanField("is told of notices and results as well", default=False)
    pays = models.BooleanField("pays, and gets the invoices", default=False)
    has_key = models.BooleanField("has a key", default=False)
    version = models.PositiveIntegerField(default=1, editable=False)
    from_on = models.DateField()
    until_on = models.DateField(null=True, blank=True)

    objects = SiteTenureQuerySet.as_manager()
    history = HistoricalRecords()

    class Meta:
        ordering = ["-from_on", "-pk"]
        constraints = [
            models.UniqueConstraint(
                name="tenure_one_contact_open",
                fields=["site"],
                condition=Q(until_on=None, is_contact=True),
            ),
            models.UniqueConstraint(
                name="tenure_one_payer_open",
                fields=["site"],
                condition=Q(until_on=None, pays=True),
            ),
            models.CheckConstraint(
                name="tenure_until_after_from",
                condition=Q(until_on=None) | Q(until_on__gte=F("from_on")),
            ),
        ]
        indexes = [
            models.Index(
                fields=["site", "until_on"],
                name="tenure_ended",
                condition=Q(until_on__isnull=False),
            )
        ]

    def __str__(self) -> str:
        return f"{self.customer}, {self.get_part_display()} of {self.site}"

    @property
    def hears_visits(self) -> bool:
        return self.is_contact or self.told_visits

    @property
    def hears_water(self) -> bool:
        return self.is_contact or self.told_water or self.part in self.OF_THE_HOUSE

    @property
    def told(self) -> list[str]:
        """What this contact is told and does, in words; empty for one who is only noted."""
        found = {
            "called first": self.is_contact,
            "told of visits": self.hears_visits,
            "told of notices and results": self.hears_water,
            "pays": self.pays,
            "has a key": self.has_key,
        }
        return [word for word, is_so in found.items() if is_so]


TOLD_OF_VISITS = Q(is_contact=True) | Q(told_visits=True)
TOLD_OF_WATER = Q(is_contact=True) | Q(told_water=True) | Q(part__in=SiteTenure.OF_THE_HOUSE)
