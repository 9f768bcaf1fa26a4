"""Accounts of the staff: made, changed, closed and opened again by the owner."""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Iterable
from dataclasses import dataclass, fields
from datetime import datetime

from django.contrib.auth.models import Group, User
from django.db import transaction
from phonenumber_field.phonenumber import PhoneNumber

from jobs.access import ROLES
from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.mail.about import account_invitation, password_reset
from jobs.models import StaffProfile, Visit

from .log import log


@dataclass(frozen=True)
class Person:
    """Names, address and roles of somebody who works here."""

    email: str
    roles: Collection[str]
    first_name: str = ""
    last_name: str = ""
    phone: PhoneNumber | str = ""

    def said(self) -> dict[str, str]:
        """Each fact in words, by its name."""
        shown = {name: getattr(self, name) for name in (field.name for field in fields(self))}
        shown["roles"] = ", ".join(sorted(self.roles))
        return {name: "" if value is None else str(value) for name, value in shown.items()}

    @property
    def stamp(self) -> str:
        """What a page that shows it was opened at."""
        return hashlib.sha256(repr(self.said()).encode()).hexdigest()[:16]


def person_of(user: User) -> Person:
    """As it is kept now."""
    profile = StaffProfile.objects.filter(user=user).first() or StaffProfile(user=user)
    return Person(
        email=user.email,
        roles=set(user.groups.values_list("name", flat=True)) & set(ROLES),
        first_name=user.first_name,
        last_name=user.last_name,
        phone=profile.phone,
    )


@transaction.atomic
def add_person(*, username: str, person: Person, by: User | None, now: datetime) -> User:
    """An account without a password, and the letter with a link to choose one."""
    _check_names(username, person.email, besides=None)
    user = User(username=username, date_joined=now)
    user.set_unusable_password()
    _write(user, person)
    log(verb="added", subject=user, by=by, now=now, roles=sorted(person.roles))
    account_invitation.write(user=user, now=now)
    return user


@transaction.atomic
def change_person(
    *, user: User, person: Person, by: User, now: datetime, seen: str | None = None
) -> User:
    """Everything but the name to sign in with; one open owner always stays.

    `seen`: the stamp of what the page showed; the second of two savers is told.
    """
    wanted = set(person.roles)
    row = User.objects.select_for_update().get(pk=user.pk)
    if seen is not None:
        _refuse_if_changed(person, person_of(row), seen)
    _check_names(row.username, person.email, besides=row)
    if "owner" not in wanted:
        _must_leave_an_owner(row)
    before = person_of(row)
    _write(row, person)
    differ = _what_differs(before, person)
    is_in_roles = "roles" in differ
    log(
        verb="changed",
        subject=row,
        by=by,
        now=now,
        roles=sorted(wanted) if is_in_roles else [],
        before=sorted(before.roles) if is_in_roles else [],
        fields=[name for name in differ if name != "roles"],
    )
    return row


def _refuse_if_changed(ours: Person, kept: Person, seen: str) -> None:
    if kept.stamp == seen:
        return
    said = kept.said()
    raise EditedMeanwhile(
        "Somebody else saved this meanwhile. Look at both, then save again.",
        differences=[
            (name.replace("_", " ").capitalize(), typed, said[name])
            for name, typed in ours.said().items()
            if typed != said[name]
        ],
    )


def _what_differs(before: Person, after: Person) -> list[str]:
    """Names of the facts that differ: the log keeps no values of them."""
    was = before.said()
    return [name for name, value in after.said().items() if value != was[name]]


def _write(user: User, person: Person) -> None:
    user.email, user.first_name, user.last_name = person.email, person.first_name, person.last_name
    user.save()
    _set_roles(user, person.roles)
    profile, _ = StaffProfile.objects.get_or_create(user=user)
    profile.phone = person.phone
    profile.save()


@transaction.atomic
def close_account(*, user: User, by: User, now: datetime) -> User:
    """No more signing in; sessions end with the next click, links in mail are void."""
    row = User.objects.select_for_update().get(pk=user.pk)
    if row.pk == by.pk:
        raise WrongState("You cannot close your own account.")
    if not row.is_active:
        raise WrongState("This account is closed already.")
    _must_leave_an_owner(row)
    row.is_active = False
    row.set_unusable_password()  # what sessions and links were signed with
    row.save(update_fields=["is_active", "password"])
    log(verb="closed_account", subject=row, by=by, now=now)
    return row


@transaction.atomic
def open_account(*, user: User, by: User, now: datetime) -> User:
    """Open a closed account; the person chooses a new password by mail."""
    row = User.objects.select_for_update().get(pk=user.pk)
    if row.is_active:
        raise WrongState("This account is open.")
    row.is_active = True
    row.save(update_fields=["is_active"])
    log(verb="opened_account", subject=row, by=by, now=now)
    account_invitation.write(user=row, now=now)
    return row


@transaction.atomic
def send_link(*, user: User, by: User, now: datetime) -> None:
    """Another letter with a link: to begin, or for a new password."""
    if not user.is_active:
        raise WrongState("This account is closed: open it first.")
    if not user.email:
        raise BadEntry("There is no mail address to send it to.", field="email")
    if user.has_usable_password():
        written = password_reset.write(user=user, now=now)
    else:
        written = account_invitation.write(user=user, now=now)
    if written is None:
        raise WrongState("Several links went out today already: look at the messages.")
    log(verb="sent_link", subject=user, by=by, now=now)


def visits_to_come(user: User) -> int:
    return Visit.objects.to_come().of_technician(user).count()


def _check_names(username: str, email: str, *, besides: User | None) -> None:
    others = User.objects.exclude(pk=besides.pk) if besides else User.objects.all()
    if not username.strip():
        raise BadEntry("Choose a name to sign in with.", field="username")
    if others.filter(username__iexact=username).exists():
        raise BadEntry("Somebody has this name already: choose another.", field="username")
    if not email:
        raise BadEntry("A mail address is needed: the link goes there.", field="email")
    if others.filter(email__iexact=email).exists():
        raise BadEntry("Somebody has this mail address already.", field="email")


def _set_roles(user: User, roles: Iterable[str]) -> None:
    wanted = set(roles)
    if not wanted:
        raise BadEntry("Choose at least one role.", field="roles")
    if unknown := wanted - set(ROLES):
        raise BadEntry(
            f"{sorted(unknown)[0]} is no role; there are {', '.join(ROLES)}.", field="roles"
        )
    user.groups.set([Group.objects.get_or_create(name=role)[0] for role in sorted(wanted)])


def _must_leave_an_owner(user: User) -> None:
    """Somebody must be able to open accounts."""
    owners = User.objects.select_for_update(of=("self",)).filter(
        groups__name="owner", is_active=True
    )
    pks = {owner.pk for owner in owners}
    if pks == {user.pk}:
        raise WrongState("This is the only owner: make another person an owner first.")
