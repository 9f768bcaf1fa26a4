"""Who is late puts back the visits behind: all in one act, each customer told once."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry
from jobs.models import Visit

from .giving import Choice, at_field, held_by_other, locked
from .presence import lock_people
from .telling import tell_by_telephone
from .visits import move_visit


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
            held = held_by_other(visit, person, choice)
            moved = move_visit(visit=visit, version=choice.version, held=held, by=by, now=now)
        if choice.call:
            with at_field(f"told_{visit.pk}"):
                tell_by_telephone(
                    visit=moved, sequence=moved.sequence, call=choice.call, by=by, now=now
                )
        put.append(moved)
    return put[::-1]
