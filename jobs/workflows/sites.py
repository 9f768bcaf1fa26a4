"""Customers, houses and who holds them."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import models, transaction

from equipment.models import Site, SpecialUse
from jobs.errors import BadEntry
from jobs.models import Customer, FollowUpRule, Job, LossFact, OutboxMail, SiteTenure
from jobs.models.company import company_day

from . import facts, follow_ups
from .contacts import make_room, tell_of_coming
from .edits import save_edited
from .log import log


@transaction.atomic
def create_customer(*, customer: Customer, by: User, now: datetime) -> Customer:
    """A person or body we deal with from now on."""
    customer.save()
    log(verb="created", subject=customer, by=by, now=now)
    return customer


@transaction.atomic
def edit_customer(*, customer: Customer, version: int, by: User, now: datetime) -> Customer:
    """Keep an edited customer; a new mail address has not been refused yet."""
    kept = Customer.objects.filter(pk=customer.pk).values_list("email", flat=True).first()
    if customer.email != kept:
        customer.mail_state = Customer.MailState.UNPROVEN
    save_edited(row=customer, version=version, by=by, now=now)
    return customer


@transaction.atomic
def create_site(
    *,
    site: Site,
    by: User,
    now: datetime,
    holder: Customer | None = None,
    part: str = SiteTenure.Part.OWNER,
    from_on: date | None = None,
) -> Site:
    """A house with its own water, and who holds it from which day."""
    site.save()
    log(verb="created", subject=site, by=by, now=now, site=site)
    if holder:
        if holder._state.adding:
            create_customer(customer=holder, by=by, now=now)
        begin_tenure(
            site=site,
            customer=holder,
            part=part,
            from_on=from_on or company_day(now),
            by=by,
            now=now,
        )
    return site


@transaction.atomic
def begin_tenure(
    *,
    site: Site,
    customer: Customer,
    from_on: date,
    by: User,
    now: datetime,
    part: str = SiteTenure.Part.OWNER,
    is_contact: bool = True,
) -> SiteTenure:
    """Somebody joins the house; being called first moves to the newest one who is."""
    tenure = SiteTenure(
        site=site, customer=customer, part=part, is_contact=is_contact, from_on=from_on
    )
    _follow_on(tenure, by=by, now=now)
    make_room(tenure, list(SiteTenure.objects.open().filter(site=site)))
    tenure.save()
    log(verb="began", subject=tenure, by=by, now=now, site=site, customer=customer.pk)
    return tenure


def _follow_on(tenure: SiteTenure, *, by: User, now: datetime) -> None:
    """Whoever held the house from the day it was lost on is our customer: it is followed on."""
    if tenure.part not in SiteTenure.OF_THE_HOUSE:
        return
    gone = LossFact.objects.standing().filter(site=tenure.site, how__in=LossFact.HOUSE_GONE)
    for row in gone.filter(day__gte=tenure.from_on):
        facts.follow_on(row=row, reason="the buyer is our customer", by=by, now=now)


class Buyer(models.TextChoices):
    """Who holds a house after it changed hands."""

    OURS = "ours", "our customer"
    NOT_OURS = "not_ours", "not our customer"
    UNKNOWN = "unknown", "nobody knows"


@transaction.atomic
def change_hands(
    *,
    site: Site,
    customer: Customer | None,
    on: date,
    by: User,
    now: datetime,
    part: str = SiteTenure.Part.OWNER,
    ending: list[SiteTenure] | None = None,
    buyer: str = Buyer.OURS,
) -> SiteTenure | None:
    """The house is sold or let anew: old holders end, mail to them stops, the new one begins.

    None begins where the new holder is not our customer, or where nobody knows.
    """
    if on > company_day(now):
        raise BadEntry(
            "The day lies ahead: come back when the house has changed hands.", field="on"
        )
    if (buyer == Buyer.OURS) != (customer is not None) or buyer not in Buyer.values:
        raise BadEntry("Say who holds the house now.", field="buyer")
    tenures = SiteTenure.objects.select_for_update().filter(site=site, until_on=None)
    leaving = [row for row in tenures if ending is None or row in ending]
    _end(leaving, customer, part, on=on)
    for row in leaving:
        log(verb="ended", subject=row, by=by, now=now, site=site, customer=row.customer_id)
    if customer and customer._state.adding:
        create_customer(customer=customer, by=by, now=now)
    _stop_mail(site, [row.customer_id for row in leaving], customer)
    if customer is None:
        _lose(site, leaving, buyer, on=on, by=by, now=now)
        return None
    begun = begin_tenure(site=site, customer=customer, part=part, from_on=on, by=by, now=now)
    tell_of_coming(begun, now=now)
    follow_ups.happened(
        event=FollowUpRule.Event.OCCUPANT_CHANGED,
        about=follow_ups.About(site),
        day=on,
        by=by,
        now=now,
    )
    return begun


def _end(leaving: list[SiteTenure], customer: Customer | None, part: str, *, on: date) -> None:
    for row in leaving:
        if customer and row.customer_id == customer.pk and row.part == part:
            raise BadEntry("This customer holds the house already.", field="customer")
        if row.from_on > on:
            raise BadEntry(
                f"{row.customer} holds the house since {row.from_on:%-d %B %Y}: "
                "choose that day or a later one.",
                field="on",
            )
        row.until_on, row.is_contact, row.pays = on, False, False
        row.save()


def _lose(
    site: Site, leaving: list[SiteTenure], buyer: str, *, on: date, by: User, now: datetime
) -> None:
    """Nobody is left who would call us; an owner who stays still would."""
    if not leaving:
        raise BadEntry("Tick who leaves.", field="ending")
    staying = SiteTenure.objects.open().filter(site=site, part__in=SiteTenure.OF_THE_HOUSE)
    if staying.exists():
        return
    facts.lose(
        of=site,
        how=LossFact.How.CUSTOMER_GONE,
        day=on,
        reason=f"changed hands: {Buyer(buyer).label}",
        by=by,
        now=now,
    )


def _stop_mail(site: Site, former: list[int], customer: Customer | None) -> None:
    """What was promised on this house now concerns the new holder; unsent letters are dropped."""
    Job.objects.open().at_site(site).filter(customer__in=former).update(customer=customer)
    OutboxMail.objects.filter(
        mail_class=OutboxMail.MailClass.CUSTOMER,
        state=OutboxMail.State.QUEUED,
        customer__in=former,
        visit__job__site=site,
    ).update(state=OutboxMail.State.SKIPPED, last_error="the house changed hands")


@transaction.atomic
def note_special_use(*, use: SpecialUse, by: User, now: datetime) -> SpecialUse:
    """A use of the water that disinfection or an oxidant could harm."""
    standing = SpecialUse.objects.filter(site=use.site, kind=use.kind, ended_on=None)
    if use._state.adding and standing.exists():
        raise BadEntry(
            f"{use.get_kind_display().capitalize()} is noted for this house already.", field="kind"
        )
    use.save()
    log(verb="noted", subject=use, by=by, now=now, site=use.site, kind=use.kind)
    return use


@transaction.atomic
def end_special_use(*, use: SpecialUse, on: date, by: User, now: datetime) -> SpecialUse:
    if on < use.noted_on:
        raise BadEntry("It cannot end before it was noted.", field="ended_on")
    use.ended_on = on
    use.save()
    log(verb="ended", subject=use, by=by, now=now, site=use.site, kind=use.kind)
    return use


__all__ = [
    "Buyer",
    "begin_tenure",
    "change_hands",
    "create_customer",
    "create_site",
    "end_special_use",
    "note_special_use",
]
