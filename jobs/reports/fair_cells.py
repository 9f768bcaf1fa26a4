"""From counted cells of the callback report to the table of jobs and callbacks, and to causes."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import timedelta

from .callback_jobs import JUDGEABLE, Alike, Selection
from .fair_table import Table, table_of


def work_table(cells: Iterable[Alike]) -> Table:
    """Judged jobs by person and class: kind of system with raw water. In a settled order."""
    found: dict[tuple[int, tuple[str, str]], tuple[int, int]] = {}
    for cell in cells:
        if cell.state != JUDGEABLE:
            continue
        key = cell.installer, (cell.kind, cell.water)
        jobs, called = found.get(key, (0, 0))
        found[key] = jobs + cell.jobs, called + (cell.jobs if cell.cause else 0)
    return table_of({key: found[key] for key in sorted(found)})


def causes_of(cells: Iterable[Alike], people: Iterable[int]) -> Counter[str]:
    """Causes of the callbacks to judged jobs of these people."""
    wanted, tally = set(people), Counter[str]()
    for cell in cells:
        if cell.state == JUDGEABLE and cell.cause and cell.installer in wanted:
            tally[cell.cause] += cell.jobs
    return tally


def period_before(selection: Selection) -> Selection:
    """As long, ending the day before it begins; looked at on the same day."""
    judged_until = min(selection.until, selection.judged_until)
    until = selection.since - timedelta(days=1)
    since = until - max(judged_until - selection.since, timedelta(0))
    return Selection(since, until, selection.window_days, selection.today)
