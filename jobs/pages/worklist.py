"""The worklist: promises that are due, by the harm they prevent, with whom to call."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.contrib.auth.models import User
from django.core.paginator import Page, Paginator
from django.db.models import Count

from jobs.models import Company, ContactAttempt, Customer, FollowUp, FollowUpRule, SiteTenure
from jobs.models.company import company_day
from jobs.models.follow_ups import FollowUpQuerySet, past_window
from jobs.schedule.free_times import FreeTime, nearest
from jobs.wording.days import days_left
from jobs.workflows.follow_ups import SNOOZES_BEFORE_OWNER

from .loose_ends import loose_ends
from .visit_calls import calls_of, count_to_call, visits_to_call

#: rows of one page
ROWS = 50


@dataclass
class Row:
    """One promise as the list shows it."""

    follow_up: FollowUp
    today: date
    customer: Customer | None = None
    attempts: list[ContactAttempt] = field(default_factory=list)

    @property
    def late(self) -> int:
        return self.follow_up.days_late(self.today)

    @property
    def left(self) -> int:
        return self.follow_up.days_left(self.today)

    @property
    def said(self) -> str:
        return days_left(self.left, self.late)

    @property
    def goes_to_owner(self) -> bool:
        return self.follow_up.snoozes >= SNOOZES_BEFORE_OWNER

    @property
    def last(self) -> ContactAttempt | None:
        return self.attempts[0] if self.attempts else None


@dataclass
class Group:
    """One harm, worst first; empty groups stay as one quiet line."""

    harm: int
    label: str
    total: int = 0
    late: int = 0
    rows: list[Row] = field(default_factory=list)


class CountedPages(Paginator):  # type: ignore[type-arg] # it takes none when it runs
    """Pages of rows that are counted already."""

    def __init__(self, rows: FollowUpQuerySet, per_page: int, *, count: int) -> None:
        super().__init__(rows, per_page)
        self.count = count


def count_put_off(today: date) -> dict[str, int]:
    """How many promises are put off, and how many of them are past their window."""
    rows = FollowUp.objects.put_off_on(today)
    return rows.aggregate(total=Count("pk"), late=Count("pk", filter=past_window(today)))


def rows_of(
    follow_ups: Iterable[FollowUp], today: date, people: dict[int, Customer] | None = None
) -> list[Row]:
    """Rows with whom to call and what was tried: two more queries, however many rows."""
    rows = [Row(follow_up, today) for follow_up in follow_ups]
    if people is None:
        people = SiteTenure.objects.contacts(sites_of(follow_ups), today)
    tried: dict[int | None, list[ContactAttempt]] = {}
    for attempt in ContactAttempt.objects.filter(follow_up__in=[r.follow_up.pk for r in rows]):
        tried.setdefault(attempt.follow_up_id, []).append(attempt)
    for row in rows:
        if row.follow_up.site_id:
            row.customer = people.get(row.follow_up.site_id)
        row.attempts = tried.get(row.follow_up.pk, [])
    return rows


def sites_of(follow_ups: Iterable[FollowUp]) -> set[int]:
    return {row.site_id for row in follow_ups if row.site_id}


def counted(due: FollowUpQuerySet, today: date) -> dict[int, Group]:
    groups = {harm: Group(harm, str(label)) for harm, label in FollowUpRule.Harm.choices}
    late = Count("pk", filter=past_window(today))
    for found in due.order_by().values("terms__harm").annotate(total=Count("pk"), late=late):
        groups[found["terms__harm"]].total = found["total"]
        groups[found["terms__harm"]].late = found["late"]
    return groups


def page_of(groups: dict[int, Group], due: FollowUpQuerySet, number: str | None) -> Page[FollowUp]:
    """One page of rows."""
    total = sum(group.total for group in groups.values())
    rows = due.with_site().select_related("visit__lead")
    page = CountedPages(rows, ROWS, count=total).get_page(number)
    page.object_list = list(page.object_list)
    return page


def list_of(due: FollowUpQuerySet, number: str | None, now: datetime) -> dict[str, object]:
    """What the worklist shows: promises in their groups, calls, what is loose."""
    today = company_day(now)
    groups, visits = counted(due, today), visits_to_call(now)
    page = page_of(groups, due, number)
    sites = sites_of(page.object_list) | {visit.job.site_id for visit in visits}
    people = SiteTenure.objects.contacts(sites, today)
    for row in rows_of(page.object_list, today, people):
        groups[row.follow_up.terms.harm].rows.append(row)
    return {
        "today": today,
        "now": now,
        "page_obj": page,
        "groups": list(groups.values()),
        "put_off": count_put_off(today),
        "calls": calls_of(visits, people),
        "calls_in_all": count_to_call(visits, now),
        "loose": loose_ends(),
    }


def offered(follow_up: FollowUp, people: list[User], now: datetime) -> list[FreeTime]:
    return nearest(
        first_choice=first_choice(follow_up),
        people=people,
        minutes=follow_up.terms.minutes,
        due_on=follow_up.due_on,
        window=(follow_up.window_from, follow_up.window_until),
        now=now,
        company=Company.load(),
    )


def first_choice(follow_up: FollowUp) -> User | None:
    """Who did the work the promise comes from, else who fitted the system."""
    if follow_up.from_visit_id:
        visit = follow_up.from_visit
        return visit.lead if visit else None
    return follow_up.train.installed_by if follow_up.train else None
