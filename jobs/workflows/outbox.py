"""Sends what is due: one row at a time, each step kept before the next is taken.

queued > claimed > sending > sent, or skipped, unknown, dead. Every write of the sender asks for
its own token, so that a sender which lost its lease changes nothing any more.
"""

from __future__ import annotations

import logging
import random
import secrets
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F, Q

from jobs.mail.about import OPENING_AN_ACCOUNT
from jobs.mail.fresh import NotNeeded, objection
from jobs.mail.letters import keep_rendered, letter_of
from jobs.mail.smtp import Answer, Postman, Verdict
from jobs.models import ChannelStop, Customer, OutboxMail

from . import mail_holds
from .log import log
from .telling import told_by_mail

LEASE = timedelta(seconds=180)
LONGEST_PASS = timedelta(seconds=50)
#: work on a row that never ends in an answer kills senders: no sixth try
MOST_STARTS = 5
BACK_OFF_MINUTES = (1, 5, 15, 30, 60)
JITTER = 0.2
#: after a server that does not answer, and after one that does not know us
NO_CONNECTION_PAUSE, TURNED_AWAY_PAUSE = timedelta(minutes=1), timedelta(minutes=5)
#: longer than any back-off and any night without mail
LONGEST_PAUSE = timedelta(hours=20)
CANDIDATES = 20

logger = logging.getLogger(__name__)
State = OutboxMail.State


def send_due(*, clock: Callable[[], datetime], asked_to_end: Callable[[], bool]) -> int:
    """One pass: until nothing is due, the server turns us away, 50 s are over, or we must end."""
    begun, handled = clock(), 0
    recover(now=begun)
    with closing(Postman()) as postman:
        while clock() - begun < LONGEST_PASS and not is_stopped(now=clock()):
            mail = None if asked_to_end() else claim(now=clock())
            if mail is None:
                break
            send_one(mail, postman=postman, clock=clock)
            handled += 1
    return handled


def recover(*, now: datetime) -> int:
    """Rows whose sender died: not handed over, sent again; perhaps handed over, by class.

    A second message to staff does no harm. Whether a customer has it is for a person to say.
    """
    _heal_times(now)
    late = OutboxMail.objects.filter(Q(lease_until__lt=now) | Q(lease_until__gt=now + LEASE))
    again = late.filter(state=State.CLAIMED).update(**_free(State.QUEUED))
    sending = late.filter(state=State.SENDING)
    again += sending.filter(mail_class=OutboxMail.MailClass.STAFF).update(**_free(State.QUEUED))
    doubt = sending.filter(mail_class=OutboxMail.MailClass.CUSTOMER).update(
        **_free(State.UNKNOWN), last_error="The sender stopped while it was being sent."
    )
    OutboxMail.objects.filter(state=State.QUEUED, starts__gte=MOST_STARTS).update(
        **_free(State.DEAD), last_error=f"{MOST_STARTS} tries ended without an answer."
    )
    return again + doubt


def _heal_times(now: datetime) -> None:
    """What a clock wrote that ran ahead and was set back: nothing of ours waits for so long.

    A message that was never tried may wait for a later hour.
    """
    OutboxMail.objects.filter(
        Q(deliveries__gt=0) | Q(starts__gt=0),
        state=State.QUEUED,
        not_before__gt=now + LONGEST_PAUSE,
    ).update(not_before=now)


def claim(*, now: datetime) -> OutboxMail | None:
    """Take the oldest due row. The row count says whether we or somebody else got it."""
    rows = mail_holds.may_leave(OutboxMail.objects.due(now), now=now)
    for pk in rows.values_list("pk", flat=True)[:CANDIDATES]:
        taken = OutboxMail.objects.filter(pk=pk, state=State.QUEUED, not_before__lte=now).update(
            state=State.CLAIMED,
            token=secrets.token_hex(16),
            lease_until=now + LEASE,
            starts=F("starts") + 1,
        )
        if taken:
            return OutboxMail.objects.select_related("customer", "visit__job__site").get(pk=pk)
    return None


def send_one(mail: OutboxMail, *, postman: Postman, clock: Callable[[], datetime]) -> None:
    """Render, look once more, say that it is being sent, send, say that it was sent."""
    try:
        keep_rendered(mail)
        against = objection(mail, now=clock())
    except Exception as error:  # a broken row must not hold up the others
        _put_back_broken(mail, error, now=clock())
        return
    if isinstance(against, NotNeeded):
        _write(mail, State.CLAIMED, **_free(State.SKIPPED), starts=0, last_error=against.reason)
    elif against:
        _write(mail, State.CLAIMED, **_free(State.QUEUED), starts=0, not_before=against.until)
    elif mark_sending(mail, now=clock()):
        settle(mail, postman.deliver(letter_of(mail)), now=clock())


def mark_sending(mail: OutboxMail, *, now: datetime) -> bool:
    """From here on a sender that dies leaves a doubt; kept before the first byte leaves."""
    return _write(
        mail,
        State.CLAIMED,
        state=State.SENDING,
        lease_until=now + LEASE,
        recipient=mail.recipient,
        subject=mail.subject,
        # a link that opens an account is kept nowhere, whatever the server answers
        rendered=None if mail.template in OPENING_AN_ACCOUNT else mail.rendered,
    )


def settle(mail: OutboxMail, answer: Answer, *, now: datetime) -> None:
    """Keep what the answer means for the row, its contact and the whole channel."""
    with transaction.atomic():
        SETTLE[answer.verdict](mail, answer, now)


def back_off(deliveries: int) -> timedelta:
    """1, 5, 15, 30, 60 minutes, then hourly, a little spread so that rows do not march in step."""
    minutes = BACK_OFF_MINUTES[min(deliveries, len(BACK_OFF_MINUTES)) - 1]
    return timedelta(minutes=minutes * random.uniform(1, 1 + JITTER))


def is_stopped(*, now: datetime) -> bool:
    return ChannelStop.objects.filter(
        try_again_at__gt=now, try_again_at__lte=now + TURNED_AWAY_PAUSE
    ).exists()


def _accepted(mail: OutboxMail, answer: Answer, now: datetime) -> None:
    kept: dict[str, object] = {"sent_at": now, "last_code": answer.code, "last_error": ""}
    if _answered(mail, **_free(State.SENT), **kept):
        told_by_mail(mail=mail, now=now)
    ChannelStop.objects.all().delete()
    mail_holds.note_certainty(now=now)


def _later(mail: OutboxMail, answer: Answer, now: datetime) -> None:
    again_at = now + back_off(mail.deliveries + 1)
    state = State.QUEUED if again_at < mail.useful_until else State.DEAD
    _answered(
        mail,
        **_free(state),
        not_before=again_at,
        last_code=answer.code,
        last_error=answer.text,
    )


def _refused(mail: OutboxMail, answer: Answer, now: datetime) -> None:
    written = _answered(mail, **_free(State.DEAD), last_code=answer.code, last_error=answer.text)
    if written and mail.customer_id:
        customer = Customer.objects.get(pk=mail.customer_id)
        customer.mail_state = Customer.MailState.REFUSED
        customer.save(update_fields=["mail_state"])
        log(verb="mail_refused", subject=customer, by=None, now=now, mail=mail.pk)
    ChannelStop.objects.all().delete()


def _turned_away(mail: OutboxMail, answer: Answer, now: datetime) -> None:
    """The row waits as it was; nothing is counted against it."""
    _write(mail, State.SENDING, **_free(State.QUEUED), starts=0)
    pause = TURNED_AWAY_PAUSE if answer.code else NO_CONNECTION_PAUSE
    stop, _ = ChannelStop.objects.get_or_create(
        pk=1, defaults={"stopped_at": now, "try_again_at": now + pause}
    )
    stop.try_again_at, stop.code, stop.error = now + pause, answer.code, answer.text
    stop.save()
    logger.error("mail channel stopped, code %s", answer.code or "none")


def _uncertain(mail: OutboxMail, answer: Answer, now: datetime) -> None:
    hold = mail_holds.note_doubt(now=now)
    logger.error("the mail server gave no answer after taking mail %s", mail.pk)
    if mail.mail_class == OutboxMail.MailClass.STAFF:
        _later(mail, answer, now)
    else:
        doubt = {"starts": 0, "last_error": answer.text, "hold": hold}
        _write(mail, State.SENDING, **_free(State.UNKNOWN), **doubt)


SETTLE: dict[Verdict, Callable[[OutboxMail, Answer, datetime], None]] = {
    Verdict.ACCEPTED: _accepted,
    Verdict.LATER: _later,
    Verdict.REFUSED: _refused,
    Verdict.CHANNEL: _turned_away,
    Verdict.UNCERTAIN: _uncertain,
}


def _put_back_broken(mail: OutboxMail, error: Exception, *, now: datetime) -> None:
    """Counted by `starts`, which only an answer of a server sets back."""
    logger.error("mail %s cannot be written: %s", mail.pk, type(error).__name__)
    state = State.DEAD if mail.starts >= MOST_STARTS else State.QUEUED
    _write(
        mail,
        State.CLAIMED,
        **_free(state),
        not_before=now + back_off(mail.starts),
        last_error=f"{type(error).__name__}: {error}",
    )


def _answered(mail: OutboxMail, **fields: object) -> bool:
    return _write(mail, State.SENDING, starts=0, deliveries=F("deliveries") + 1, **fields)


def _free(state: str) -> dict[str, object]:
    return {"state": state, "token": "", "lease_until": None}


def _write(mail: OutboxMail, expected: str, **fields: object) -> bool:
    """Only while the row is ours."""
    mine = OutboxMail.objects.filter(pk=mail.pk, token=mail.token, state=expected)
    if mine.update(**fields):
        return True
    logger.warning("mail %s was taken over by another sender", mail.pk)
    return False
