"""The arithmetic behind the owner's statistics: limits of rates, counts and curves.

Contents: z_of, wilson_limits, poisson_limits, poisson_cdf, funnel_normal, funnel_exact,
binomial_cdf, kaplan_meier, survival_limits. Plain numbers in and out; exact limits come from
summed terms and bisection.
"""

from __future__ import annotations

import math
from collections.abc import Iterable
from itertools import groupby
from statistics import NormalDist

#: terms smaller than this share of the sum are left out
NEGLIGIBLE = 1e-17
LOG, LOG_LOG = "log", "log-log"


def z_of(confidence: float) -> float:
    """Normal quantile of a two-sided confidence."""
    return NormalDist().inv_cdf(0.5 + confidence / 2)


def wilson_limits(x: int, n: int, confidence: float) -> tuple[float, float]:
    z = z_of(confidence)
    share, spread = x / n, 1 + z * z / n
    centre = (share + z * z / (2 * n)) / spread
    half = z * math.sqrt(share * (1 - share) / n + z * z / (4 * n * n)) / spread
    return (0.0 if x == 0 else centre - half), (1.0 if x == n else centre + half)


def poisson_limits(count: int, confidence: float) -> tuple[float, float]:
    """Exact limits of the mean of a Poisson count."""
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else _poisson_mean(count - 1, 1 - tail)
    return low, _poisson_mean(count, tail)


def _poisson_mean(count: int, wanted: float) -> float:
    """The mean m with P(X <= count | m) = wanted, by bisection with Newton steps inside it."""
    spread = 10 * math.sqrt(count + 1) + 40
    low, high = max(0.0, count - spread), count + spread
    mean = count + 1.0
    for _ in range(200):
        over = poisson_cdf(count, mean) - wanted
        low, high = (mean, high) if over > 0 else (low, mean)
        slope = _poisson_term(count, mean)
        step = mean + over / slope if slope > 0 else low
        last, mean = mean, step if low < step < high else (low + high) / 2
        if abs(mean - last) <= 1e-13 * max(1.0, mean):
            break
    return mean


def _poisson_term(count: int, mean: float) -> float:
    return math.exp(count * math.log(mean) - mean - math.lgamma(count + 1))


def poisson_cdf(count: int, mean: float) -> float:
    """P(X <= count) for a mean above 0, summed on the side of the smaller tail."""
    if count < mean:
        term = total = _poisson_term(count, mean)
        for i in range(count, 0, -1):
            term *= i / mean
            total += term
            if term <= NEGLIGIBLE * total:
                break
        return total
    term = total = _poisson_term(count + 1, mean)
    i = count + 2
    while term > NEGLIGIBLE * total:
        term *= mean / i
        total += term
        i += 1
    return 1 - total


def funnel_normal(theta: float, n: int, share: float) -> float:
    z = NormalDist().inv_cdf(share)
    return min(1.0, max(0.0, theta + z * math.sqrt(theta * (1 - theta) / n)))


def funnel_exact(theta: float, n: int, share: float) -> float:
    """Binomial quantile, moved between whole counts so that the limit is smooth in n."""
    low, high = -1, n
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if binomial_cdf(middle, n, theta) >= share else (middle, high)
    back = (binomial_cdf(high, n, theta) - share) / _binomial_term(high, n, theta)
    return min(1.0, max(0.0, (high - back) / n))


def _binomial_term(count: int, n: int, theta: float) -> float:
    ways = math.lgamma(n + 1) - math.lgamma(count + 1) - math.lgamma(n - count + 1)
    return math.exp(ways + count * math.log(theta) + (n - count) * math.log1p(-theta))


def binomial_cdf(count: int, n: int, theta: float) -> float:
    """P(R <= count), summed on the side of the smaller tail."""
    if count >= n:
        return 1.0
    odds = theta / (1 - theta)
    if count < n * theta:
        term = total = _binomial_term(count, n, theta)
        for i in range(count, 0, -1):
            term *= i / ((n - i + 1) * odds)
            total += term
            if term <= NEGLIGIBLE * total:
                break
        return total
    term = total = _binomial_term(count + 1, n, theta)
    for i in range(count + 1, n):
        term *= (n - i) * odds / (i + 1)
        total += term
        if term <= NEGLIGIBLE * total:
            break
    return 1 - total


def kaplan_meier(
    times: Iterable[tuple[float, bool]], day: float
) -> tuple[float, float | None, int]:
    """From (days followed, callback): survival, Greenwood error, jobs followed beyond the day.

    The error is None when nobody is left after a callback day.
    """
    ordered = sorted(times)
    followed, share, summed = len(ordered), 1.0, 0.0
    for time, group in groupby(ordered, key=lambda each: each[0]):
        if time > day:
            break
        same = [callback for _, callback in group]
        callbacks, left = sum(same), followed - sum(same)
        share *= left / followed
        summed += callbacks / (followed * left) if left else math.inf
        followed -= len(same)
    return share, None if math.isinf(summed) else share * math.sqrt(summed), followed


def survival_limits(
    share: float, error: float | None, z: float, kind: str
) -> tuple[float | None, float | None]:
    """Log limits (at most 1) or log-log limits; none without an error."""
    if not error:
        return None, None
    if kind == LOG:
        wide = math.exp(z * error / share)
        return share / wide, min(1.0, share * wide)
    power = math.exp(z * error / (share * abs(math.log(share))))
    return share**power, share ** (1 / power)
