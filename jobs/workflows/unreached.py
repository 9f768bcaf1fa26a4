"""A house that nobody answers for: not followed any more, until somebody is reached again.

Contents: Unanswered, unanswered_at, follow_no_more, reached_again.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from itertools import takewhile

from django.contrib.auth.models import User
from django.db import transaction
from django.db.models import Max, Q, QuerySet

from equipment.models import Site
from jobs.errors import WrongState
from jobs.models import ContactAttempt, Job, LossFact, Visit
from jobs.models.company import company_day

from . import facts, follow_ups
from .fact_corrections import refuse_visits
from .log import log
from .reasons import explained

#: so many tries in so many days without an answer; common practice, no source
TRIES, OVER_DAYS = 3, 60


@dataclass(frozen=True)
class Unanswered:
    """Tries since somebody of the house was last heard of, oldest first."""

    days: tuple[date, ...]

    @property
    def said(self) -> str:
        if not self.days:
            return "No try without an answer is noted since they were last heard of"
        count = "1 try" if len(self.days) == 1 else f"{len(self.days)} tries"
        return f"{count} without an answer since {self.days[0]:%-d %B %Y}"

    def refusal(self, today: date) -> str:
        """Why the house is followed on; "" where nobody can be reached."""
        if len(self.days) >= TRIES and (today - self.days[0]).days >= OVER_DAYS:
            return ""
        return f"{self.said}: {TRIES} over {OVER_DAYS} days or more are needed."


def unanswered_at(site: Site) -> Unanswered:
    """Since the last talk, the last report of the customer, the last visit that found them."""
    of_house = Q(follow_up__site=site) | Q(visit__job__site=site)
    rows = ContactAttempt.objects.filter(of_house).order_by("-at", "-pk")
    in_vain = list(takewhile(lambda row: row.how != ContactAttempt.How.CALLED, rows))
    seen = Visit.objects.filter(job__site=site, status=Visit.Status.CLOSED)
    seen_at = seen.exclude(outcome=Visit.Outcome.NO_ACCESS).aggregate(at=Max("closed_at"))["at"]
    asked = Job.objects.filter(site=site, planned=False).aggregate(at=Max("opened_at"))["at"]
    heard = max(filter(None, (seen_at, asked)), default=None)
    days = [company_day(row.at) for row in in_vain if heard is None or row.at > heard]
    return Unanswered(tuple(reversed(days)))


@transaction.atomic
def follow_no_more(*, site: Site, reason: str, by: User, now: datetime) -> LossFact:
    """Lost to sight from the first try that nobody answered: since then nobody would have told."""
    Site.objects.select_for_update().get(pk=site.pk)
    reason, tried = explained(reason), unanswered_at(site)
    if refusal := tried.refusal(company_day(now)):
        raise WrongState(refusal)
    if _standing(site).exists():
        raise WrongState("That nobody can be reached here is noted already.")
    refuse_visits(Visit.objects.filter(job__site=site))
    why = f"nobody can be reached: {reason}"
    follow_ups.waive_of_house(site=site, reason=why, by=by, now=now)
    how, why = LossFact.How.UNREACHED, f"{len(tried.days)} tries unanswered: {reason}"
    lost = facts.lose(of=site, how=how, day=tried.days[0], reason=why, by=by, now=now)
    log(verb="not_reached", subject=site, by=by, now=now, site=site, reason=reason)
    return lost


def reached_again(*, site: Site, how: str, by: User, now: datetime) -> None:
    """They answered, or called by themselves: whatever was lost to sight is followed on.

    A promise that was given up meanwhile stays given up; who talks to them makes a new one.
    """
    for row in _standing(site):
        facts.follow_on(row=row, reason=f"reached again: {how}", by=by, now=now)
        log(verb="reached_again", subject=site, by=by, now=now, site=site)


def _standing(site: Site) -> QuerySet[LossFact]:
    return LossFact.objects.standing().filter(site=site, how=LossFact.How.UNREACHED)
