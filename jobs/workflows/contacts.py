"""Contacts of a house: who is told what there, who pays, who has a key."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.models import User
from django.db import transaction

from equipment.models import Site
from jobs.errors import BadEntry
from jobs.mail.about import visit_confirmation
from jobs.mail.recipients import told_of_visit
from jobs.models import SiteTenure, Visit
from jobs.models.company import company_day

from .edits import save_edited
from .log import log


@transaction.atomic
def add_contact(*, tenure: SiteTenure, by: User, now: datetime) -> int:
    """Somebody joins the house. How many letters about visits ahead are written to them."""
    others = _others(tenure)
    if tenure.from_on > company_day(now):
        raise BadEntry("The day lies ahead: note it when it has come.", field="from_on")
    _check_part(tenure, others)
    if tenure.customer._state.adding:
        tenure.customer.save()
        log(verb="created", subject=tenure.customer, by=by, now=now)
        tenure.customer = tenure.customer  # its number is known now
    if not any(row.is_contact for row in others):
        tenure.is_contact = True  # somebody is called first
    make_room(tenure, others)
    tenure.save()
    log(verb="began", subject=tenure, by=by, now=now, site=tenure.site)
    return tell_of_coming(tenure, now=now)


@transaction.atomic
def change_contact(*, tenure: SiteTenure, version: int, by: User, now: datetime) -> int:
    """Another part, told other things. How many letters about visits ahead are written to them."""
    others = _others(tenure)
    kept = SiteTenure.objects.select_for_update().get(pk=tenure.pk)
    if kept.until_on:
        raise BadEntry("This contact has ended: add the person anew.")
    if kept.is_contact and not tenure.is_contact:
        raise BadEntry(
            "Somebody is called first. Tick it at the person who is, and it moves there.",
            field="is_contact",
        )
    _check_part(tenure, others)
    make_room(tenure, others)
    save_edited(row=tenure, version=version, by=by, now=now, site=tenure.site)
    return 0 if kept.hears_visits else tell_of_coming(tenure, now=now)


@transaction.atomic
def end_contact(*, tenure: SiteTenure, on: date, by: User, now: datetime) -> SiteTenure:
    """No contact of this house from that day. Letters that wait for them do not leave."""
    tenure = SiteTenure.objects.select_for_update().get(pk=tenure.pk)
    if tenure.until_on:
        return tenure
    if on > company_day(now):
        raise BadEntry("The day lies ahead: end it when it has come.", field="on")
    if on < tenure.from_on:
        raise BadEntry(
            f"{tenure.customer} is a contact since {tenure.from_on:%-d %B %Y}: choose that day or "
            "a later one.",
            field="on",
        )
    if tenure.is_contact and _others(tenure):
        raise BadEntry("Say first who is called instead: tick it at another contact.", field="on")
    tenure.until_on, tenure.is_contact, tenure.pays = on, False, False
    tenure.version += 1
    tenure.save()
    log(verb="ended", subject=tenure, by=by, now=now, site=tenure.site)
    return tenure


def make_room(tenure: SiteTenure, others: list[SiteTenure]) -> None:
    """One is called first and one pays: it moves here. Who was called first stays told."""
    for row in others:
        moved = False
        if tenure.is_contact and row.is_contact:
            row.is_contact, row.told_visits, moved = False, True, True
        if tenure.pays and row.pays:
            row.pays, moved = False, True
        if moved:
            row.version += 1
            row.save()


def tell_of_coming(tenure: SiteTenure, *, now: datetime) -> int:
    """Who is told of visits from now on gets a letter for each firm one ahead, nobody else."""
    ahead = Visit.objects.filter(
        job__site=tenure.site, status=Visit.Status.CONFIRMED, arrive_from__gt=now
    )
    written = 0
    for visit in ahead.with_job():
        others = {each.pk for each in told_of_visit(visit).people} - {tenure.customer_id}
        written += visit_confirmation.write(visit=visit, now=now, besides=others) is not None
    return written


def _others(tenure: SiteTenure) -> list[SiteTenure]:
    Site.objects.select_for_update().get(pk=tenure.site_id)  # two at once stand in a row
    rows = SiteTenure.objects.open().filter(site=tenure.site_id).exclude(pk=tenure.pk)
    return list(rows.select_related("customer"))


def _check_part(tenure: SiteTenure, others: list[SiteTenure]) -> None:
    for row in others:
        if row.customer_id == tenure.customer_id and row.part == tenure.part:
            said = f"{row.customer} is noted as {row.get_part_display()} of this house already."
            raise BadEntry(said, field="part")
