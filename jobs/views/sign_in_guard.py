"""Counting wrong passwords so that it slows down who guesses and locks out nobody else.

A browser in which a person signed in before keeps a signed cookie. Its wrong passwords are counted
for itself, so guessing from elsewhere never shuts out the right password on a known device. From
all other devices together an account takes few tries, and so does an address over all accounts.
"""

from __future__ import annotations

import ipaddress
import secrets
from datetime import timedelta
from typing import Any

from axes.attempts import get_cool_off_threshold
from axes.handlers.database import AxesDatabaseHandler
from axes.handlers.proxy import AxesProxyHandler
from axes.models import AccessAttempt
from django.conf import settings
from django.contrib.auth.models import User
from django.core import signing
from django.db.models import Q, QuerySet, Sum
from django.http import HttpRequest, HttpResponse

PURPOSE = "known device"
#: browsers keep no cookie longer
REMEMBERED = timedelta(days=400)
#: wrong passwords from one address, over all accounts, in the time that five of one account count
MOST_OF_AN_ADDRESS = 30
ON = " on "


class Guard(AxesDatabaseHandler):  # type: ignore[misc,unused-ignore]
    def get_failures(self, request: HttpRequest, credentials: dict[str, Any] | None = None) -> int:
        """In tries of one account: so many of an address weigh as much as the limit of these."""
        rows = AccessAttempt.objects.filter(attempt_time__gte=get_cool_off_threshold(request))
        name = counted_name(request, credentials)
        of_account = _sum(rows.filter(username=name))
        address = request.axes_ip_address  # type: ignore[attr-defined]
        if ON in name or _is_this_machine(address):
            return of_account
        of_address = _sum(rows.filter(ip_address=address).exclude(username__contains=ON))
        return max(of_account, of_address * settings.AXES_FAILURE_LIMIT // MOST_OF_AN_ADDRESS)


def counted_name(request: HttpRequest, credentials: dict[str, Any] | None = None) -> str:
    """Under which name a try is counted: that of the account, on a known device with its number."""
    name = str((credentials or request.POST).get("username") or "")
    device = known_device(request, name)
    return f"{name}{ON}{device}" if device else name


def known_device(request: HttpRequest, name: str) -> str:
    """The number of the device if somebody of this name signed in on it, else ""."""
    try:
        pk, device = signing.Signer(salt=PURPOSE).unsign_object(
            request.COOKIES.get(settings.DEVICE_COOKIE_NAME, "")
        )
    except (signing.BadSignature, ValueError, TypeError):
        return ""
    return str(device) if User.objects.filter(pk=pk, username=name).exists() else ""


def remember_device(request: HttpRequest, response: HttpResponse, user: User) -> None:
    """Whoever proved to be this person here is known here."""
    device = known_device(request, user.get_username()) or secrets.token_hex(8)
    response.set_cookie(
        settings.DEVICE_COOKIE_NAME,
        signing.Signer(salt=PURPOSE).sign_object([user.pk, device]),
        max_age=REMEMBERED,
        secure=settings.SESSION_COOKIE_SECURE,
        httponly=True,
        samesite="Lax",
    )


def forget_tries(user: User) -> None:
    """A new password was chosen by mail: what was guessed before counts no more."""
    name = user.get_username()
    AxesProxyHandler.reset_attempts(username=name)
    AccessAttempt.objects.filter(Q(username__startswith=f"{name}{ON}")).delete()


def _sum(rows: QuerySet[AccessAttempt]) -> int:
    return int(rows.aggregate(tries=Sum("failures_since_start"))["tries"] or 0)


def _is_this_machine(address: str | None) -> bool:
    """A proxy that does not say who asks: one address for everybody counts for nobody."""
    try:
        return ipaddress.ip_address(address or "").is_loopback
    except ValueError:
        return True
