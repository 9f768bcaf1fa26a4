"""The best guess for the next period, and how much people truly differ.

Contents: true_spread, strength_of, best_guess.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

#: callbacks at the others' rate that are laid to each person before a guess (common practice)
STRENGTH = 10.0
LEAST_STRENGTH, MOST_STRENGTH = 4.0, 100.0
#: persons below which the spread rests on too few numbers
ENOUGH_PEOPLE = 10
#: share that is pulled in at either end
ENDS = 0.10

Pair = tuple[int, float]


def true_spread(pairs: Sequence[Pair]) -> float | None:
    """Spread of persons on the log of observed by expected, from (observed, expected) of each.

    z = 2 (sqrt O - sqrt E), the lowest and highest tenth pulled in, phi = mean of z^2, w = 4 E;
    tau^2 = (I phi - (I - 1)) / (sum w - sum w^2 / sum w) on the scale of the root, times 2 for
    the log. None below ten persons. Source: Spiegelhalter, Statistics in Medicine 24 (2005) 1185,
    additive form (formulas MEMORY).
    """
    count = len(pairs)
    if count < ENOUGH_PEOPLE:
        return None
    raw = [2 * (math.sqrt(seen) - math.sqrt(expected)) for seen, expected in pairs]
    phi = math.fsum(z * z for z in pulled_in(raw)) / count
    weights = [4 * expected for _, expected in pairs]
    total = math.fsum(weights)
    scale = total - math.fsum(w * w for w in weights) / total if total else 0.0
    if scale <= 0:
        return 0.0
    return 2 * math.sqrt(max(0.0, count * phi - (count - 1)) / scale)


def pulled_in(values: Sequence[float]) -> list[float]:
    """The lowest and highest tenth set to the next one inwards."""
    ordered, cut = sorted(values), int(ENDS * len(values))
    low, high = ordered[cut], ordered[len(ordered) - 1 - cut]
    return [min(high, max(low, each)) for each in values]


def strength_of(spread: float | None) -> float:
    """How many expected callbacks the others weigh in a guess."""
    if spread is None:
        return STRENGTH
    if not spread:
        return MOST_STRENGTH
    return min(MOST_STRENGTH, max(LEAST_STRENGTH, 1 / spread**2))


def best_guess(seen: int, expected: float, strength: float = STRENGTH) -> float:
    """Times as often as the others, drawn towards one where little was expected."""
    return (seen + strength) / (expected + strength)
