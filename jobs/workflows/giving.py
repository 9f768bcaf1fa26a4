"""Visits of who is away are given to others in one act, and back when they come after all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, JobsError, VisitChanged
from jobs.models import Absence, Giving, Visit

from .absences import end_absence, standing
from .held import Held
from .log import log
from .presence import lock_people
from .telling import Call, tell_by_telephone
from .visits import move_visit

MEANWHILE = (
    "Somebody else settled some of these visits meanwhile. Nothing of yours was kept: below stands "
    "how it is now."
)


@dataclass(frozen=True)
class Choice:
    """Who takes one visit and when it begins; nobody means that its helper stays at home."""

    visit: int
    version: int
    person: User | None
    starts_at: datetime
    #: who was told of it on the telephone
    call: Call | None = None


def keeps_hours(visit: Visit, starts_at: datetime) -> bool:
    """The hours the customer was told lie inside a visit that begins then."""
    ends_at = starts_at + (visit.ends_at - visit.starts_at)
    return starts_at <= visit.arrive_from and visit.arrive_until <= ends_at


def held_by_other(visit: Visit, away: User, choice: Choice) -> Held:
    """The visit with somebody in place of who is away; told hours stay where they can."""
    starts_at = choice.starts_at
    ends_at = starts_at + (visit.ends_at - visit.starts_at)
    told = (
        (visit.arrive_from, visit.arrive_until) if keeps_hours(visit, starts_at) else (None, None)
    )
    if visit.lead_id != away.pk:
        return Held(visit.lead, starts_at, ends_at, choice.person, *told)
    if choice.person is None:
        raise BadEntry("Choose who takes this visit.")
    helper = None if choice.person.pk == visit.helper_id else visit.helper
    return Held(choice.person, starts_at, ends_at, helper, *told)


@transaction.atomic
def give_visits(
    *, absence: Absence, choices: Sequence[Choice], by: User, now: datetime
) -> list[Visit]:
    """All of them or none. Each customer is told by the rule of moving, or was on the telephone."""
    absence = standing(absence)
    visits = locked(choice.visit for choice in choices)
    lock_people(choice.person.pk for choice in choices if choice.person)
    given = []
    for choice in sorted(choices, key=lambda row: row.starts_at):
        before = visits[choice.visit]
        moved = take(visit=before, of=absence.person, choice=choice, by=by, now=now)
        _keep(absence, before, moved, by=by, now=now)
        given.append(moved)
    log(verb="visits_given", subject=absence, by=by, now=now, visits=[row.pk for row in given])
    return given


def take(*, visit: Visit, of: User, choice: Choice, by: User, now: datetime) -> Visit:
    """One visit as it was chosen for it, with who was told on the telephone; a refusal stands
    beside its choice."""
    with at_field(f"take_{visit.pk}"):
        held = held_by_other(visit, of, choice)
        moved = move_visit(visit=visit, version=choice.version, held=held, by=by, now=now)
    if choice.call:
        with at_field(f"told_{visit.pk}"):
            tell_by_telephone(
                visit=moved, sequence=moved.sequence, call=choice.call, by=by, now=now
            )
    return moved


@contextmanager
def at_field(name: str) -> Iterator[None]:
    """A refusal stands beside the choice it is about."""
    try:
        yield
    except VisitChanged:
        raise
    except JobsError as refusal:
        refusal.field = name
        raise


def locked(pks: Iterable[int]) -> dict[int, Visit]:
    wanted = set(pks)
    rows = Visit.objects.select_for_update(of=("self",)).filter(pk__in=wanted).order_by("pk")
    found = {row.pk: row for row in rows.select_related("job__site", "lead", "helper")}
    if len(found) < len(wanted):
        raise VisitChanged(MEANWHILE)
    return found


def _keep(absence: Absence, before: Visit, after: Visit, *, by: User, now: datetime) -> None:
    Giving.objects.create(
        absence=absence,
        visit=after,
        at=now,
        by=by,
        lead_before=before.lead,
        helper_before=before.helper,
        starts_before=before.starts_at,
        ends_before=before.ends_at,
        from_before=before.arrive_from,
        until_before=before.arrive_until,
        version_after=after.version,
    )


@transaction.atomic
def come_after_all(
    *, absence: Absence, back: Iterable[Giving], by: User, now: datetime
) -> list[Visit]:
    """The time away ends, and these visits are this person's again, at their old hours.

    Who changed one meanwhile decided about it: that one is not taken back.
    """
    end_absence(absence=absence, by=by, now=now)
    rows = []
    for giving in sorted(back, key=lambda row: row.starts_before):
        with at_field("back"):
            held = Held(
                giving.lead_before,
                giving.starts_before,
                giving.ends_before,
                giving.helper_before,
                giving.from_before,
                giving.until_before,
            )
            rows.append(
                move_visit(
                    visit=giving.visit, version=giving.version_after, held=held, by=by, now=now
                )
            )
    return rows


def may_go_back(absence: Absence, now: datetime) -> list[Giving]:
    """Given away, not changed since, and not begun."""
    rows = Giving.objects.filter(absence=absence, starts_before__gt=now)
    with_visits = rows.select_related("visit__job__site", "visit__lead", "lead_before")
    return [
        row
        for row in with_visits.select_related("helper_before")
        if row.visit.version == row.version_after and row.visit.status in Giving.MAY_GO_BACK
    ]
