"""To somebody new, or back again: a link to choose a password."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib.auth.models import User

from jobs.mail import accounts
from jobs.mail.kind import Kind, always
from jobs.mail.writing import Letter, to_staff
from jobs.models import OutboxMail

KIND = Kind(__name__, accounts.content, always, opens_an_account=True)
INVITATION_DAYS = 3


def write(*, user: User, now: datetime) -> OutboxMail | None:
    letter = Letter(
        f"account:invitation:{accounts.slot(now)}",
        KIND,
        {},
        useful_until=now + timedelta(days=INVITATION_DAYS),
    )
    return to_staff(letter, user=user, now=now)
