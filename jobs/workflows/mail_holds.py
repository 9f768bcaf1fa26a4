"""Mail that is kept back until a person says that it may go, and what becomes of what is in doubt.

Where the server breaks off after it was given a message, nobody knows whether the recipient has it.
Three such ends in a row are no chance: mail to customers stops, so that three messages are in doubt
and not sixty. A message to staff, which may arrive twice, tries the way again now and then.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import F, Q, QuerySet

from jobs.access import has_role
from jobs.errors import NotAllowed, WrongState
from jobs.mail.about import OPENING_AN_ACCOUNT
from jobs.models import MailHold, OutboxMail

from . import messages
from .log import log

DOUBTS_BEFORE_STOP = 3
#: between two tries with a message to staff
TRY_PAUSE = timedelta(minutes=15)

Kind, State = MailHold.Kind, OutboxMail.State


@dataclass(frozen=True)
class Settled:
    """What one act for many did."""

    done: int
    too_late: int = 0


def may_leave(rows: QuerySet[OutboxMail], *, now: datetime) -> QuerySet[OutboxMail]:
    """Of these rows, those that no hold keeps back."""
    for hold in MailHold.objects.holding():
        if hold.kind == Kind.RESTORED:
            rows = rows.filter(template__in=OPENING_AN_ACCOUNT, created_at__gte=hold.begun_at)
        elif hold.try_again_at and now < hold.try_again_at <= now + TRY_PAUSE:
            return rows.none()
        else:
            rows = rows.filter(mail_class=OutboxMail.MailClass.STAFF)
    return rows


def note_doubt(*, now: datetime) -> MailHold:
    """One more message went out without an answer; the third in a row keeps the others back."""
    hold, _ = MailHold.objects.get_or_create(
        kind=Kind.DOUBT, ended_at=None, defaults={"begun_at": now}
    )
    row = MailHold.objects.filter(pk=hold.pk)
    row.update(doubts=F("doubts") + 1)
    row.filter(doubts__gte=DOUBTS_BEFORE_STOP).update(try_again_at=now + TRY_PAUSE)
    row.filter(doubts__gte=DOUBTS_BEFORE_STOP, held_at=None).update(held_at=now)
    return hold


def note_certainty(*, now: datetime) -> None:
    """The server took a message and said so: the row of doubts is over."""
    MailHold.objects.standing().filter(kind=Kind.DOUBT).update(ended_at=now)


def hold_after_restore(*, now: datetime) -> MailHold:
    """Nothing written before now leaves, nor anything that is written by itself from now on."""
    hold, _ = MailHold.objects.get_or_create(
        kind=Kind.RESTORED, ended_at=None, defaults={"begun_at": now, "held_at": now}
    )
    return hold


def kept_back(hold: MailHold) -> QuerySet[OutboxMail]:
    """What waits because of this hold."""
    waiting = OutboxMail.objects.filter(state=State.QUEUED)
    if hold.kind == Kind.DOUBT:
        return waiting.filter(mail_class=OutboxMail.MailClass.CUSTOMER)
    return waiting.exclude(Q(template__in=OPENING_AN_ACCOUNT) & Q(created_at__gte=hold.begun_at))


def in_doubt(hold: MailHold) -> QuerySet[OutboxMail]:
    return hold.mails.filter(state=State.UNKNOWN, seen_at=None)


@transaction.atomic
def release(*, hold: MailHold, by: User, now: datetime) -> MailHold:
    """Mail goes out again. After a restore the owner decides, and what waits goes out too."""
    hold = _standing(hold, by)
    hold.ended_at, hold.ended_by = now, by
    hold.save(update_fields=["ended_at", "ended_by"])
    log(verb="mail_released", subject=hold, by=by, now=now)
    return hold


@transaction.atomic
def drop_kept_back(*, hold: MailHold, by: User, now: datetime) -> Settled:
    """What waits since a restore went out before it, says a name; then mail goes out again."""
    hold = _standing(hold, by)
    if hold.kind != Kind.RESTORED:
        raise WrongState("Nothing of this was sent before: it waits for its first sending.")
    dropped = kept_back(hold).update(
        state=State.SKIPPED, last_error=f"Had left before the restore, says {by.get_username()}."
    )
    release(hold=hold, by=by, now=now)
    return Settled(dropped)


@transaction.atomic
def send_all_again(*, hold: MailHold, by: User, now: datetime) -> Settled:
    """Every message of the outage of which nobody knows; those whose time has passed stay."""
    rows = list(in_doubt(hold).select_related("customer"))
    useful = [mail for mail in rows if mail.useful_until > now]
    for mail in useful:
        messages.send_again(mail=mail, by=by, now=now)
    return Settled(len(useful), too_late=len(rows) - len(useful))


@transaction.atomic
def all_arrived(*, hold: MailHold, by: User, now: datetime) -> Settled:
    """The mail server's own list, or the recipients, say that they have them."""
    rows = list(in_doubt(hold))
    for mail in rows:
        messages.arrived(mail=mail, by=by, now=now)
    return Settled(len(rows))


def _standing(hold: MailHold, by: User) -> MailHold:
    row = MailHold.objects.select_for_update(of=("self",)).get(pk=hold.pk)
    if row.ended_at:
        raise WrongState("Mail goes out again already.")
    if row.kind == Kind.RESTORED and not has_role(by, "owner"):
        raise NotAllowed("After a restore the owner decides what goes out.")
    return row
