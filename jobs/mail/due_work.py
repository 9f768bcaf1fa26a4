"""What falls due at a customer's houses: the one letter a month that is no visit's."""

from __future__ import annotations

from datetime import date, timedelta

from jobs.models import Customer, FollowUp, FollowUpRule, SiteTenure
from jobs.models.follow_ups import FollowUpQuerySet

#: the letter looks this far ahead
DAYS_AHEAD = 35
#: worse promises are a matter of a call and a visit, not of a letter
HARMS = (
    FollowUpRule.Harm.REFILL,
    FollowUpRule.Harm.INTERVAL,
    FollowUpRule.Harm.ANNUAL,
    FollowUpRule.Harm.OTHER,
)


def due_soon(*, on: date) -> FollowUpQuerySet:
    """Open promises of work at a house, for which the customer has to make a date."""
    return (
        FollowUp.objects.due_by(on + timedelta(days=DAYS_AHEAD))
        .filter(rule__is_active=True, rule__harm__in=HARMS)
        .exclude(rule__job_kind="")
        .exclude(rule__closing=FollowUpRule.Closing.ACKNOWLEDGED)  # a look of the office's
    )


def due_for_customer(customer: Customer, *, on: date) -> list[FollowUp]:
    held = SiteTenure.objects.at(on).filter(customer=customer, is_contact=True)
    due = due_soon(on=on).filter(site__in=held.values("site"))
    return list(due.select_related("rule", "site", "stage").order_by("due_on", "pk"))
