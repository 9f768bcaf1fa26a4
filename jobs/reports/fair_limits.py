"""Limits with half of what was seen counted on each side (mid-P), for one person alone.

Contents: odds_ratio, odds_limits, share_limits, count_limits. They are not for comparing two
people: each stands for one person against the others.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

from .fair_exact import distribution
from .fair_table import Class
from .limits import binomial_cdf, poisson_cdf

CONFIDENCE = 0.95
HALF, WHOLE = 0.5, 1.0
#: log of odds beyond which there is no limit
FAR = 30.0


def odds_ratio(classes: Sequence[Class]) -> float:
    """The common odds ratio at which the count seen is the expected one; infinite at the end."""
    low, high = _ends(classes)
    count = sum(each.called for each in classes)
    if count in (low, high):
        return 0.0 if count == low else math.inf

    def over(log_odds: float) -> float:
        found = distribution(classes, log_odds)
        mean = math.fsum((found.low + j) * share for j, share in enumerate(found.shares))
        return mean - count

    return math.exp(_where(over, -FAR, FAR))


def odds_limits(
    classes: Sequence[Class], *, confidence: float = CONFIDENCE, own: float = HALF
) -> tuple[float, float]:
    """Limits of the common odds ratio; `own` is how much of the count seen lies in each tail."""
    low, high = _ends(classes)
    tail, count = (1 - confidence) / 2, sum(each.called for each in classes)

    def above(log_odds: float) -> float:
        found = distribution(classes, log_odds)
        return own * found.tail(count) + (1 - own) * found.tail(count + 1) - tail

    def below(log_odds: float) -> float:
        found = distribution(classes, log_odds)
        upper = (1 - own) * found.tail(count) + own * found.tail(count + 1)
        return tail - (1 - upper)

    return (
        0.0 if count == low else math.exp(_where(above, -FAR, FAR)),
        math.inf if count == high else math.exp(_where(below, -FAR, FAR)),
    )


def _ends(classes: Sequence[Class]) -> tuple[int, int]:
    """The fewest and the most callbacks that the totals leave him."""
    totals = [each.called + each.others_called for each in classes]
    rows = list(zip(classes, totals, strict=True))
    low = sum(max(0, total - each.others_jobs) for each, total in rows)
    return low, sum(min(each.jobs, total) for each, total in rows)


def share_limits(count: int, jobs: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Mid-P limits of a share."""
    tail = (1 - confidence) / 2

    def low(share: float) -> float:
        return 1 - _halfway(lambda x: binomial_cdf(x, jobs, share), count) - tail

    def high(share: float) -> float:
        return tail - _halfway(lambda x: binomial_cdf(x, jobs, share), count)

    tiny = 1e-15
    return (
        0.0 if count == 0 else _where(low, tiny, 1 - tiny),
        1.0 if count == jobs else _where(high, tiny, 1 - tiny),
    )


def count_limits(count: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Mid-P limits of the mean of a count."""
    tail = (1 - confidence) / 2

    def low(mean: float) -> float:
        return 1 - _halfway(lambda x: poisson_cdf(x, mean), count) - tail

    def high(mean: float) -> float:
        return tail - _halfway(lambda x: poisson_cdf(x, mean), count)

    far = count + 10 * math.sqrt(count + 1) + 40
    return (0.0 if count == 0 else _where(low, 1e-15, far)), _where(high, 1e-15, far)


def _halfway(below: Callable[[int], float], count: int) -> float:
    """P(X < count) and half of P(X = count)."""
    before = below(count - 1) if count else 0.0
    return (before + below(count)) / 2


def _where(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function is nought, by bisection."""
    for _ in range(200):
        middle = (low + high) / 2
        if middle in (low, high):
            break
        low, high = (low, middle) if rising(middle) > 0 else (middle, high)
    return (low + high) / 2
