"""Who is late puts back the visits behind: all in one act, each customer told once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.models import Visit

from .giving import Choice, at_field, locked, take
from .presence import lock_people


@transaction.atomic
def put_back(*, person: User, choices: Sequence[Choice], by: User, now: datetime) -> list[Visit]:
    """Later with the same person, or given to somebody else: all of them or none.

    The last visit goes first, so that each finds its hours free.
    """
    visits = locked(choice.visit for choice in choices)
    lock_people({person.pk, *(choice.person.pk for choice in choices if choice.person)})
    put = []
    for choice in sorted(choices, key=lambda row: visits[row.visit].starts_at, reverse=True):
        visit = visits[choice.visit]
        with at_field(f"take_{visit.pk}"):
            if person.pk not in (visit.lead_id, visit.helper_id):
                raise BadEntry("Somebody else comes to this visit by now.")
        put.append(take(visit=visit, of=person, choice=choice, by=by, now=now))
    return put[::-1]
