"""The callback report beside its recount: every figure of it, for each window of each period."""

import math
from dataclasses import astuple
from datetime import date

from jobs.reports.callback_jobs import WINDOWS, Selection
from jobs.reports.callbacks import callback_report

from .random_company import BEGIN, TODAY
from .recount import recount

PERIODS = [(BEGIN, TODAY), (date(2025, 7, 1), date(2025, 12, 31))]
COUNTS = (
    "judgeable",
    "recent",
    "left",
    "removed",
    "callbacks",
    "workmanship",
    "unknown",
    "defects",
    "outside",
)


def selections():
    return [Selection(*period, window, TODAY) for period in PERIODS for window in WINDOWS]


def differences(company, selection):
    """(what, report, by hand) of every figure that is not the same."""
    found = callback_report(selection)
    told = (selection.since, selection.until, selection.window_days, selection.today)
    again = recount(company, *told)
    pairs = list(_pairs(found, again))
    return [(selection, *pair) for pair in pairs if not _alike(*pair[1:])]


def figures(selection):
    """How many figures are compared; people and strata count with each of theirs."""
    found = callback_report(selection)
    return len(found.people) * (len(COUNTS) + 3) + len(COUNTS) + 3 * len(found.strata) + 6


def _alike(one, other):
    if isinstance(one, float):
        return math.isclose(one, other, rel_tol=1e-9, abs_tol=1e-12)
    return one == other


def _pairs(found, again):
    yield "people", {person.pk for person in found.people}, set(again.people)
    for person in found.people:
        yield from _person(person, again)
    for name in COUNTS:
        of_all = sum(counts[name] for counts in again.people.values())
        yield f"all: {name}", getattr(found.total, name), of_all
    yield "returns", found.returns, again.returns.total()
    yield (
        "kinds of work",
        {astuple(row)[:2]: astuple(row)[2:] for row in found.strata},
        {
            key: (row["judgeable"], row["callbacks"], row["workmanship"])
            for key, row in again.strata.items()
        },
    )
    yield "causes", {line.cause: line.jobs for line in found.causes}, dict(again.causes)
    yield "taken over", found.inherited, again.inherited
    yield "not sure", found.not_sure, again.not_sure
    yield "days followed", found.days_followed, again.days


def _person(person, again):
    by_hand, who = again.people[person.pk], person.name
    for name in COUNTS:
        yield f"{who}: {name}", getattr(person.counts, name), by_hand[name]
    yield f"{who}: returns", person.returns, again.returns[person.pk]
    excluded = again.excluded.get(person.pk, {})
    excluded = {key.replace("n", "?"): jobs for key, jobs in excluded.items()}
    yield f"{who}: excluded", dict(person.excluded), excluded
    yield (
        f"{who}: expected",
        float(person.expected),
        float(
            sum(
                jobs * again.strata[key[1:]]["callbacks"] / again.strata[key[1:]]["judgeable"]
                for key, jobs in by_hand.items()
                if isinstance(key, tuple)
            )
        ),
    )
