"""What became of the jobs over time: endings of the company by day, newest jobs of each person.

Contents: endings, Newest, newest_jobs, NEWEST, new_rules_since.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date
from typing import NamedTuple

from django.db.models import Count, F, Value

from jobs.models import Follow, HandoverFact
from jobs.models.company import company_day
from jobs.models.facts import CARRIED_METHOD, number_of
from jobs.together import together

from .callback_jobs import Described, Selection, ended_in_window, in_period
from .fair_course import CALLED, GONE, JUDGED, LOST, OPEN, RECENT, Ending

#: jobs of a person that are drawn
NEWEST = 40


class Newest(NamedTuple):
    """One job of a row of ticks."""

    day: int
    job: int
    state: str
    called: bool


def endings(selection: Selection, whole: int | None = None) -> list[Ending]:
    """How the time of each job of the period ended, and on which day after handover.

    The too recent jobs count for the days they were followed: open ends of today. `whole` is how
    many were followed to the end of the window, where a report has counted them.
    """
    rows, today, window = in_period(selection), number_of(selection.today), selection.window_days
    ended = ended_in_window(selection, rows).values_list("ended", "how").order_by()
    found = [
        Ending(day, CALLED if how == Follow.How.CALLBACK else LOST, jobs)
        for day, how, jobs in ended.annotate(jobs=Count("*"))
    ]
    last = number_of(selection.judged_until)
    if whole is None:
        whole = rows.filter(day__lte=last, ended__gt=window).count()
    short = (
        rows.filter(day__gt=last, day__lte=today, ended__gt=Value(today) - F("day"))
        .values_list("day")
        .annotate(jobs=Count("*"))
        .order_by()
    )
    return [*found, Ending(window, OPEN, whole), *(Ending(today - d, OPEN, n) for d, n in short)]


def newest_jobs(selection: Selection, people: Iterable[int]) -> dict[int, list[Newest]]:
    """The newest jobs of each person, the oldest of them first, and what became of each."""
    today, window = number_of(selection.today), selection.window_days
    found: dict[int, list[Newest]] = {}
    for who, job, day, ended, how in together([_newest(selection, who) for who in people]):
        is_over = how and ended <= min(window, today - day)
        called = bool(is_over and how == Follow.How.CALLBACK)
        state = JUDGED if day <= today - window else RECENT
        if is_over and not called:
            state = GONE
        found.setdefault(who, []).append(Newest(day, job, state, called))
    return {who: sorted(jobs) for who, jobs in found.items()}


def _newest(selection: Selection, installer: int) -> Described:
    """Of one person, so that an index holds them in order: nobody's other jobs are read."""
    rows = in_period(selection).filter(installer=installer).order_by("-day", "-job")
    told: Described = rows.values_list("installer", "job", "day", "ended", "how")[:NEWEST]
    return told


def new_rules_since() -> date | None:
    """The day from which kind of work and raw water are frozen at handover; None if always."""
    first = HandoverFact.objects.order_by("pk").values_list("method", "recorded_at").first()
    return company_day(first[1]) if first and first[0] == CARRIED_METHOD else None
