"""Who is away: entered, made longer or shorter, ended. Visits stay until somebody takes them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, WrongState
from jobs.models import Absence
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.schedule.working_time import moment_of, span_words
from jobs.wording.names import person as name_of

from .log import log
from .presence import lock_people

LONGEST = timedelta(days=400)
#: what was forgotten may be entered so long afterwards
FARTHEST_BACK = timedelta(days=60)


@dataclass(frozen=True)
class Away:
    """From a day to a day, whole ones where no time is said."""

    kind: str
    from_on: date
    until_on: date
    from_at: time | None = None
    until_at: time | None = None
    note: str = ""

    @property
    def span(self) -> tuple[datetime, datetime]:
        """The moments; a whole last day ends where the next one begins."""
        begins = moment_of(self.from_on, self.from_at) if self.from_at else day_start(self.from_on)
        ends = (
            moment_of(self.until_on, self.until_at)
            if self.until_at
            else day_start(self.until_on + timedelta(days=1))
        )
        # of one zone Python would subtract what clocks show, not the time between
        return begins.astimezone(UTC), ends.astimezone(UTC)


@transaction.atomic
def enter_absence(*, person: User, away: Away, by: User, now: datetime) -> Absence:
    """Nothing is booked into it from now on; what stands in it waits for somebody who takes it."""
    lock_people([person.pk])
    starts_at, ends_at = _checked(person, away, now=now)
    absence = Absence.objects.create(
        person=person,
        kind=away.kind,
        starts_at=starts_at,
        ends_at=ends_at,
        note=away.note.strip()[:200],
        entered_at=now,
        entered_by=by,
    )
    log(verb="absence_entered", subject=absence, by=by, now=now, span=_said(absence))
    return absence


@transaction.atomic
def change_absence(*, absence: Absence, away: Away, by: User, now: datetime) -> Absence:
    """Longer or shorter than was thought; the history keeps what it was."""
    lock_people([absence.person_id])
    absence = standing(absence)
    was = _said(absence)
    absence.starts_at, absence.ends_at = _checked(absence.person, away, now=now, besides=absence)
    absence.kind, absence.note = away.kind, away.note.strip()[:200]
    absence.save(update_fields=["kind", "starts_at", "ends_at", "note"])
    span = _said(absence)
    log(verb="absence_changed", subject=absence, by=by, now=now, span=span, was=was)
    return absence


@transaction.atomic
def end_absence(*, absence: Absence, by: User, now: datetime) -> Absence:
    """The person comes after all: from now on, or at all where it has not begun."""
    lock_people([absence.person_id])
    absence = standing(absence)
    if absence.ends_at <= now:
        raise WrongState("This time away is over already.")
    was = _said(absence)
    if absence.starts_at >= now or company_day(absence.starts_at) == company_day(now):
        absence.withdrawn_at = now
    else:
        absence.ends_at = now
    absence.save(update_fields=["withdrawn_at", "ends_at"])
    log(verb="absence_ended", subject=absence, by=by, now=now, was=was)
    return absence


def standing(absence: Absence) -> Absence:
    """Locked; refused where it was withdrawn."""
    row = Absence.objects.select_for_update(of=("self",)).select_related("person")
    absence = row.get(pk=absence.pk)
    if absence.withdrawn_at:
        raise WrongState("This time away was withdrawn meanwhile: enter it anew.")
    return absence


def _checked(
    person: User, away: Away, *, now: datetime, besides: Absence | None = None
) -> tuple[datetime, datetime]:
    starts_at, ends_at = away.span
    if away.kind not in Absence.Kind.values:
        raise BadEntry("Choose one of these.", field="kind")
    if ends_at <= starts_at:
        raise BadEntry("The end must come after the beginning.", field="until_on")
    if ends_at - starts_at > LONGEST:
        raise BadEntry("At most 400 days: enter the rest as a second one.", field="until_on")
    if starts_at < now - FARTHEST_BACK:
        raise BadEntry("At most 60 days back.", field="from_on")
    others = Absence.objects.standing().of([person.pk]).within(starts_at, ends_at)
    if besides:
        others = others.exclude(pk=besides.pk)
    if other := others.first():
        raise BadEntry(
            f"{name_of(person)} is away then already, {span_words(other)}: change that one.",
            field="from_on",
        )
    return starts_at, ends_at


def _said(absence: Absence) -> dict[str, str]:
    """Whose and when, without why: the reason is for who plans."""
    return {
        "person": str(absence.person_id),
        "starts": absence.starts_at.isoformat(),
        "ends": absence.ends_at.isoformat(),
    }
