"""Times to offer a caller: the best openings for work that nobody promised before."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from equipment.models import Site, Train
from jobs.models import Company, FollowUp
from jobs.models.company import company_day

from .free_times import technicians
from .needs import Needs
from .openings import Ask, Opening, best_openings
from .working_days import add_working_days

#: how far ahead times are looked for
DAYS_AHEAD = 21


@dataclass(frozen=True)
class Wish:
    """Work somebody calls for; a house that is not on file yet has no more than its town."""

    site: Site | None
    kind: str
    minutes: int
    train: Train | None = None
    #: promises that would be kept on the same visit
    along: tuple[FollowUp, ...] = ()
    #: somebody may be hurt: today
    is_urgent: bool = False


@dataclass(frozen=True)
class Proposal:
    """A time of one person, and why this one."""

    time: Opening
    reasons: tuple[str, ...]

    @property
    def value(self) -> str:
        return self.time.value


def proposals(wish: Wish, *, now: datetime, count: int = 3) -> list[Proposal]:
    """The times to offer for this work, best first; a call waits for no visit that stands."""
    today, people = company_day(now), technicians()
    ask = Ask(
        site=wish.site or Site(),
        kind=wish.kind,
        minutes=wish.minutes,
        due_on=_wanted_on(wish, today),
        window=(today, today + timedelta(days=DAYS_AHEAD)),
        train=wish.train,
        is_call=True,
        is_urgent=wish.is_urgent,
    )
    found = best_openings(ask, people, now=now, company=Company.load(), count=count)
    soonest = min((opening.starts_at for opening in found), default=None)
    licence = Needs.load().licences.get(wish.kind)
    return [
        Proposal(opening, _reasons(wish, opening, licence, is_first=opening.starts_at == soonest))
        for opening in found
    ]


def _wanted_on(wish: Wish, today: date) -> date:
    """Today where somebody may be hurt, else the day a promise is due, else the next one."""
    if wish.is_urgent:
        return today
    due = [row.due_on for row in wish.along if row.due_on > today]
    return min(due) if due else add_working_days(today, 1)


def _reasons(
    wish: Wish, opening: Opening, licence: str | None, *, is_first: bool
) -> tuple[str, ...]:
    said = list(opening.reasons)
    if licence:
        said.append(f"has “{licence}”")
    if is_first:
        said.append("the soonest, because of what was told" if wish.is_urgent else "the soonest")
    return tuple(said or ["free for all of it"])
