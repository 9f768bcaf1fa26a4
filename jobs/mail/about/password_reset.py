"""To whoever has forgotten a password: a link to choose another."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.conf import settings
from django.contrib.auth.models import User

from jobs.mail import accounts
from jobs.mail.kind import Kind, always
from jobs.mail.writing import Letter, to_staff
from jobs.models import OutboxMail

KIND = Kind(__name__, accounts.content, always, opens_an_account=True)
RESETS_A_DAY = 5


def write(*, user: User, now: datetime) -> OutboxMail | None:
    """None where several were asked for today already."""
    asked = OutboxMail.objects.filter(template=KIND.name, recipient=user.email)
    if asked.filter(created_at__gt=now - timedelta(days=1)).count() >= RESETS_A_DAY:
        return None
    letter = Letter(
        f"account:reset:{accounts.slot(now)}",
        KIND,
        {},
        useful_until=now + timedelta(seconds=settings.PASSWORD_RESET_TIMEOUT),
    )
    return to_staff(letter, user=user, now=now)
