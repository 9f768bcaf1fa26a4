"""Links in mail that work without an account: signed, each for one purpose and one thing."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.contrib.auth.models import User
from django.contrib.auth.tokens import default_token_generator
from django.core import signing
from django.urls import reverse
from django.utils.encoding import force_bytes
from django.utils.http import urlsafe_base64_encode

ANSWER_PURPOSE, STOP_PURPOSE = "visit answer", "no mail"


@dataclass(frozen=True)
class AnswerClaim:
    """What an answer link stands for: this time of this visit, told to this customer."""

    visit_id: int
    sequence: int
    customer_id: int


def answer_token(claim: AnswerClaim) -> str:
    values = [claim.visit_id, claim.sequence, claim.customer_id]
    return signing.Signer(salt=ANSWER_PURPOSE).sign_object(values)


def read_answer_token(token: str) -> AnswerClaim | None:
    try:
        visit_id, sequence, customer_id = signing.Signer(salt=ANSWER_PURPOSE).unsign_object(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return AnswerClaim(visit_id, sequence, customer_id)


def stop_token(customer_id: int) -> str:
    return signing.Signer(salt=STOP_PURPOSE).sign_object([customer_id])


def read_stop_token(token: str) -> int | None:
    try:
        (customer_id,) = signing.Signer(salt=STOP_PURPOSE).unsign_object(token)
    except (signing.BadSignature, ValueError, TypeError):
        return None
    return int(customer_id)


def answer_url(claim: AnswerClaim) -> str:
    return page_url("visit-answer", token=answer_token(claim))


def stop_url(customer_id: int) -> str:
    return page_url("mail-stop", token=stop_token(customer_id))


def password_url(user: User) -> str:
    return page_url(
        "password-reset-confirm",
        uidb64=urlsafe_base64_encode(force_bytes(user.pk)),
        token=default_token_generator.make_token(user),
    )


def page_url(name: str, **arguments: object) -> str:
    """The public address of a page, whatever Host a request named."""
    return settings.SITE_URL + reverse(name, kwargs=arguments)
