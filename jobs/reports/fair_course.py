"""Over time: share called back by day with loss as an ending of its own, and a row of ticks.

Contents: Ending, Course, course_of, Tick, row_of_ticks, since_last. Steps, never smoothed; the
curve stops where few are followed. There is no curve of a person.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import NamedTuple

from .limits import LOG_LOG, survival_limits, z_of

CONFIDENCE = 0.95
CALLED, LOST, OPEN = "called back", "lost", "still followed"
#: followed below which the curve stops (common practice, no source)
FEW_FOLLOWED = 10
#: days under which the numbers followed are printed
MARKS = (0, 30, 60, 90)


class Ending(NamedTuple):
    """So many jobs whose time ended in this way on this day after handover."""

    day: int
    how: str
    jobs: int = 1


@dataclass(frozen=True)
class Step:
    """From this day on, until the next step."""

    day: int
    called: float
    lost: float
    #: called back had nobody left: one minus Kaplan-Meier with losses as open ends
    had_nobody_left: float
    error: float
    low: float
    high: float

    @property
    def neither(self) -> float:
        return 1 - self.called - self.lost


@dataclass(frozen=True)
class Course:
    """`stops_on`: the day from which fewer are followed than is drawn; None without an end."""

    steps: tuple[Step, ...]
    followed: tuple[tuple[int, int], ...]
    stops_on: int | None

    def at(self, day: int) -> Step | None:
        """The step that holds on that day; None before the first."""
        held = [step for step in self.steps if step.day <= day]
        return held[-1] if held else None

    @property
    def drawn(self) -> tuple[Step, ...]:
        return tuple(
            step for step in self.steps if self.stops_on is None or step.day < self.stops_on
        )


class _Day(NamedTuple):
    day: int
    followed: int
    called: int
    lost: int
    before: float


def course_of(endings: Iterable[Ending], *, until: int | None = None) -> Course:
    """Aalen-Johansen: F(t) = sum of S(u-) d1 / r over the days up to t, S of all endings.

    Jobs that end on a day count as followed on it. Variance after Gaynor et al. 1993, limits by
    log(-log F). `until` leaves out later days.
    """
    rows = sorted(each for each in endings if each.jobs)
    days = _days(rows)
    shown = [day for day in days if until is None or day.day <= until]
    steps = tuple(_steps(shown))
    return Course(
        steps=steps,
        followed=tuple((mark, _followed(rows, mark)) for mark in MARKS),
        stops_on=_stops_on(rows),
    )


def _days(rows: Sequence[Ending]) -> list[_Day]:
    followed, share, found = sum(row.jobs for row in rows), 1.0, []
    for day, group in groupby(rows, key=lambda row: row.day):
        same = list(group)
        called = sum(row.jobs for row in same if row.how == CALLED)
        lost = sum(row.jobs for row in same if row.how == LOST)
        if called or lost:
            found.append(_Day(day, followed, called, lost, share))
            share *= (followed - called - lost) / followed
        followed -= sum(row.jobs for row in same)
    return found


def _steps(days: Sequence[_Day]) -> Iterable[Step]:
    called = lost = 0.0
    still, levels, z = 1.0, [], z_of(CONFIDENCE)
    for place, day in enumerate(days):
        called += day.before * day.called / day.followed
        lost += day.before * day.lost / day.followed
        still *= (day.followed - day.called) / day.followed
        levels.append(called)
        error = math.sqrt(max(0.0, _variance(days[: place + 1], levels)))
        low, high = survival_limits(called, error, z, LOG_LOG) if 0 < called < 1 else (None, None)
        yield Step(
            day=day.day,
            called=called,
            lost=lost,
            had_nobody_left=1 - still,
            error=error,
            low=called if low is None else low,
            high=called if high is None else high,
        )


def _variance(days: Sequence[_Day], levels: Sequence[float]) -> float:
    """Of the last level; a day on which all who were followed ended adds no first term."""
    last, parts = levels[-1], []
    for day, level in zip(days, levels, strict=True):
        ended, r = day.called + day.lost, day.followed
        above = last - level
        if above:
            parts.append(above**2 * ended / (r * (r - ended)))
        parts.append(day.before**2 * day.called * (r - day.called) / r**3)
        parts.append(-2 * above * day.before * day.called / r**2)
    return math.fsum(parts)


def _followed(rows: Sequence[Ending], day: int) -> int:
    """Jobs not ended before that day."""
    return sum(row.jobs for row in rows if row.day >= day)


def _stops_on(rows: Sequence[Ending]) -> int | None:
    """The first day on which fewer are followed than is drawn."""
    days = sorted({0, *(row.day + 1 for row in rows)})
    return next((day for day in days if _followed(rows, day) < FEW_FOLLOWED), None)


JUDGED, RECENT, GONE = "judged", "too recent", "lost"


class Tick(NamedTuple):
    """One job: filled when called back, pale when too recent, crossed when lost."""

    job: Hashable
    state: str
    called: bool


def row_of_ticks(jobs: Iterable[tuple[int, Hashable, str, bool]]) -> tuple[Tick, ...]:
    """From (day of handover, job, state, called back), oldest first."""
    ordered = sorted(jobs, key=lambda each: each[0])
    return tuple(Tick(job, state, called) for _, job, state, called in ordered)


def since_last(ticks: Sequence[Tick]) -> tuple[int, bool]:
    """Judged jobs without a callback since the last callback, and whether there was one.

    Jobs that have not had their whole window say nothing yet, and lost ones never will.
    """
    count = 0
    for tick in reversed(ticks):
        if tick.called:
            return count, True
        count += tick.state == JUDGED
    return count, False
