"""The way to the mail server, and what its answers mean for a message."""

from __future__ import annotations

import smtplib
from contextlib import suppress
from dataclasses import dataclass
from enum import Enum
from typing import TYPE_CHECKING

from django.core.mail import EmailMessage, get_connection
from django.core.mail.backends.smtp import EmailBackend

if TYPE_CHECKING:
    from _typeshed import ReadableBuffer

#: answers that are about our account with the server, whatever the message
ACCOUNT_CODES = {530, 534, 535, 538}


class Verdict(Enum):
    ACCEPTED = "accepted"
    LATER = "not now"
    REFUSED = "refused for good"
    CHANNEL = "the server turns us away"
    UNCERTAIN = "handed over, no answer"


@dataclass(frozen=True)
class Answer:
    verdict: Verdict
    code: str = ""
    text: str = ""


class NoAnswerAfterHandover(smtplib.SMTPException):
    """The whole message had left when the connection broke: it may have been taken."""


class PlainHandover(smtplib.SMTP):
    """Notes when the end of a message has left, the one moment after which doubt begins."""

    handed_over = False

    def send(self, s: ReadableBuffer | str) -> None:
        super().send(s)
        if isinstance(s, bytes) and s.endswith(b"\r\n.\r\n"):
            self.handed_over = True

    def data(self, msg: ReadableBuffer | str) -> tuple[int, bytes]:
        self.handed_over = False
        try:
            return super().data(msg)
        except (OSError, smtplib.SMTPServerDisconnected) as error:
            if self.handed_over:
                raise NoAnswerAfterHandover(str(error)) from error
            raise


class TlsHandover(PlainHandover, smtplib.SMTP_SSL):
    pass


class SmtpMailBackend(EmailBackend):
    @property
    def connection_class(self) -> type[smtplib.SMTP]:
        return TlsHandover if self.use_ssl else PlainHandover


class Postman:
    """One connection for a whole pass; a fault drops it, the next message opens another."""

    def __init__(self) -> None:
        self.connection = get_connection()

    def deliver(self, message: EmailMessage) -> Answer:
        try:
            self.connection.open()
        except (OSError, smtplib.SMTPException) as error:
            self.close()
            return Answer(Verdict.CHANNEL, _code_of(error), _text_of(error))
        try:
            self.connection.send_messages([message])
        except (OSError, smtplib.SMTPException, ValueError) as error:
            self.close()
            return classify(error)
        return Answer(Verdict.ACCEPTED, "250")

    def close(self) -> None:
        """An answer to QUIT changes nothing any more."""
        with suppress(OSError, smtplib.SMTPException):
            self.connection.close()


def classify(error: Exception) -> Answer:
    """What a failed sending means for this message and for the ones behind it."""
    code, text = _code_of(error), _text_of(error)
    return Answer(_verdict(error, int(code or 0)), code, text)


def _verdict(error: Exception, code: int) -> Verdict:
    if isinstance(error, NoAnswerAfterHandover):
        return Verdict.UNCERTAIN
    if isinstance(error, smtplib.SMTPAuthenticationError) or code in ACCOUNT_CODES:
        return Verdict.CHANNEL
    if isinstance(error, smtplib.SMTPHeloError):
        return Verdict.CHANNEL
    if isinstance(error, smtplib.SMTPSenderRefused) and code >= 500:
        return Verdict.CHANNEL
    if code >= 500:
        return Verdict.REFUSED
    # an address that cannot be written down, or a server that cannot take it
    if isinstance(error, ValueError | smtplib.SMTPNotSupportedError):
        return Verdict.REFUSED
    return Verdict.LATER


def _code_of(error: Exception) -> str:
    """The number of the answer; one recipient a message, so one answer at most."""
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        return next((str(code) for code, _ in error.recipients.values()), "")
    if isinstance(error, smtplib.SMTPResponseException) and error.smtp_code > 0:
        return str(error.smtp_code)
    return ""


def _text_of(error: Exception) -> str:
    if isinstance(error, smtplib.SMTPRecipientsRefused):
        said: object = next((text for _, text in error.recipients.values()), b"")
    elif isinstance(error, smtplib.SMTPResponseException):
        said = error.smtp_error
    else:
        said = f"{type(error).__name__}: {error}"
    text = said.decode("utf-8", "replace") if isinstance(said, bytes) else str(said)
    return text[:300]
