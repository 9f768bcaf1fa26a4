"""One key per opening of a form: sending it twice has one effect."""

from __future__ import annotations

import hashlib
import secrets
from datetime import datetime

from django.contrib.auth.models import User
from django.http import HttpRequest, QueryDict

from jobs.errors import WrongState
from jobs.models import SubmittedForm

FIELD = "once"


def new_key() -> str:
    """For the hidden field `once` of a form that is opened."""
    return secrets.token_urlsafe(16)


def earlier_answer(request: HttpRequest) -> str | None:
    """Where the first sending of this form led, None if this is the first.

    Raises WrongState when the key comes back with another content.
    """
    key = request.POST.get(FIELD, "")
    if not key or not isinstance(request.user, User):
        return None
    row = SubmittedForm.objects.filter(user=request.user, key=key).first()
    if row is None:
        return None
    if row.body_sha256 != _digest(request.POST):
        raise WrongState("This form was sent before with other content: open it anew.")
    return row.location


def remember(request: HttpRequest, location: str, *, now: datetime) -> None:
    """Keep the answer; call it inside the transaction of the effect."""
    key = request.POST.get(FIELD, "")
    if key and isinstance(request.user, User):
        SubmittedForm.objects.create(
            user=request.user,
            key=key[:64],
            body_sha256=_digest(request.POST),
            location=location,
            at=now,
        )


def _digest(body: QueryDict) -> str:
    pairs = sorted(
        (name, value)
        for name, values in body.lists()
        for value in values
        if name != "csrfmiddlewaretoken"
    )
    return hashlib.sha256(repr(pairs).encode()).hexdigest()
