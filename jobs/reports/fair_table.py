"""Jobs and callbacks by person and class, and what a person is held against: the others.

Contents: Table, Matched, matched. Nobody is compared with himself: what a person is expected to
have comes from the others' jobs of the same class, and a class that only he did is left out of
both sides and named.
"""

from __future__ import annotations

import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import cached_property

#: matched jobs below which a person is no case of his own (common practice, no source)
FEW_MATCHED = 10


@dataclass(frozen=True)
class Table:
    """jobs[i][k] and called[i][k]: jobs of person i in class k, and those called back."""

    people: tuple[Hashable, ...]
    classes: tuple[Hashable, ...]
    jobs: tuple[tuple[int, ...], ...]
    called: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        shape = (len(self.people), [len(self.classes)] * len(self.people))
        for rows in (self.jobs, self.called):
            if (len(rows), [len(row) for row in rows]) != shape:
                raise ValueError("one row for each person and one number for each class")
        pairs = [
            pair
            for own, back in zip(self.jobs, self.called, strict=True)
            for pair in zip(own, back, strict=True)
        ]
        if any(not 0 <= back <= own for own, back in pairs):
            raise ValueError("callbacks must be 0 to the number of jobs")

    @cached_property
    def jobs_of_class(self) -> tuple[int, ...]:
        return tuple(sum(column) for column in zip(*self.jobs, strict=True))

    @cached_property
    def called_of_class(self) -> tuple[int, ...]:
        return tuple(sum(column) for column in zip(*self.called, strict=True))


def table_of(cells: Mapping[tuple[Hashable, Hashable], tuple[int, int]]) -> Table:
    """From (person, class) and (jobs, called back); orders are those of first sight."""
    people = tuple(dict.fromkeys(person for person, _ in cells))
    classes = tuple(dict.fromkeys(each for _, each in cells))
    rows = [[cells.get((person, each), (0, 0)) for each in classes] for person in people]
    jobs = tuple(tuple(cell[0] for cell in row) for row in rows)
    called = tuple(tuple(cell[1] for cell in row) for row in rows)
    return Table(people, classes, jobs, called)


@dataclass(frozen=True)
class Class:
    """One class of a person's work that others did too."""

    jobs: int
    called: int
    others_jobs: int
    others_called: int

    @property
    def expected(self) -> float:
        return self.jobs * self.others_called / self.others_jobs


@dataclass(frozen=True)
class Matched:
    """A person's jobs that have a match, and those that have none."""

    place: int
    classes: tuple[Class, ...]
    unmatched_jobs: int
    unmatched_called: int
    #: sum of the squares of each other person's share in what he is held against
    concentration: float

    @property
    def jobs(self) -> int:
        return sum(each.jobs for each in self.classes)

    @property
    def called(self) -> int:
        return sum(each.called for each in self.classes)

    @property
    def expected(self) -> float:
        return math.fsum(each.expected for each in self.classes)

    @property
    def tested(self) -> bool:
        return self.jobs >= FEW_MATCHED


def matched(table: Table) -> tuple[Matched, ...]:
    """One for each person, in the order of the table."""
    return tuple(_matched(table, place) for place in range(len(table.people)))


def _matched(table: Table, place: int) -> Matched:
    jobs, called = table.jobs[place], table.called[place]
    others = [total - own for total, own in zip(table.jobs_of_class, jobs, strict=True)]
    back = [total - own for total, own in zip(table.called_of_class, called, strict=True)]
    with_match = [k for k, own in enumerate(jobs) if own and others[k]]
    alone = [k for k in range(len(jobs)) if not others[k]]
    return Matched(
        place=place,
        classes=tuple(Class(jobs[k], called[k], others[k], back[k]) for k in with_match),
        unmatched_jobs=sum(jobs[k] for k in alone),
        unmatched_called=sum(called[k] for k in alone),
        concentration=_concentration(table, place, with_match, others),
    )


def _concentration(table: Table, place: int, classes: list[int], others: list[int]) -> float:
    """Shares of the others by job, class by class, weighed with his own jobs of the class."""
    own = table.jobs[place]
    total = sum(own[k] for k in classes)
    shares = (
        math.fsum(own[k] * row[k] / others[k] for k in classes) / total
        for j, row in enumerate(table.jobs)
        if j != place and total
    )
    return math.fsum(share * share for share in shares)
