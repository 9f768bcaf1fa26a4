"""What a rule would have made of the last three months, beside the rule as it stands."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from jobs.models import FollowUpRule, Happening, RuleContent, Visit
from jobs.models.company import company_day
from jobs.workflows.follow_up_dates import Dates, ways_of
from jobs.workflows.follow_ups import visit_keeps
from jobs.workflows.promised import About, promised

DAYS = 90
FIRST = 10
#: the newest of so many events and visits are tried; a page has to be quick
MOST = 2000


@dataclass(frozen=True)
class Would:
    """One promise that would have been made, beside what the rule of today made of the same."""

    happening: Happening
    dates: Dates
    today: Dates | None

    @property
    def is_moved(self) -> bool:
        return self.today is not None and self.today != self.dates


@dataclass(frozen=True)
class Trial:
    since: date
    until: date
    #: (what happened, how often), of what the rule looks at
    events: list[tuple[str, int]]
    first: list[Would]
    made: int
    houses: int
    #: months in which they are due: (first day, how many, how many by the rule of today)
    months: list[tuple[date, int, int]]
    made_today: int
    added: int
    dropped: int
    moved: int
    #: visits of these days that would have kept one; None where no visit keeps it
    keeping_visits: int | None

    @property
    def is_same(self) -> bool:
        return not (self.added or self.dropped or self.moved)


Key = tuple[int, str]
Made = dict[Key, tuple[Happening, Dates]]


def try_rule(rule: RuleContent, standing: RuleContent | None, *, now: datetime) -> Trial:
    """`standing` is what the rule says today, None for a new one. Nothing is written."""
    until = company_day(now)
    since = until - timedelta(days=DAYS)
    rows = _lately(
        since, {way["event"] for each in (rule, standing) if each for way in ways_of(each)}
    )
    new = _made(rule, rows)
    old = _made(standing, rows) if standing else {}
    would = [
        Would(row, dates, old[key][1] if key in old else None) for key, (row, dates) in new.items()
    ]
    asked = {way["event"] for way in ways_of(rule)}
    counts = Counter(row.event for row in rows)
    return Trial(
        since=since,
        until=until,
        events=[
            (str(event.label), counts[event]) for event in FollowUpRule.Event if event in asked
        ],
        first=would[:FIRST],
        made=len(new),
        houses=len({row.site_id for row, _ in new.values()}),
        months=_months(new, old),
        made_today=len(old),
        added=len(new.keys() - old.keys()),
        dropped=len(old.keys() - new.keys()),
        moved=sum(each.is_moved for each in would),
        keeping_visits=_keeping(rule, since),
    )


def _lately(since: date, events: Iterable[str]) -> list[Happening]:
    rows = Happening.objects.filter(day__gte=since, event__in=list(events))
    newest = rows.select_related("site", "train", "stage__train", "sample__site", "visit")
    return list(newest.order_by("-day", "-pk")[:MOST])[::-1]


def _made(rule: RuleContent, rows: Iterable[Happening]) -> Made:
    """As the workflow does it: what stands for the same day is no new promise."""
    found: Made = {}
    standing: dict[str, date] = {}
    for row in rows:
        about = About.of(row)
        for subject, dates in promised(rule, row.event, about=about, day=row.day, facts=row.facts):
            if standing.get(subject.key) != dates.due_on:
                standing[subject.key] = dates.due_on
                found[row.pk, subject.key] = (row, dates)
    return found


def _months(new: Made, old: Made) -> list[tuple[date, int, int]]:
    counts = [
        Counter(dates.due_on.replace(day=1) for _, dates in each.values()) for each in (new, old)
    ]
    return [
        (month, counts[0][month], counts[1][month]) for month in sorted({*counts[0], *counts[1]})
    ]


def _keeping(rule: RuleContent, since: date) -> int | None:
    if rule.closing != FollowUpRule.Closing.VISIT:
        return None
    rows = Visit.objects.filter(status=Visit.Status.CLOSED, starts_at__date__gte=since)
    newest = rows.select_related("job").order_by("-starts_at")[:MOST]
    return sum(visit_keeps(rule, visit, carried=True) for visit in newest)
