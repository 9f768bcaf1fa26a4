"""To a customer: what falls due at the houses held, the one letter a month that is no visit's."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from jobs.mail import standing, words
from jobs.mail.kind import Content, Kind
from jobs.mail.writing import Letter, to_customer
from jobs.models import Company, Customer, FollowUp, FollowUpRule, OutboxMail, SiteTenure
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


def write(*, customer: Customer, day: date, now: datetime) -> OutboxMail | None:
    """One letter for all of it, one a month."""
    letter = Letter(
        f"letter:{day:%Y-%m}",
        KIND,
        {"day": day.isoformat()},
        useful_until=now + timedelta(days=10),
    )
    return to_customer(letter, customer=customer, site=None, now=now)


def due_soon(*, on: date) -> FollowUpQuerySet:
    """Open promises of work at a house, for which the customer has to make a date."""
    return (
        FollowUp.objects.due_by(on + timedelta(days=DAYS_AHEAD))
        .filter(terms__harm__in=HARMS)
        .exclude(terms__job_kind="")
        .exclude(terms__closing=FollowUpRule.Closing.ACKNOWLEDGED)  # a look of the office's
    )


def _due(mail: OutboxMail) -> list[FollowUp]:
    """What falls due at the houses the customer held on the day of the letter."""
    on = date.fromisoformat(mail.context["day"])
    held = SiteTenure.objects.at(on).filter(customer=mail.customer, is_contact=True)
    due = due_soon(on=on).filter(site__in=held.values("site"))
    return list(due.select_related("terms", "site", "stage").order_by("due_on", "pk"))


def _objection(mail: OutboxMail, now: datetime) -> str:
    return "" if _due(mail) else "Nothing of it is due any more."


def _content(mail: OutboxMail, company: Company) -> Content:
    due = _due(mail)
    houses: dict[str, list[str]] = {}
    for promise in due:
        lines = houses.setdefault(f"{promise.site.street}, {promise.site.town}", [])
        lines.append(words.about_when(promise))
    notices = [said for promise in due for said in standing.notices_of(promise.site_id)]
    return Content({"houses": houses, "notices": list(dict.fromkeys(notices))})


KIND = Kind(__name__, _content, _objection)
