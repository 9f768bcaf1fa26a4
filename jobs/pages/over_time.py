"""The callback page over time: a row of ticks a person, and the company's share called back by day.

Coordinates are worked out here; each drawing has its words and a table beside it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from datetime import date

from jobs.models.facts import number_of
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import Person, Report
from jobs.reports.fair_course import FEW_FOLLOWED, Course, Tick, course_of, row_of_ticks, since_last
from jobs.reports.over_time import NEWEST, Newest, endings, new_rules_since, newest_jobs
from jobs.wording.fairness import since_last as since_last_words

STEP, HEIGHT = 9, 18
LEFT, RIGHT, TOP, BOTTOM = 36, 390, 12, 140
#: the scale ends at a multiple of this share
SCALE = 0.05


@dataclass(frozen=True)
class Drawn:
    """A tick and its place."""

    x: int
    tick: Tick


@dataclass(frozen=True)
class Row:
    person: Person
    ticks: tuple[Drawn, ...]
    #: where new rules for the kind of work begin
    change: int | None
    said: str


@dataclass(frozen=True)
class Mark:
    """One line of the table beside the curve; shares are None where too few are followed."""

    day: int
    x: float
    followed: int
    called: float | None
    lost: float | None
    had_nobody_left: float | None


@dataclass(frozen=True)
class OverTime:
    rows: tuple[Row, ...]
    width: int
    newest: int
    #: path of the curve and of its band; empty where too few jobs are followed to draw one
    curve: str
    band: str
    top: float
    marks: tuple[Mark, ...]
    #: (share, low, high, lost) on the last day drawn, and that day
    last: tuple[float, float, float, float] | None
    last_day: int
    changed_on: date | None


def over_time(report: Report) -> OverTime:
    """Nothing is joined across a change of the rules: the curve begins with it."""
    selection = report.selection
    changed_on = _change_within(selection)
    jobs = newest_jobs(selection, [each.pk for each in report.people])
    if changed_on:
        ends = endings(replace(selection, since=changed_on))
    else:
        ends = endings(selection, report.total.judgeable - report.total.callbacks)
    course = course_of(ends, until=selection.window_days)
    drawn = course.drawn if course.stops_on != 0 else ()
    top = max(2 * SCALE, SCALE * math.ceil(max((s.high for s in drawn), default=0) / SCALE))
    stop = min(selection.window_days, (course.stops_on or selection.window_days + 1) - 1)
    last = drawn[-1] if drawn else None
    return OverTime(
        rows=tuple(_row(each, jobs.get(each.pk, []), changed_on) for each in report.people),
        width=NEWEST * STEP + STEP,
        newest=NEWEST,
        curve=_path(course, stop, top, selection.window_days, "called"),
        band=_band(course, stop, top, selection.window_days),
        top=top,
        marks=tuple(_mark(course, *each, selection.window_days) for each in _marks(course, stop)),
        last=(last.called, last.low, last.high, last.lost) if last else None,
        last_day=stop,
        changed_on=changed_on,
    )


def _change_within(selection: Selection) -> date | None:
    day = new_rules_since()
    return day if day and selection.since < day <= selection.until else None


def _row(person: Person, jobs: list[Newest], changed_on: date | None) -> Row:
    ticks = row_of_ticks(jobs)
    count, called_before = since_last(ticks)
    change = None
    if changed_on:
        before = sum(job.day < number_of(changed_on) for job in jobs)
        change = before * STEP if 0 < before < len(ticks) else None
    drawn = tuple(Drawn(n * STEP + 2, tick) for n, tick in enumerate(ticks))
    return Row(person, drawn, change, since_last_words(count, called_before=called_before))


def _marks(course: Course, stop: int) -> list[tuple[int, int, bool]]:
    return [
        (day, followed, day <= stop and bool(course.steps)) for day, followed in course.followed
    ]


def _mark(course: Course, day: int, followed: int, is_told: bool, window: int) -> Mark:
    x = _x(day, window)
    step = course.at(day)
    if not is_told or followed < FEW_FOLLOWED:
        return Mark(day, x, followed, None, None, None)
    if step is None:
        return Mark(day, x, followed, 0.0, 0.0, 0.0)
    return Mark(day, x, followed, step.called, step.lost, step.had_nobody_left)


def _x(day: int, window: int) -> float:
    return round(LEFT + (RIGHT - LEFT) * day / window, 1)


def _y(share: float, top: float) -> float:
    return round(BOTTOM - (BOTTOM - TOP) * min(share, top) / top, 1)


def _path(course: Course, stop: int, top: float, window: int, of: str) -> str:
    """Steps, never smoothed."""
    if course.stops_on == 0:
        return ""
    parts = [f"M{LEFT} {_y(0, top)}"]
    parts += [f"H{_x(step.day, window)}V{_y(getattr(step, of), top)}" for step in course.drawn]
    return "".join([*parts, f"H{_x(stop, window)}"])


def _band(course: Course, stop: int, top: float, window: int) -> str:
    """Between the limits of each step, there and back."""
    if not course.drawn or course.stops_on == 0:
        return ""
    steps = course.drawn
    ends = [*(step.day for step in steps[1:]), stop]
    boxes = [
        f"M{_x(step.day, window)} {_y(step.low, top)}H{_x(end, window)}"
        f"V{_y(step.high, top)}H{_x(step.day, window)}Z"
        for step, end in zip(steps, ends, strict=True)
    ]
    return "".join(boxes)
