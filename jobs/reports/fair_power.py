"""What would have been seen: how much more often somebody must be called back to be found.

Contents: Power, power_of. Given the results of the others, not over them: exact for this period.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from .fair_exact import binomial, of_sum, spread_of, tail_of
from .fair_table import Class, Matched

#: jobs at the others' overall rate that are laid to each class before its rate is taken
BORROWED = 3
#: share of such periods in which a difference must be found (common practice, no source)
WANTED = 0.8
DOUBLE, TRIPLE = 2.0, 3.0
STEP, MOST = 0.25, 12.0
SURE = 0.999


@dataclass(frozen=True)
class Power:
    """Of one person. `critical` and `factor` are None where nothing that small would be found."""

    critical: int | None
    doubling: float
    tripling: float
    #: times as often that is found in WANTED of all such periods
    factor: float | None


def power_of(person: Matched, *, tau: float, level: float) -> Power:
    """`level` is what his p must not be above: alpha shared among the persons."""
    rates = _rates(person)
    critical = _critical(person, rates, tau, level)
    if critical is None:
        return Power(None, 0.0, 0.0, None)
    factors = [k * STEP for k in range(round(1 / STEP) + 1, round(MOST / STEP) + 1)]
    place = bisect_left(factors, WANTED, key=lambda f: _found(person, rates, f, critical))
    return Power(
        critical=critical,
        doubling=_found(person, rates, DOUBLE, critical),
        tripling=_found(person, rates, TRIPLE, critical),
        factor=factors[place] if place < len(factors) else None,
    )


def _rates(person: Matched) -> list[float]:
    """The others' rate of each class, drawn a little towards their overall rate."""
    jobs = sum(each.others_jobs for each in person.classes)
    overall = sum(each.others_called for each in person.classes) / jobs
    return [
        (each.others_called + BORROWED * overall) / (each.others_jobs + BORROWED)
        for each in person.classes
    ]


def _found(person: Matched, rates: Sequence[float], factor: float, critical: int) -> float:
    parts = (
        binomial(each.jobs, min(SURE, factor * rate))
        for each, rate in zip(person.classes, rates, strict=True)
    )
    return of_sum(parts).tail(critical)


def _critical(person: Matched, rates: Sequence[float], tau: float, level: float) -> int | None:
    """The fewest callbacks whose p is small enough, spread over his classes as they would fall."""
    spread, counts = spread_of(person, tau), range(1, person.jobs + 1)

    def first(low: int, spread: float) -> int:
        def is_small(place: int) -> bool:
            laid = _laid(counts[place], person.classes, rates)
            return tail_of(laid, spread, counts[place]) <= level

        low, high = _around(low, len(counts), is_small)
        return bisect_left(range(len(counts)), True, low, high, key=is_small)

    # what is expected is never far out; without spread p is smaller still, and costs far less
    expected = math.fsum(each.jobs * rate for each, rate in zip(person.classes, rates, strict=True))
    start = min(max(0, int(expected) - 1), len(counts) - 1)
    place = first(first(start, 0.0), spread)
    return counts[place] if place < len(counts) else None


def _around(low: int, end: int, is_small: Callable[[int], bool]) -> tuple[int, int]:
    """Where the first small place lies, found by steps that double."""
    step, high = 1, low
    while high < end and not is_small(high):
        low, high, step = high + 1, min(end, high + step), 2 * step
    return low, high


def _laid(count: int, classes: Sequence[Class], rates: Sequence[float]) -> list[Class]:
    """So many callbacks in proportion to jobs by rate, whole ones, no more than jobs of a class."""
    wanted = [each.jobs * rate for each, rate in zip(classes, rates, strict=True)]
    given = [0] * len(classes)
    for _ in range(count):
        open_ones = [k for k, each in enumerate(classes) if given[k] < each.jobs]
        # the class that is furthest behind its part; without any rate, by jobs
        nearest = min(
            open_ones,
            key=lambda k: ((given[k] + 0.5) / (wanted[k] or 1e-9 * classes[k].jobs), k),
        )
        given[nearest] += 1
    return [replace(each, called=own) for each, own in zip(classes, given, strict=True)]
