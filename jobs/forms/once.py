"""One key per opening of a form: sending it twice has one effect."""

from __future__ import annotations

import hashlib
from datetime import datetime
from uuid import uuid4

from django.contrib.auth.models import User
from django.db import IntegrityError, OperationalError, transaction
from django.http import HttpRequest, QueryDict

from jobs.errors import WrongState
from jobs.models import SubmittedForm

FIELD = "once"
LONGEST = 64


def new_key() -> str:
    """For the hidden field `once` of a form that is opened."""
    return str(uuid4())


def earlier_answer(request: HttpRequest) -> str | None:
    """Where the first sending of this form led, None if this is the first.

    Raises WrongState when the key comes back with another content.
    """
    row = SubmittedForm.objects.filter(**key_of(request)).first() if key_of(request) else None
    if row is None:
        return None
    if row.body_sha256 != _digest(request.POST):
        raise WrongState("This form was sent before with other content: open it anew.")
    return row.location


def begin(request: HttpRequest, *, now: datetime) -> str | None:
    """Take the key; call it first inside the transaction of the effect.

    Of two sendings at once the second waits here until the first has ended, and is given where that
    one led. None: this is the one that works. Raises WrongState as `earlier_answer` does, and when
    the first takes too long.
    """
    if not (key := key_of(request)):
        return None
    row = SubmittedForm(**key, body_sha256=_digest(request.POST), location="", at=now)
    try:
        with transaction.atomic():
            row.save(force_insert=True)
    except IntegrityError:
        return earlier_answer(request)
    except OperationalError as error:
        raise WrongState(
            "This form is being worked on already: wait a moment, then look whether it is kept."
        ) from error
    return None


def end(request: HttpRequest, location: str) -> None:
    """Keep where it led, in the same transaction."""
    if key := key_of(request):
        SubmittedForm.objects.filter(**key).update(location=location)


def key_of(request: HttpRequest) -> dict[str, object]:
    """What makes a sending one and the same, empty where a page has no key or no person."""
    key = request.POST.get(FIELD, "")[:LONGEST]
    return {"user": request.user, "key": key} if key and isinstance(request.user, User) else {}


def _digest(body: QueryDict) -> str:
    pairs = sorted(
        (name, value)
        for name, values in body.lists()
        for value in values
        if name != "csrfmiddlewaretoken"
    )
    return hashlib.sha256(repr(pairs).encode()).hexdigest()
