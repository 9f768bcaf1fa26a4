"""The worklist: promises that are due, by the harm they prevent, with whom to call."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime

from django.core.paginator import Page, Paginator
from django.db.models import Q
from django.http import QueryDict

from jobs.forms.worklist import WorklistFilter
from jobs.models import ContactAttempt, Customer, FollowUp, FollowUpRule, SiteTenure
from jobs.models.company import company_day
from jobs.models.follow_ups import FollowUpQuerySet
from jobs.schedule.waiting import Waiting, waiting_visits
from jobs.wording.days import days_left
from jobs.wording.names import person
from jobs.workflows.follow_ups import SNOOZES_BEFORE_OWNER

from .attempts import again, tries_in_vain
from .loose_ends import loose_ends
from .phone_calls import waiting_calls
from .visit_calls import AwayDay, NeedsCall, away_days, calls_of, count_to_call, visits_to_call
from .worklist_parts import (
    CALLS,
    PUT_OFF,
    WAITS,
    count_put_off,
    counts_by_harm,
    part_asked,
    part_on,
    parts_of,
    with_tries,
)

#: promises of one page
ROWS = 50
#: calls shown above the promises; the rest stands behind its count
CALLS_SHOWN = 8


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
    def is_put_off(self) -> bool:
        until = self.follow_up.snoozed_until
        return until is not None and until > self.today

    @property
    def goes_to_owner(self) -> bool:
        return self.follow_up.snoozes >= SNOOZES_BEFORE_OWNER

    @property
    def last(self) -> ContactAttempt | None:
        return self.attempts[0] if self.attempts else None

    @property
    def in_vain(self) -> int:
        return tries_in_vain(self.attempts)

    @property
    def again(self) -> str:
        return again(self.attempts, self.today)

    @property
    def handled_by(self) -> str:
        """Who goes there, who decides, or who tried last; "" where nobody has yet."""
        if self.follow_up.rule.is_review or self.goes_to_owner:
            return "the owner"
        if self.follow_up.visit:
            return person(self.follow_up.visit.lead)
        return person(self.last.by) if self.last else ""


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


def rows_of(
    follow_ups: Iterable[FollowUp],
    today: date,
    people: dict[int, Customer] | None = None,
    calls: Iterable[NeedsCall] = (),
) -> list[Row]:
    """Rows with whom to call and what was tried: two more queries, however many rows.

    What was tried for the visits of `calls` is put there by the same query.
    """
    rows, calls = [Row(follow_up, today) for follow_up in follow_ups], list(calls)
    if people is None:
        people = SiteTenure.objects.contacts(sites_of(follow_ups), today)
    asked = Q(follow_up__in=[row.follow_up.pk for row in rows])
    if calls:
        asked |= Q(visit__in=[call.visit.pk for call in calls])
    promised: dict[int | None, list[ContactAttempt]] = {}
    visited: dict[int | None, list[ContactAttempt]] = {}
    for attempt in ContactAttempt.objects.filter(asked).select_related("by"):
        promised.setdefault(attempt.follow_up_id, []).append(attempt)
        visited.setdefault(attempt.visit_id, []).append(attempt)
    for row in rows:
        if row.follow_up.site_id:
            row.customer = people.get(row.follow_up.site_id)
        row.attempts = promised.get(row.follow_up.pk, [])
    for call in calls:
        call.today, call.attempts = today, visited.get(call.visit.pk, [])
    return rows


def sites_of(follow_ups: Iterable[FollowUp]) -> set[int]:
    return {row.site_id for row in follow_ups if row.site_id}


def groups_of(counts: dict[int, dict[str, int]]) -> dict[int, Group]:
    """The groups with how many rows of each are shown."""
    groups = {harm: Group(harm, str(label)) for harm, label in FollowUpRule.Harm.choices}
    for harm, found in counts.items():
        groups[harm].total, groups[harm].late = found["shown"], found["shown_late"]
    return groups


def page_of(groups: dict[int, Group], due: FollowUpQuerySet, number: str | None) -> Page[FollowUp]:
    """One page of rows."""
    total = sum(group.total for group in groups.values())
    rows = due.with_site().select_related("visit__lead")
    page = CountedPages(rows, ROWS, count=total).get_page(number)
    page.object_list = list(page.object_list)
    return page


def list_of(asked: QueryDict, now: datetime) -> dict[str, object]:
    """What the worklist shows: who needs a call, promises in their groups, what is loose."""
    today, show = company_day(now), part_asked(asked.get("show", ""))
    sieve, visits = WorklistFilter(asked), visits_to_call(now)
    loose = loose_ends(now)
    waits = list(waiting_visits(now).values()) if loose.waits else []
    due = sieve.narrow(FollowUp.objects.to_do_on(today))
    counts, in_all = counts_by_harm(due, show, today), count_to_call(visits, now)
    parts = parts_of(
        counts, show=show, calls=in_all, waits=len(waits), put_off=count_put_off(today)
    )
    if show == PUT_OFF:
        due = sieve.narrow(FollowUp.objects.put_off_on(today))
        counts = counts_by_harm(due, show, today)
    if show in (CALLS, WAITS):
        due, counts = due.none(), {}
    groups = groups_of(counts)
    page = page_of(groups, with_tries(due).filter(part_on(show, today)), asked.get("page"))
    sites = sites_of(page.object_list) | {visit.job.site_id for visit in visits}
    people = SiteTenure.objects.contacts(sites, today)
    away, calls = shown_calls(calls_of(visits, people), show, page.number)
    for row in rows_of(page.object_list, today, people, calls):
        groups[row.follow_up.terms.harm].rows.append(row)
    return {
        "today": today,
        "now": now,
        "page_obj": page,
        "groups": list(groups.values()),
        "parts": parts,
        "sieve": sieve,
        "show": show,
        "away": away,
        "calls": calls,
        "waits": shown_waits(waits, show, page.number),
        "waits_in_all": len(waits),
        "calls_shown": len(calls) + sum(len(day.visits) for day in away),
        "calls_in_all": in_all,
        "callers": waiting_calls() if loose.callers else [],
        "loose": loose,
    }


def shown_waits(waits: list[Waiting], show: str, number: int) -> list[Waiting]:
    """All of them where they are looked at; on the whole list those that want an act."""
    if show == WAITS:
        return waits
    return [row for row in waits if row.needs_act] if not show and number == 1 else []


def shown_calls(
    calls: list[NeedsCall], show: str, number: int
) -> tuple[list[AwayDay], list[NeedsCall]]:
    """All of them where they are looked at; the first on top of the whole list; none beside."""
    away, others = away_days(calls)
    if show == CALLS:
        return away, others
    if show or number > 1:
        return [], []
    away = away[:CALLS_SHOWN]
    return away, others[: CALLS_SHOWN - len(away)]
