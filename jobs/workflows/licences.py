"""Licences and certificates: entered, renewed, corrected, left out of use and taken up again."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import Company, Skill
from jobs.models.company import company_day
from jobs.wording.licences import COMPANY_ITSELF
from jobs.wording.names import capital
from jobs.wording.names import person as name_of

from .edits import differences
from .owner_edits import save_owned, version_of
from .presence import lock_people
from .reasons import explained

#: an end farther ahead is a slip of the year; common practice, no source
LONGEST = timedelta(days=20 * 366)


@transaction.atomic
def enter_licence(
    *,
    person: User | None,
    name: str,
    expires_on: date | None,
    by: User,
    now: datetime,
    number: str = "",
) -> Skill:
    """What somebody holds; without a person it is the company's own."""
    name = " ".join(name.split())
    if not name:
        raise BadEntry("Name the licence, certificate or training.", field="name")
    _must_be_near(expires_on, now)
    if person:
        lock_people([person.pk])
    else:
        Company.objects.select_for_update().get(pk=Company.load().pk)
    if row := _of_that_name(person, name):
        holder = capital(name_of(person) or COMPANY_ITSELF)
        way_out = "take it into use again" if row.withdrawn_on else "renew or correct it"
        raise BadEntry(f"{holder} has “{row.name}” on file already: {way_out}.", field="name")
    row = Skill(person=person, name=name, number=number.strip(), expires_on=expires_on)
    save_owned(row=row, seen=0, by=by, now=now, verb="licence_entered")
    return row


def _of_that_name(person: User | None, name: str) -> Skill | None:
    rows = Skill.objects.filter(person=person)
    return next((row for row in rows if row.name.casefold() == name.casefold()), None)


@transaction.atomic
def renew_licence(
    *,
    licence: Skill,
    expires_on: date | None,
    number: str,
    by: User,
    now: datetime,
    seen: int | None = None,
) -> Skill:
    """The new paper is there: it ends later, and may have another number."""
    row = _in_use(licence)
    before = row.expires_on
    row.expires_on, row.number = expires_on, number.strip()
    _refuse_if_changed(row, seen)
    if before is None:
        raise WrongState("This one has no end day: correct it where it should have one.")
    if expires_on is None:
        raise BadEntry("Write the last day on which the renewed one holds.", field="expires_on")
    if expires_on <= before:
        raise BadEntry(
            f"It ends on {before:%-d %B %Y} as it is: a renewed one ends later. What was mistyped "
            "is corrected instead.",
            field="expires_on",
        )
    if expires_on < company_day(now):
        raise BadEntry("This day is over: enter the one that holds now.", field="expires_on")
    _must_be_near(expires_on, now)
    _save(row, "licence_renewed", by=by, now=now)
    return row


@transaction.atomic
def correct_licence(
    *,
    licence: Skill,
    expires_on: date | None,
    number: str,
    reason: str,
    by: User,
    now: datetime,
    seen: int | None = None,
) -> Skill:
    """Number or end were entered wrongly; the history keeps what stood there."""
    row = _in_use(licence)
    before = (row.expires_on, row.number)
    row.expires_on, row.number = expires_on, number.strip()
    _refuse_if_changed(row, seen)
    if before == (row.expires_on, row.number):
        raise BadEntry("This is what stands there already.", field="expires_on")
    _must_be_near(expires_on, now)
    _save(row, "licence_corrected", by=by, now=now, reason=explained(reason))
    return row


@transaction.atomic
def withdraw_licence(
    *, licence: Skill, reason: str, by: User, now: datetime, seen: int | None = None
) -> Skill:
    """Left out of use: it allows nothing from now on, and nobody is told of its end."""
    row = _in_use(licence)
    row.withdrawn_on = company_day(now)
    _refuse_if_changed(row, seen)
    _save(row, "licence_out_of_use", by=by, now=now, reason=explained(reason))
    return row


@transaction.atomic
def use_licence_again(
    *, licence: Skill, reason: str, by: User, now: datetime, seen: int | None = None
) -> Skill:
    """It was left out of use by mistake, or somebody works with it again."""
    row = _locked(licence)
    if row.withdrawn_on is None:
        raise WrongState("This one is in use.")
    row.withdrawn_on = None
    _refuse_if_changed(row, seen)
    _save(row, "licence_in_use_again", by=by, now=now, reason=explained(reason))
    return row


def _locked(licence: Skill) -> Skill:
    rows = Skill.objects.select_for_update(of=("self",)).select_related("person")
    return rows.get(pk=licence.pk)


def _in_use(licence: Skill) -> Skill:
    row = _locked(licence)
    if row.withdrawn_on:
        raise WrongState("This one is out of use: take it into use again first.")
    return row


def _refuse_if_changed(row: Skill, seen: int | None) -> None:
    """The second of two at once is told, before anything else is said of what was typed."""
    if seen is None or version_of(row) == seen:
        return
    kept = Skill.objects.get(pk=row.pk)
    raise EditedMeanwhile(
        "Somebody else saved this meanwhile. Look at both, then save again.",
        differences=differences(row, kept),
    )


def _must_be_near(expires_on: date | None, now: datetime) -> None:
    if expires_on and expires_on > company_day(now) + LONGEST:
        raise BadEntry("At most 20 years ahead: look at the year.", field="expires_on")


def _save(row: Skill, verb: str, *, by: User, now: datetime, reason: str = "") -> None:
    save_owned(row=row, seen=version_of(row), by=by, now=now, reason=reason, verb=verb)
