"""The door for phones: who is there, and one act at a time. Never a page, never a redirect."""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from hashlib import sha256
from typing import Any
from uuid import UUID

from django.conf import settings
from django.contrib.auth import SESSION_KEY
from django.contrib.auth.models import User
from django.db import OperationalError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.middleware.csrf import get_token
from django.shortcuts import render
from django.templatetags.static import static
from django.utils import timezone
from django.views.csrf import csrf_failure as page_of_csrf
from django.views.decorators.http import require_POST, require_safe

from jobs.access import allow, has_role
from jobs.acts import door
from jobs.errors import NotAllowed, OtherContent
from jobs.http import StaffRequest
from jobs.workflows import phones

from .acting import named_in

#: digits of the count of entries that a phone says
MOST_COUNTED = 6
View = Callable[[StaffRequest], HttpResponse]
#: what a phone is built of; its name changes with each of them
SHELL = tuple(
    f"jobs/{name}"
    for name in ("app.css", "app.js", "kept.js", "sender.js", "thumb.js", "acts.js", "boxes.js")
)


def said(status: int, **words: object) -> JsonResponse:
    answer = JsonResponse(words, status=status)
    answer.headers["Cache-Control"] = "no-store, private"
    return answer


def for_phones(view: View) -> View:
    """A technician who is signed in; else a word the phone understands, never a page."""

    @wraps(view)
    def guarded(request: Any) -> HttpResponse:
        if not request.user.is_authenticated:
            return said(401, error="closed" if _is_closed(request) else "session")
        if not has_role(request.user, "technician"):
            return said(403, error="role")
        return view(request)

    guarded.allowed_roles = ("technician",)  # type: ignore[attr-defined]
    return guarded


def _is_closed(request: HttpRequest) -> bool:
    """The session is of an account that was closed since."""
    number = request.session.get(SESSION_KEY, "")
    return bool(number) and User.objects.filter(pk=number, is_active=False).exists()


def app_said() -> str:
    """The name of what a phone is built of."""
    return sha256("".join(map(static, SHELL)).encode()).hexdigest()[:8]


def unless_lost(view: View) -> View:
    """A phone that was reported lost hears one word, whoever holds it and without signing in."""

    @wraps(view)
    def guarded(request: Any) -> HttpResponse:
        number = _number_said(request)
        if number and phones.must_forget(number=number, now=timezone.now()):
            return said(200, wipe=True)
        return view(request)

    return guarded


def _number_said(request: HttpRequest) -> UUID | None:
    try:
        return UUID(request.headers.get("X-Phone", ""))
    except ValueError:
        return None


def _waiting_said(request: HttpRequest) -> int:
    count = request.headers.get("X-Waiting", "")
    return int(count) if count.isascii() and count.isdigit() and len(count) <= MOST_COUNTED else 0


@require_safe
@unless_lost
@for_phones
def hello(request: StaffRequest) -> HttpResponse:
    """Asked before anything is sent: the time here, who is signed in, and what is taken."""
    now = timezone.now()
    if number := _number_said(request):
        phones.heard(number=number, user=request.user, waiting=_waiting_said(request), now=now)
    return said(
        200,
        now=now.isoformat(),
        user=request.user.pk,
        csrf=get_token(request),
        app=app_said(),
        oldest_act=door.OLDEST_ACT,
        halt=not settings.FIELD_OFFLINE,
        wipe=False,
    )


@require_POST
@for_phones
def acts(request: StaffRequest) -> HttpResponse:
    """One act, answered in the transaction of its effect; told again, the first answer."""
    is_json = request.content_type == "application/json"
    if not is_json or int(request.META.get("CONTENT_LENGTH") or 0) > door.LONGEST:
        return said(422, error="unreadable", sentence="An act is JSON of at most 64 kB.")
    try:
        told = door.read(request.body)
    except door.OldAct:
        return said(426, error="old", oldest_act=door.OLDEST_ACT)
    except door.Unreadable:
        return said(422, error="unreadable", sentence="This is no act.")
    if door.person_of(told) != request.user.pk:
        return said(403, error="person")
    return _answered(request, told)


def _answered(request: StaffRequest, told: door.Told) -> HttpResponse:
    try:
        given = door.answer_to(told, by=request.user, now=timezone.now())
    except door.Earlier as earlier:
        return said(409, error="earlier", uuid=str(earlier.uuid))
    except OtherContent as refusal:
        return said(422, error="other", sentence=refusal.message)
    except NotAllowed:
        return said(404, error="unknown")
    except OperationalError:
        return said(503, error="busy")
    again = {"again": True} if given.again else {}
    return named_in(said(200, **given.told, **again), given)


@allow("technician")
@require_safe
def kept(request: StaffRequest) -> HttpResponse:
    """Everything this phone keeps; the page fills itself, without signal too."""
    return render(request, "kept.html")


def csrf_failure(request: HttpRequest, reason: str = "") -> HttpResponse:
    """A phone says hello again for a new token; a person gets the page."""
    if request.path.startswith("/field/"):
        return said(403, error="csrf")
    return page_of_csrf(request, reason)
