"""Rows of the outbox and ways to look into a message, for the tests of mail."""

import email
import email.policy
from datetime import UTC, datetime, timedelta

from jobs.mail.about import password_reset, visit_confirmation
from jobs.mail.letters import keep_rendered
from jobs.models import OutboxMail
from tests import factories

#: Wednesday 10 June 2026, 10:00 in New York
NOW = datetime(2026, 6, 10, 14, 0, tzinfo=UTC)


def a_visit(*, days=10, **fields):
    """A confirmed visit, Saturday 20 June unless told, from 10:00 to 11:00."""
    fields.setdefault("starts_at", NOW + timedelta(days=days))
    fields.setdefault("now", NOW)
    return factories.make_visit(**fields)


def customer_mail(**fields):
    return visit_confirmation.write(visit=a_visit(**fields), now=NOW)


def staff_mail(**fields):
    user = factories.make_staff("dispatcher")
    return password_reset.write(user=user, now=NOW)


def opened(mail):
    """The message of a row, written now if it was not."""
    if not mail.rendered:
        keep_rendered(mail)
    return email.message_from_bytes(bytes(mail.rendered), policy=email.policy.default)


def text_of(mail):
    return opened(mail).get_body(("plain",)).get_content()


def words_of(mail):
    """The text with its lines joined."""
    return " ".join(text_of(mail).split())


def html_of(mail):
    return opened(mail).get_body(("html",)).get_content()


def calendar_of(mail):
    (part,) = [p for p in opened(mail).walk() if p.get_content_type() == "text/calendar"]
    return part, part.get_content()


def again(mail):
    return OutboxMail.objects.get(pk=mail.pk)
