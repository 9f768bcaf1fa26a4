"""What the office does about messages that died or of which nobody knows."""

from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import WrongState
from jobs.mail.writing import message_id_of
from jobs.models import Customer, OutboxMail

from .log import log
from .telling import told_by_mail

State = OutboxMail.State


@transaction.atomic
def send_again(*, mail: OutboxMail, by: User, now: datetime) -> OutboxMail:
    """A new row for a message that died or of which nobody knows; once for each row."""
    mail = OutboxMail.objects.select_for_update(of=("self",)).get(pk=mail.pk)
    if mail.sent_again_as:
        return mail.sent_again_as
    if mail.state not in (State.DEAD, State.UNKNOWN):
        raise WrongState(f"The message is {mail.get_state_display()}: nothing to send again.")
    if mail.useful_until <= now:
        raise WrongState("The time of this message has passed: telephone instead.")
    key = f"{mail.key}:again"
    again = OutboxMail.objects.create(
        key=key,
        mail_class=mail.mail_class,
        template=mail.template,
        context=mail.context,
        customer=mail.customer,
        visit=mail.visit,
        recipient=mail.recipient,
        not_before=now,
        useful_until=mail.useful_until,
        message_id=message_id_of(key),
        created_at=now,
    )
    mail.sent_again_as, mail.seen_at = again, now
    mail.save(update_fields=["sent_again_as", "seen_at"])
    _trust_address_again(mail.customer)
    log(verb="mail_sent_again", subject=mail, by=by, now=now, again=again.pk)
    return again


@transaction.atomic
def arrived(*, mail: OutboxMail, by: User, now: datetime) -> OutboxMail:
    """The recipient has it after all, or was told another way."""
    mail = OutboxMail.objects.select_for_update(of=("self",)).get(pk=mail.pk)
    if mail.state == State.SENT or mail.seen_at:
        return mail
    if mail.state not in (State.DEAD, State.UNKNOWN):
        raise WrongState(f"The message is {mail.get_state_display()}: wait until it is sent.")
    if mail.state == State.UNKNOWN:
        mail.state, mail.sent_at = State.SENT, now
        told_by_mail(mail=mail, now=now, by=by)
    mail.seen_at = now
    mail.save(update_fields=["state", "sent_at", "seen_at"])
    log(verb="mail_answered_for", subject=mail, by=by, now=now)
    return mail


def _trust_address_again(customer: Customer | None) -> None:
    if customer and customer.mail_state == Customer.MailState.REFUSED:
        customer.mail_state = Customer.MailState.UNPROVEN
        customer.save(update_fields=["mail_state"])
