"""From a row to the bytes that leave, the same bytes at every attempt."""

from __future__ import annotations

import email.policy
from email.message import Message
from email.parser import BytesParser
from email.utils import format_datetime, formataddr
from typing import Any, Literal

from django.conf import settings
from django.core.mail import EmailMessage, EmailMultiAlternatives
from django.template.loader import render_to_string

from jobs.models import Company, OutboxMail

from .about import KINDS
from .calendar import calendar_part
from .content import content_of
from .fresh import current_address
from .kind import Content
from .links import stop_url

Part = Literal["subject", "text", "html"]


def keep_rendered(mail: OutboxMail) -> None:
    """Write the message on the row, unless it was written before for the same address.

    One that opens an account is written at every try, so that its link lives from then on.
    """
    address = current_address(mail)
    if not address or (mail.rendered and mail.recipient == address):
        return
    mail.recipient = address
    content = content_of(mail)
    message = _compose(mail, content)
    mail.subject = str(message.subject)
    mail.rendered = message.message().as_bytes()


def letter_of(mail: OutboxMail) -> EmailMessage:
    """The kept message, for Django's mail backends."""
    assert mail.rendered is not None
    return KeptMessage(
        subject=mail.subject,
        from_email=settings.DEFAULT_FROM_EMAIL,
        to=[mail.recipient],
        raw=bytes(mail.rendered),
    )


class KeptMessage(EmailMessage):
    """Sends bytes that were rendered earlier instead of composing again."""

    def __init__(self, *args: Any, raw: bytes, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.raw = raw

    def message(self, **kwargs: Any) -> KeptMime:  # type: ignore[override]
        return KeptMime(self.raw)


class KeptMime:
    """As much of a MIME message as the backends ask for."""

    def __init__(self, raw: bytes) -> None:
        self.raw = raw
        self.parsed: Message = BytesParser(policy=email.policy.default).parsebytes(raw)

    def __getitem__(self, name: str) -> Any:
        return self.parsed[name]

    def as_bytes(self, unixfrom: bool = False, linesep: str = "\n") -> bytes:
        return linesep.encode().join(self.raw.splitlines()) + linesep.encode()


def _compose(mail: OutboxMail, content: Content) -> EmailMultiAlternatives:
    company = content.context["company"]
    assert isinstance(company, Company)
    message = EmailMultiAlternatives(
        subject=" ".join(_part(mail, "subject", content.context).split())[:200],
        body=_part(mail, "text", content.context),
        from_email=formataddr((" ".join(company.name.split()), settings.DEFAULT_FROM_EMAIL)),
        to=[mail.recipient],
        reply_to=[company.email] if company.email else None,
        headers=_headers(mail),
    )
    html = _part(mail, "html", content.context | {"subject": message.subject})
    message.attach_alternative(html, "text/html")
    if content.calendar:
        message.attach(calendar_part(content.calendar))
    for name, data in content.documents:
        message.attach(name, data, "application/pdf")
    return message


def _part(mail: OutboxMail, part: Part, context: dict[str, object]) -> str:
    """One of the three parts of a letter's template; `emails/base.html` chooses by its name."""
    return render_to_string(KINDS[mail.template].template, context | {"part": part})


def _headers(mail: OutboxMail) -> dict[str, str]:
    headers = {
        "Message-ID": mail.message_id,
        "Date": format_datetime(max(mail.created_at, mail.not_before)),
        "Auto-Submitted": "auto-generated",
    }
    if mail.customer_id:
        headers["List-Unsubscribe"] = f"<{stop_url(mail.customer_id)}>"
        headers["List-Unsubscribe-Post"] = "List-Unsubscribe=One-Click"
    return headers
