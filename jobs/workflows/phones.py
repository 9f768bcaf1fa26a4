"""Phones of technicians: heard of with each hello, lost, found again, told to forget everything."""

from __future__ import annotations

from datetime import datetime, timedelta
from uuid import UUID

from django.contrib.auth import SESSION_KEY
from django.contrib.auth.models import User
from django.contrib.sessions.models import Session
from django.db import transaction

from jobs.errors import WrongState
from jobs.models import Act, Phone

from .log import log

#: a phone that says the same again is not written down more often
NOT_SOONER = timedelta(minutes=1)


def heard(*, number: UUID, user: User, waiting: int, now: datetime) -> None:
    """Somebody signed in says hello from this phone, where so many entries wait."""
    row = Phone.objects.filter(number=number).first()
    if row and row.lost_at:
        return
    told = {"user": user, "heard_at": now, "waiting": waiting}
    if row is None:
        Phone.objects.get_or_create(number=number, defaults={**told, "first_heard_at": now})
    elif (row.user_id, row.waiting) != (user.pk, waiting) or now - row.heard_at >= NOT_SOONER:
        Phone.objects.filter(pk=row.pk).update(**told)


def must_forget(*, number: UUID, now: datetime) -> bool:
    """Whether this phone was reported lost; it is told so each time, by whomever it is held."""
    lost = Phone.objects.filter(number=number, lost_at__isnull=False)
    lost.filter(wiped_at=None).update(wiped_at=now)
    return lost.exists()


@transaction.atomic
def phone_lost(*, phone: Phone, by: User, session: str = "", now: datetime) -> Phone:
    """Its next hello makes it forget everything, and its person is signed out everywhere.

    `session`: that of whoever says so, which stays.
    """
    row = Phone.objects.select_for_update(of=("self",)).select_related("user").get(pk=phone.pk)
    if row.lost_at:
        return row
    row.lost_at, row.lost_by = now, by
    row.entries_lost = not_come(row)
    row.save()
    end_sessions(row.user, besides=session)
    log(verb="phone_lost", subject=row, by=by, now=now, person=row.user_id, lost=row.entries_lost)
    return row


@transaction.atomic
def phone_found(*, phone: Phone, by: User, now: datetime) -> Phone:
    """It turned up before it was told to forget: nothing on it is lost."""
    row = Phone.objects.select_for_update(of=("self",)).select_related("user").get(pk=phone.pk)
    if row.lost_at is None:
        return row
    if row.wiped_at:
        raise WrongState("This phone has forgotten everything already: sign in on it anew.")
    row.lost_at, row.lost_by, row.entries_lost = None, None, 0
    row.save()
    log(verb="phone_found", subject=row, by=by, now=now, person=row.user_id)
    return row


def not_come(phone: Phone) -> int:
    """Of the entries that waited when it was heard of last, those that did not come since."""
    came = Act.objects.filter(user=phone.user_id, received_at__gte=phone.heard_at)
    return max(0, phone.waiting - came.count())


def end_sessions(user: User, *, besides: str = "") -> None:
    """Whoever is signed in under this name anywhere is not with the next click."""
    for row in Session.objects.exclude(session_key=besides):
        if row.get_decoded().get(SESSION_KEY) == str(user.pk):
            row.delete()
