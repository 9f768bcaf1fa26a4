"""What is said of a visit on the day: its state in a word, and what somebody must decide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.utils import timezone

from jobs.models import Absence, Customer, Visit, VisitRequest
from jobs.schedule.knock_on import ON_THE_WAY, Coming
from jobs.schedule.needs import Needs
from jobs.schedule.waiting import Waiting
from jobs.schedule.working_time import Plan
from jobs.wording.days import hours_said
from jobs.wording.names import person

from .week import name_of


@dataclass(frozen=True)
class Said:
    """State in words, and the look that goes with it."""

    word: str = ""
    look: str = ""


def said_of(coming: Coming, plan: Plan, needs: Needs, now: datetime) -> Said:
    visit = coming.visit
    if visit.status not in ON_THE_WAY:
        return _begun(visit, now)
    if away_from(visit, plan):
        return Said("nobody yet", "open")
    if lacking := needs.lacking_at(visit):
        return Said(f"no “{lacking}”", "late")
    if coming.breaks_word:
        return Said("call", "late")
    if visit.status == Visit.Status.EN_ROUTE:
        return Said("on the way", "here")
    if visit.asked:
        is_to_cancel = visit.asked[-1].kind == VisitRequest.Kind.CANCEL
        return Said("asks to cancel" if is_to_cancel else "asks to move", "asks")
    if isinstance(visit.waiting, Waiting):
        return Said(visit.waiting.state, "late" if visit.waiting.presses else "open")
    return Said("not confirmed", "open") if visit.is_only_held else Said()


def _begun(visit: Visit, now: datetime) -> Said:
    if visit.outcome == Visit.Outcome.NO_ACCESS:
        return Said("no access", "no")
    if visit.status == Visit.Status.CLOSED:
        return Said(visit.get_outcome_display(), "closed")
    if now > visit.ends_at:
        return Said(f"{hours_said(now - visit.ends_at)} late", "late")
    return Said(f"since {timezone.localtime(visit.arrived_at):%H:%M}", "here")


def away_from(visit: Visit, plan: Plan) -> Absence | None:
    """The time away of one of those booked that touches the visit."""
    for who in filter(None, (visit.lead, visit.helper)):
        if absence := plan.away(who.pk, visit.starts_at, visit.ends_at):
            return absence
    return None


@dataclass(frozen=True)
class Wanted:
    """A visit somebody in the office must look at, with why."""

    #: call, away, skill, no_access, asks, waits, open
    reason: str
    coming: Coming
    why: str
    contact: Customer | None = None
    #: the time away that somebody else must take it for
    absence: Absence | None = None

    @property
    def visit(self) -> Visit:
        return self.coming.visit


@dataclass(frozen=True)
class Reason:
    """One reason for a decision, with its visits."""

    code: str
    title: str
    counted: str
    presses: bool
    rows: list[Wanted]


#: code, heading, words behind a number, whether it presses; in the order of the page
REASONS = (
    ("call", "Who must be called, and why", "to be called", True),
    ("away", "Nobody yet", "without a person", True),
    ("skill", "Nobody who may do it", "without a licence", True),
    ("no_access", "No access", "without access", True),
    ("asks", "Requests of customers", "asked about by the customer", False),
    ("waits", "Waits for something", "waiting for something", False),
    ("open", "Not confirmed", "not confirmed", False),
)
ORDER = [reason[0] for reason in REASONS]


def by_reason(wanted: list[Wanted]) -> list[Reason]:
    """Those reasons that there are."""
    grouped = [(reason, [row for row in wanted if row.reason == reason[0]]) for reason in REASONS]
    return [Reason(*reason, rows) for reason, rows in grouped if rows]


def wants_decision(
    coming: Mapping[int, Coming], plan: Plan, needs: Needs, names: Mapping[int, Customer]
) -> list[Wanted]:
    """By what presses, then by the hour."""
    found = [row for each in coming.values() if (row := _wanted(each, plan, needs, names))]
    return sorted(
        found,
        key=lambda row: (
            ORDER.index(row.reason),
            row.absence.pk if row.absence else 0,
            row.visit.starts_at,
        ),
    )


def _wanted(
    coming: Coming, plan: Plan, needs: Needs, names: Mapping[int, Customer]
) -> Wanted | None:
    visit, contact = coming.visit, names.get(coming.visit.job.site_id)
    if visit.outcome == Visit.Outcome.NO_ACCESS:
        said = "Nobody opened; what was promised is due again."
        return Wanted("no_access", coming, said, contact)
    if visit.status not in ON_THE_WAY:
        return None
    if absence := away_from(visit, plan):
        said = f"{person(absence.person)} is away: somebody else must take it."
        return Wanted("away", coming, said, contact, absence)
    if lacking := needs.lacking_at(visit):
        said = f"Nobody who comes holds “{lacking}” on that day."
        return Wanted("skill", coming, said, contact)
    if coming.breaks_word:
        return Wanted("call", coming, why_late(coming, names), contact)
    if visit.asked:
        said = "; ".join(request.said for request in visit.asked).rstrip(".")
        return Wanted("asks", coming, f"Customer {said}.", contact)
    if isinstance(visit.waiting, Waiting):
        said = visit.waiting.said
        return Wanted("waits", coming, f"{said[:1].upper()}{said[1:]}.", contact)
    return Wanted("open", coming, "", contact) if visit.is_only_held else None


def why_late(coming: Coming, names: Mapping[int, Customer]) -> str:
    """Told 10:00 to 11:00. Birkett is at Sotomayor until about 11:00. Would come about 11:15."""
    visit, after = coming.visit, coming.after
    begins, ends, comes = (
        f"{timezone.localtime(at):%H:%M}"
        for at in (visit.arrive_from, visit.arrive_until, coming.starts_at)
    )
    held_up = "Nobody has arrived."
    if after:
        here = after.status == Visit.Status.ON_SITE
        house = name_of(names.get(after.job.site_id), after)
        held_up = f"{person(after.lead)} is still at {house}." if here else f"Comes after {house}."
    return f"Told {begins} to {ends}. {held_up} Would come about {comes}."
