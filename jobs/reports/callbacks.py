"""Callbacks per installer: counted in the database, weighed with the statistics.

Contents: Report, Person, Interval, Stratum, CauseLine, callback_report. Persons stand in
alphabetical order; nothing here sorts or marks a person by a rate.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from django.contrib.auth.models import User
from django.db.models import Count

from jobs.models import Job

from . import callback_jobs
from .callback_jobs import (
    JUDGEABLE,
    LEFT,
    NOT_CODED,
    OFF,
    RECENT,
    RECHECK_MISSED,
    REMOVED,
    Alike,
    Selection,
)
from .corrected import SHARE_SAID, Corrected, corrected
from .limits import poisson_limits
from .statistics import CONFIDENCE, FEW_EXPECTED, FEW_JOBS, callback_rate, observed_expected
from .water_classes import WATERS

#: more callbacks without a known cause than this share: the causes say little
UNKNOWN_ALARM = 0.10


class Group(NamedTuple):
    name: str
    counts: bool
    why: str


GROUPS: dict[str, Group] = {
    "A": Group("workmanship", True, "counts as workmanship"),
    "B": Group("setting", True, "counts as workmanship"),
    "R": Group("recheck missed", False, "the office's recheck was overdue at the report"),
    "C": Group("design", False, "counts for the design, not for the installer"),
    "D": Group("survey or water test", False, "counts for the survey"),
    "E": Group("equipment", False, "a part failed: a matter for the supplier"),
    "F": Group("solution or salt", False, "a matter of the refill, the office's or the customer's"),
    "G": Group("source", False, "the well or its water changed"),
    "H": Group("house plumbing", False, "not our work"),
    "I": Group("customer or others", False, "changed after we left"),
    "J": Group("explaining", False, "shown apart: quality of the handover"),
    "K": Group("no fault found", False, "shown apart"),
    "L": Group("not known", False, "shown apart; many of them spoil the list of causes"),
    "?": Group("cause not entered yet", False, "the callback is not closed"),
}
#: nobody could name the cause, or nobody did so yet: beside the rate, never left out of it
UNKNOWN_GROUPS = ("L", "?")
#: stand last in the list of causes whatever their size
LAST_GROUPS = ("K", "L", "?")


def group_of(cause: str) -> str:
    return "?" if cause == NOT_CODED else cause[:1]


def cause_label(cause: str) -> str:
    if cause == RECHECK_MISSED:
        return "recheck missed, oxidant setting"
    return GROUPS["?"].name if cause == NOT_CODED else str(Job.Cause(cause).label)


def is_workmanship(cause: str | None) -> bool:
    return cause is not None and GROUPS[group_of(cause)].counts


@dataclass(frozen=True)
class Interval:
    value: float
    low: float
    high: float


@dataclass(frozen=True)
class Counts:
    judgeable: int = 0
    recent: int = 0
    left: int = 0
    removed: int = 0
    off: int = 0
    callbacks: int = 0
    workmanship: int = 0
    #: callbacks whose cause nobody has named
    unknown: int = 0
    defects: int = 0
    #: callbacks of jobs that are too recent: seen, in no rate; after a loss there is none to count
    outside: int = 0

    @property
    def jobs(self) -> int:
        return self.judgeable + self.recent + self.lost

    @property
    def lost(self) -> int:
        return self.left + self.removed + self.off

    @property
    def excluded(self) -> int:
        return self.callbacks - self.workmanship - self.unknown

    @property
    def rate(self) -> Interval | None:
        return rate_of(self.callbacks, self.judgeable)

    @property
    def workmanship_rate(self) -> Interval | None:
        return rate_of(self.workmanship, self.judgeable)


@dataclass(frozen=True)
class Person:
    pk: int
    name: str
    counts: Counts
    excluded: tuple[tuple[str, int], ...]  # (group, jobs) of what is not workmanship
    expected: float
    ratio: Interval | None
    returns: int  # every callback in the window, repeats included
    withdrawn: int = 0
    recoded: int = 0

    @property
    def much_corrected(self) -> bool:
        seen = self.counts.callbacks + self.counts.outside + self.withdrawn
        return self.withdrawn + self.recoded > SHARE_SAID * seen


@dataclass(frozen=True)
class Stratum:
    kind: str
    water: str
    judgeable: int
    callbacks: int
    workmanship: int


@dataclass(frozen=True)
class CauseLine:
    cause: str
    group: str
    label: str
    jobs: int
    share: float
    running: float


@dataclass(frozen=True)
class Report:
    selection: Selection
    people: tuple[Person, ...]
    total: Counts
    strata: tuple[Stratum, ...]
    groups: tuple[CauseLine, ...]  # Pareto: one line for each group
    causes: tuple[CauseLine, ...]
    inherited: int
    not_sure: int
    returns: int
    cells: tuple[callback_jobs.Alike, ...]
    #: days that every job was followed: to its callback, its loss, the end of the window or today
    days_followed: int
    #: jobs about which something was put right afterwards
    corrected: int = 0

    @property
    def theta(self) -> float | None:
        """The company's rate of callbacks."""
        total = self.total
        return total.callbacks / total.judgeable if total.judgeable else None

    @property
    def per_1000_days(self) -> Interval | None:
        if not self.days_followed:
            return None
        seen = self.total.callbacks + self.total.outside
        low, high = poisson_limits(seen, CONFIDENCE)
        scale = 1000 / self.days_followed
        return Interval(seen * scale, low * scale, high * scale)

    @property
    def unknown_alarm(self) -> bool:
        unknown = sum(line.jobs for line in self.groups if line.group == "L")
        return unknown > UNKNOWN_ALARM * self.total.callbacks


def rate_of(callbacks: int, jobs: int) -> Interval | None:
    """Rate with Wilson limits; None where so few jobs stand that only the count says anything."""
    if jobs < FEW_JOBS:
        return None
    found = callback_rate(callbacks=callbacks, jobs=jobs)
    return Interval(found.rate, found.low, found.high)


def ratio_of(observed: int, expected: float) -> Interval | None:
    """Observed by expected with exact limits; None below one expected callback."""
    if expected < FEW_EXPECTED:
        return None
    found = observed_expected(observed=observed, expected=expected)
    return Interval(found.ratio, found.low, found.high)


def callback_report(selection: Selection) -> Report:
    """Three questions to the database, however many jobs there are."""
    cells = callback_jobs.cells(selection)
    returns, not_sure = _reports(selection)
    defects, changed = callback_jobs.defects(selection), corrected(selection)
    return Report(
        selection=selection,
        people=_people(cells, returns, defects, changed),
        total=_counts(cells, defects.total()),
        strata=_strata(cells),
        groups=_pareto(cells, by_group=True),
        causes=_pareto(cells, by_group=False),
        inherited=callback_jobs.count_inherited(selection),
        not_sure=not_sure,
        returns=returns.total(),
        cells=tuple(cells),
        days_followed=sum(cell.days for cell in cells),
        corrected=changed.jobs,
    )


def _counts(cells: Iterable[Alike], defects: int = 0) -> Counts:
    tally: Counter[str] = Counter()
    for cell in cells:
        tally[cell.state] += cell.jobs
        if cell.state != JUDGEABLE:
            tally["outside"] += cell.jobs if cell.cause else 0
        elif cell.cause:
            tally["callbacks"] += cell.jobs
            tally["workmanship"] += cell.jobs if is_workmanship(cell.cause) else 0
            tally["unknown"] += cell.jobs if group_of(cell.cause) in UNKNOWN_GROUPS else 0
    return Counts(
        judgeable=tally[JUDGEABLE],
        recent=tally[RECENT],
        left=tally[LEFT],
        removed=tally[REMOVED],
        off=tally[OFF],
        callbacks=tally["callbacks"],
        workmanship=tally["workmanship"],
        unknown=tally["unknown"],
        defects=defects,
        outside=tally["outside"],
    )


def _people(
    cells: list[Alike], returns: Counter[int], defects: Counter[int], changed: Corrected
) -> tuple[Person, ...]:
    strata = {(row.kind, row.water): row for row in _strata(cells)}
    of_person: dict[int, list[Alike]] = {}
    for cell in cells:
        of_person.setdefault(cell.installer, []).append(cell)
    users = User.objects.in_bulk(list(of_person))
    people = [
        _person(users[pk], own, strata, (returns[pk], defects[pk]), changed)
        for pk, own in of_person.items()
    ]
    return tuple(sorted(people, key=lambda person: (person.name.casefold(), person.pk)))


def _person(
    user: User,
    cells: list[Alike],
    strata: dict[tuple[str, str], Stratum],
    beside: tuple[int, int],
    changed: Corrected,
) -> Person:
    returns, defects = beside
    counts = _counts(cells, defects)
    expected, excluded = 0.0, Counter[str]()
    for cell in cells:
        if cell.state != JUDGEABLE:
            continue
        stratum = strata[cell.kind, cell.water]
        expected += cell.jobs * stratum.callbacks / stratum.judgeable
        group = group_of(cell.cause) if cell.cause else ""
        if group and not GROUPS[group].counts and group not in UNKNOWN_GROUPS:
            excluded[group] += cell.jobs
    return Person(
        pk=user.pk,
        name=list_name(user),
        counts=counts,
        excluded=tuple((group, excluded[group]) for group in GROUPS if excluded[group]),
        expected=expected,
        ratio=ratio_of(counts.callbacks, expected),
        returns=returns,
        withdrawn=changed.withdrawn[user.pk],
        recoded=changed.recoded[user.pk],
    )


def list_name(user: User) -> str:
    """Surname first, for a list in the order of the alphabet."""
    if user.last_name:
        return f"{user.last_name}, {user.first_name}".rstrip(", ")
    return user.first_name or user.get_username()


def _strata(cells: Iterable[Alike]) -> tuple[Stratum, ...]:
    of: dict[tuple[str, str], list[Alike]] = {}
    for cell in cells:
        if cell.state == JUDGEABLE:
            of.setdefault((cell.kind, cell.water), []).append(cell)
    rows = []
    for kind in callback_jobs.KINDS:
        for water in WATERS:
            counts = _counts(of.get((kind, water), []))
            if counts.judgeable:
                rows.append(
                    Stratum(kind, water, counts.judgeable, counts.callbacks, counts.workmanship)
                )
    return tuple(rows)


def _pareto(cells: Iterable[Alike], *, by_group: bool) -> tuple[CauseLine, ...]:
    """Callbacks by cause, most frequent first, what nobody could name last."""
    tally: Counter[str] = Counter()
    for cell in cells:
        if cell.state == JUDGEABLE and cell.cause:
            tally[group_of(cell.cause) if by_group else cell.cause] += cell.jobs
    total, running, lines = tally.total(), 0, []
    ordered = sorted(
        tally.items(), key=lambda item: (group_of(item[0]) in LAST_GROUPS, -item[1], item[0])
    )
    for key, jobs in ordered:
        running += jobs
        group = key if by_group else group_of(key)
        label = GROUPS[group].name if by_group else cause_label(key)
        lines.append(CauseLine(key, group, label, jobs, jobs / total, running / total))
    return tuple(lines)


def _reports(selection: Selection) -> tuple[Counter[int], int]:
    """Every callback in the window by the installer of the first job, and the open questions."""
    rows = (
        callback_jobs.all_callbacks(selection)
        .order_by()
        .values_list("answer", "lead")
        .annotate(jobs=Count("pk"))
    )
    returns, not_sure = Counter[int](), 0
    for answer, installer, jobs in rows:
        if answer == Job.CallbackAnswer.YES:
            returns[installer] = jobs
        elif answer == Job.CallbackAnswer.NOT_SURE:
            not_sure += jobs
    return returns, not_sure
