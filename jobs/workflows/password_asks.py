"""Asking for a password by mail: the page only notes the address, the tick looks whose it is.

So the page takes the same time for every address, and tells nobody who has an account.
"""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from jobs.mail.about import password_reset
from jobs.models import PasswordAsk

#: of no use later, such as after a database was put back
ANSWERED_WITHIN = timedelta(hours=1)
A_SCAN = 200


def ask(*, email: str, now: datetime) -> None:
    PasswordAsk.objects.create(email=email, asked_at=now)


def answer_asks(now: datetime) -> int:
    """A letter to each account with that address; the note goes in the same step."""
    rows = list(PasswordAsk.objects.order_by("pk")[:A_SCAN])
    return sum(_answer(row, now) for row in rows)


@transaction.atomic
def _answer(row: PasswordAsk, now: datetime) -> int:
    if not PasswordAsk.objects.filter(pk=row.pk).delete()[0]:
        return 0  # another worker was faster
    if abs(now - row.asked_at) > ANSWERED_WITHIN:
        return 0
    users = User.objects.filter(email__iexact=row.email)
    letters = [
        password_reset.write(user=user, now=now) for user in users if user.has_usable_password()
    ]
    return sum(letter is not None for letter in letters)
