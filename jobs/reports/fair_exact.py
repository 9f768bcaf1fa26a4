"""The exact test of one person against the others, class by class, without a scientific library.

Given how many jobs of a class there were and how many of all were called back, the callbacks that
fall to one person are hypergeometric. The sum over classes is a convolution of short lists: this is
the exact form of the Cochran-Mantel-Haenszel test. Good people differ a little, so the odds of a
person may vary by a log-normal spread, averaged by Gauss-Hermite quadrature.

Contents: Shares, hypergeometric, binomial, of_sum, distribution, spread_of, Tails, tails, tail_of,
largest_bound.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from heapq import heappop, heappush
from itertools import accumulate
from operator import mul

from .fair_table import Class, Matched

#: shares smaller than this part of the largest are left out at both ends
NEGLIGIBLE = 1e-25
#: spread of good people on the log of the odds: two thirds within a factor 1.22 (common practice)
EVERYDAY_SPREAD = 0.2
POINTS = 15
#: standard deviations of equals over which one folding is tilted; it keeps about ten
REACH = 2.0
#: steps that differ by less are one step, computed in another order
TIED = 1e-9


@dataclass(frozen=True)
class Shares:
    """P(T = low + j) for j = 0, 1, ...; they add up to one."""

    low: int
    shares: tuple[float, ...]

    @property
    def high(self) -> int:
        return self.low + len(self.shares) - 1

    def tail(self, count: int) -> float:
        """P(T >= count)."""
        return math.fsum(self.shares[max(0, count - self.low) :])


def _from_ratios(low: int, high: int, ratio: Callable[[int], float]) -> Shares:
    """Shares on low..high from ratio(x) = P(x + 1) / P(x), which falls with x.

    Counted outwards from the largest, so that nothing overflows, until nothing is left.
    """
    start = low + bisect_left(range(low, high), True, key=lambda x: ratio(x) <= 1)
    up, weight = [], 1.0
    for x in range(start, high):
        weight *= ratio(x)
        if weight < NEGLIGIBLE:
            break
        up.append(weight)
    down, weight = [], 1.0
    for x in range(start - 1, low - 1, -1):
        weight /= ratio(x)
        if weight < NEGLIGIBLE:
            break
        down.append(weight)
    return _normed(start - len(down), [*reversed(down), 1.0, *up])


def _normed(low: int, weights: Sequence[float]) -> Shares:
    total = math.fsum(weights)
    return Shares(low, tuple(weight / total for weight in weights))


def hypergeometric(
    *, all_jobs: int, all_called: int, own_jobs: int, log_odds: float = 0.0
) -> Shares:
    """How many of all_called fall among own_jobs of all_jobs; Fisher's noncentral form."""
    odds, others = math.exp(log_odds), all_jobs - own_jobs

    def ratio(x: int) -> float:
        ways = (all_called - x) * (own_jobs - x)
        return odds * ways / ((x + 1) * (others - all_called + x + 1))

    return _from_ratios(max(0, all_called - others), min(all_called, own_jobs), ratio)


def binomial(jobs: int, share: float) -> Shares:
    if share <= 0:
        return Shares(0, (1.0,))
    odds = share / (1 - share)
    return _from_ratios(0, jobs, lambda x: odds * (jobs - x) / (x + 1))


def of_sum(parts: Iterable[Shares]) -> Shares:
    """The distribution of a sum of independent counts; the shortest lists are folded first."""
    left = sorted(((len(part.shares), place, part) for place, part in enumerate(parts)))
    while len(left) > 1:
        _, _, one = heappop(left)
        _, place, other = heappop(left)
        both = _folded(one, other)
        heappush(left, (len(both.shares), place, both))
    return left[0][2] if left else Shares(0, (1.0,))


def _folded(one: Shares, other: Shares) -> Shares:
    wide, back = one.shares, other.shares[::-1]
    size, count = len(back), len(wide) + len(back) - 1
    found = [
        # the rows end where the shorter of the two does
        sum(map(mul, wide[max(0, k - size + 1) :], back[max(0, size - 1 - k) :]))
        for k in range(count)
    ]
    least = NEGLIGIBLE * max(found)
    cut = next(j for j in range(count) if found[j] >= least)
    end = next(j for j in range(count, 0, -1) if found[j - 1] >= least)
    return _normed(one.low + other.low + cut, found[cut:end])


def distribution(classes: Iterable[Class], log_odds: float = 0.0) -> Shares:
    """Of a person's callbacks over his matched classes, given the totals of each class."""
    return of_sum(
        hypergeometric(
            all_jobs=each.jobs + each.others_jobs,
            all_called=each.called + each.others_called,
            own_jobs=each.jobs,
            log_odds=log_odds,
        )
        for each in classes
    )


def spread_of(person: Matched, tau: float) -> float:
    """His own spread and that of the others he is held against, who are averaged."""
    return tau * math.sqrt(1 + person.concentration)


def gauss_hermite(points: int) -> tuple[tuple[float, float], ...]:
    """Nodes for exp(-x^2) and their weights, which add up to one, by Newton's method.

    The roots are bracketed by those of the polynomial before, which lie between them.
    """
    roots: list[float] = []
    for degree in range(1, points + 1):
        outside = math.sqrt(2 * degree + 1)
        fences = [-outside, *roots, outside]
        roots = [
            _root(degree, *pair, upwards=(degree - j) % 2 == 1)
            for j, pair in enumerate(zip(fences, fences[1:], strict=False))
        ]
    weights = [1 / _hermite(points, root)[1] ** 2 for root in roots]
    return tuple((root, each / sum(weights)) for root, each in zip(roots, weights, strict=True))


def _hermite(degree: int, x: float) -> tuple[float, float]:
    """The polynomial and the one before it, normed up to one factor for all."""
    before, value = 0.0, 1.0
    for k in range(degree):
        after = x * math.sqrt(2 / (k + 1)) * value - math.sqrt(k / (k + 1)) * before
        before, value = value, after
    return value, before


def _root(degree: int, low: float, high: float, *, upwards: bool) -> float:
    for _ in range(100):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        over = _hermite(degree, middle)[0] > 0
        low, high = (low, middle) if over == upwards else (middle, high)
    return (low + high) / 2


NODES = gauss_hermite(POINTS)


@dataclass(frozen=True)
class Tails:
    """P(T >= low + j) for j = 0, 1, ...: the values that a person's p can take."""

    low: int
    row: tuple[float, ...]

    def at(self, count: int) -> float:
        if count <= self.low:
            return 1.0
        return self.row[count - self.low] if count - self.low < len(self.row) else 0.0


def tails(classes: Sequence[Class], spread: float) -> Tails:
    """Of every count, when the log odds vary with the spread about those of equals."""
    parts = list(_mixed(classes, spread))
    low, high = min(each.low for _, each in parts), max(each.high for _, each in parts)
    rows = [_over(each, low, high) for _, each in parts]
    weights = [weight for weight, _ in parts]
    summed = (math.fsum(map(mul, weights, column)) for column in zip(*rows, strict=True))
    return Tails(low, tuple(min(1.0, each) for each in summed))


def tail_of(classes: Sequence[Class], spread: float, count: int) -> float:
    """Of one count."""
    return min(1.0, math.fsum(w * each.tail(count) for w, each in _mixed(classes, spread)))


def _mixed(classes: Sequence[Class], spread: float) -> Iterable[tuple[float, Shares]]:
    """Odds by e^d times weigh the share of a count T by e^(dT), so that one folding serves several
    nodes, as far as the shares it kept reach.
    """
    if not spread:
        yield 1.0, distribution(classes)
        return
    reach = REACH / max(1.0, math.sqrt(math.fsum(_variance(each) for each in classes)))
    base, at, until = None, 0.0, -math.inf
    for node, weight in NODES:
        log_odds = math.sqrt(2) * spread * node
        if base is None or log_odds > until:
            at, until = log_odds + reach, log_odds + 2 * reach
            base = distribution(classes, at)
        yield weight, _tilted(base, log_odds - at)


def _variance(each: Class) -> float:
    """Of his callbacks among equals."""
    jobs, called = each.jobs + each.others_jobs, each.called + each.others_called
    if jobs < 2:
        return 0.0
    return each.jobs * each.others_jobs * called * (jobs - called) / (jobs**2 * (jobs - 1))


def _tilted(of: Shares, by: float) -> Shares:
    middle = len(of.shares) // 2
    return _normed(
        of.low, [share * math.exp(by * (j - middle)) for j, share in enumerate(of.shares)]
    )


def _over(found: Shares, low: int, high: int) -> list[float]:
    tail = list(accumulate(reversed(found.shares)))[::-1]
    return [1.0] * (found.low - low) + tail + [0.0] * (high - found.high)


def largest_bound(rows: Iterable[Tails], alpha: float) -> float:
    """The largest attainable p at which all persons together stay within alpha; 0 without one.

    Each person's p takes only the values of his own row, and P(p <= bound) is the largest of them
    that is not above it. Bonferroni's bound is never larger. Source: after Tarone 1990 (MEMORY).
    """
    each = [each.row for each in rows]
    steps = sorted((p, place) for place, row in enumerate(each) for p in row if 0 < p <= alpha)
    after = [*(p for p, _ in steps[1:]), math.inf][: len(steps)]
    reached = [0.0] * len(each)
    bound = 0.0
    for (p, place), following in zip(steps, after, strict=True):
        reached[place] = p
        if math.fsum(reached) > alpha:
            break
        # whose rows are alike reach a step together, or none of them does
        if following > p * (1 + TIED):
            bound = p
    return bound
