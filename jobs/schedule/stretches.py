"""Stretches in which a person could be sent: at work, at no visit, not at lunch, not away."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, timedelta

from .working_time import Plan, Span

#: a shorter stretch is no offer: nobody drives there and back for it; common practice, no source
WORTH_BOOKING = timedelta(hours=1)


def free_stretches(plan: Plan, person: int, day: date, held: Iterable[Span]) -> list[Span]:
    """What is left of a working day around the visits that hold it, in order."""
    shift = plan.shift(person, day)
    if shift is None:
        return []
    busy = [*held, *([shift.lunch] if shift.lunch else [])]
    absences = plan.absences.by_person.get(person, ())
    busy += [(absence.starts_at, absence.ends_at) for absence in absences]
    return without((shift.starts_at, shift.ends_at), busy)


def without(whole: Span, busy: Iterable[Span]) -> list[Span]:
    """The parts of a span that none of the others touches."""
    left, at = [], whole[0]
    for begins, ends in sorted(busy):
        if min(begins, whole[1]) > at:
            left.append((at, min(begins, whole[1])))
        at = max(at, ends)
    if at < whole[1]:
        left.append((at, whole[1]))
    return left


def worth_booking(stretches: Iterable[Span], now: datetime) -> list[Span]:
    """Those long enough from now on."""
    ahead = [(max(begins, now), ends) for begins, ends in stretches]
    return [(begins, ends) for begins, ends in ahead if ends - begins >= WORTH_BOOKING]


def length_of(stretches: Iterable[Span]) -> timedelta:
    return sum((ends - begins for begins, ends in stretches), timedelta())
