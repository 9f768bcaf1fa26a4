"""Slope and demand of one house as a grid of weights, sharpened by each reading.

    residual = max(0, k x - D)      k mg/L for each percent of setting x, D demand in mg/L

Neither is known; a reading is a band, one in ten is a pad off. Every pair (k, D) carries a weight
and each reading multiplies it by how well the pair explains that reading; what older readings
said fades by a factor for each later one, because well and solution drift. The figures of the
likelihood were chosen by simulated start-ups (tests/start_ups.py), no other source.

What was learnt from the readings so far is remembered, so that a further one costs one pass over
about 2,900 pairs.
"""

from __future__ import annotations

import math
from bisect import bisect_right
from dataclasses import dataclass
from functools import lru_cache
from math import erf, exp, log

from .readings import Reading

SLOPES = 26
SLOPE_LOW, SLOPE_HIGH = 0.55, 1.35
SLOPE_MEAN, SLOPE_DEVIATION = 0.95, 0.15
DEMANDS = 109
#: highest demand of the grid, as a share of the computed demand and of the top of the aim
DEMAND_REACH, AIM_REACH = 3.2, 4.0
#: from the highest demand of the grid to the lowest above zero
DEMAND_SPAN = 250.0
#: of the logarithm of demand over computed demand
DEMAND_DEVIATION = 0.55
#: weight of "no demand at all" beside the nodes of the log-normal
NO_DEMAND = 0.01
#: spreads of a reading: feed, demand, kit (shares) and a fixed part, mg/L
FEED_NOISE, DEMAND_NOISE, KIT_NOISE, LEAST_NOISE = 0.055, 0.065, 0.08, 0.1
#: a reading is right, one pad off, or anything
RIGHT, ONE_OFF, ANYTHING = 0.86, 0.12, 0.003
#: the tap clears about here, as a share of the demand, and its word is right this often
TAP_SHARE, TAP_RIGHT = 0.92, 0.95
#: pairs whose weight is below exp(-this) of the largest are given up
NOTHING = 16.0
GIVEN_UP = -math.inf
SMALL_SLOPE = 1e-6
ROOT_HALF = math.sqrt(0.5)


@dataclass(frozen=True)
class Edge:
    """A limit of the excess k x - D that may go with the demand: share x D + fixed mg/L."""

    fixed: float
    share: float = 0.0


@dataclass(frozen=True)
class House:
    """What is known before a reading: calibration, computed demand, top of the aim; mg/L."""

    calibration: float
    demand: float
    aim_top: float
    #: how much an older reading counts for each later one
    memory: float


class Weights:
    """The grid after some readings, asked for probabilities."""

    def __init__(self, house: House, told: tuple[list[float], ...] | None = None) -> None:
        self.house = house
        self.slopes, self.demands, prior = _nodes(house)
        self.told = told or tuple([0.0] * len(self.demands) for _ in self.slopes)
        rows = [
            [a + b for a, b in zip(one, other, strict=True)]
            for one, other in zip(prior, self.told, strict=True)
        ]
        self._least = max(map(max, rows)) - NOTHING
        self._rows = rows
        self._sums, self.slope = self._summed()

    def _summed(self) -> tuple[list[tuple[float, list[float]]], float]:
        """For each slope the running sum of weights over the demand, and the mean slope."""
        least = self._least
        sums = []
        for slope, row in zip(self.slopes, self._rows, strict=True):
            total, running = 0.0, [0.0]
            for value in row:
                if value > least:
                    total += exp(value - least)
                running.append(total)
            sums.append((slope, running))
        whole = math.fsum(running[-1] for _, running in sums)
        mean = math.fsum(slope * running[-1] for slope, running in sums) / whole
        kept = [
            (slope, [part / whole for part in running])
            for slope, running in sums
            if running[-1] > SMALL_SLOPE * whole
        ]
        return kept, mean

    def reached(self, setting: float, edge: Edge) -> float:
        """Probability that the excess at a setting is at least the edge."""
        demands, last = self.demands, len(self.demands)
        found = 0.0
        for slope, running in self._sums:
            demand = (slope * setting - edge.fixed) / (1 + edge.share)
            if demand < 0:
                continue
            at = bisect_right(demands, demand)
            if at == last:
                found += running[-1]
                continue
            below = (running[at] + running[at - 1]) / 2
            above = (running[at + 1] + running[at]) / 2
            part = (demand - demands[at - 1]) / (demands[at] - demands[at - 1])
            found += below + (above - below) * part
        return found

    def between(self, setting: float, low: Edge, high: Edge) -> float:
        return self.reached(setting, low) - self.reached(setting, high)

    def residual(self, setting: float, share: float) -> float:
        """The residual that is not reached with this probability."""
        low, high = 0.0, self.slopes[-1] * setting
        while high - low > 0.005 * max(1.0, self.house.aim_top):
            middle = (low + high) / 2
            if self.reached(setting, Edge(middle)) > 1 - share:
                low = middle
            else:
                high = middle
        return (low + high) / 2

    def after(self, reading: Reading) -> Weights:
        """The grid after one more reading; pairs that weigh nothing are not asked any more."""
        memory, least, rows = self.house.memory, self._least, []
        spreads = [(DEMAND_NOISE * demand) ** 2 + LEAST_NOISE**2 for demand in self.demands]
        for slope, told, weights in zip(self.slopes, self.told, self._rows, strict=True):
            fed = slope * reading.setting
            fed_spread = (FEED_NOISE * fed) ** 2
            row = []
            for demand, spread, old, weight in zip(
                self.demands, spreads, told, weights, strict=True
            ):
                if weight < least:
                    row.append(GIVEN_UP)
                    continue
                excess = fed - demand
                square = fed_spread + spread
                if excess > 0:
                    square += (KIT_NOISE * excess) ** 2
                fit = _fit(reading, excess, ROOT_HALF / math.sqrt(square))
                if reading.tap is not None:
                    fit *= _tap(fed, demand, said_clear=reading.tap)
                row.append(memory * old + log(fit))
            rows.append(row)
        return Weights(self.house, tuple(rows))


@lru_cache(maxsize=16)
def learnt(house: House, readings: tuple[Reading, ...]) -> Weights:
    """The grid after readings in the order taken; one more reading costs one pass."""
    return learnt(house, readings[:-1]).after(readings[-1]) if readings else Weights(house)


@lru_cache(maxsize=8)
def _nodes(
    house: House,
) -> tuple[tuple[float, ...], tuple[float, ...], tuple[tuple[float, ...], ...]]:
    """Slopes, demands, and the logarithm of the weight of each pair before any reading.

    The demand's density (log-normal about the computed demand) is taken at nodes that are evenly
    spaced in the logarithm: half of the weight lies below 0.74 of the computed demand.
    """
    top = max(DEMAND_REACH * house.demand, AIM_REACH * house.aim_top)
    ratio = DEMAND_SPAN ** (1 / (DEMANDS - 1))
    demands = (0.0, *(top / DEMAND_SPAN * ratio**at for at in range(DEMANDS)))
    reach = (SLOPE_HIGH - SLOPE_LOW) / (SLOPES - 1)
    shares = [SLOPE_LOW + reach * at for at in range(SLOPES)]
    of_slope = [-(((share - SLOPE_MEAN) / SLOPE_DEVIATION) ** 2) / 2 for share in shares]
    of_demand = [
        -((log(demand / house.demand) / DEMAND_DEVIATION) ** 2) / 2 - log(demand / house.demand)
        if demand
        else log(NO_DEMAND)
        for demand in demands
    ]
    weights = tuple(tuple(one + other for other in of_demand) for one in of_slope)
    return tuple(house.calibration * share for share in shares), demands, weights


def _fit(reading: Reading, excess: float, scale: float) -> float:
    """Chance of this band; of one wider by a pad on either side; of anything."""
    low, high = reading.low, reading.high
    top = wide_top = 1.0
    width = low
    if high < math.inf:
        width = high - low
        top = erf((high - excess) * scale)
        wide_top = erf((high + max(width, high) - excess) * scale)
    wide_low = low - max(width, low) / 2
    bottom = erf((low - excess) * scale) if low > 0 else -1.0
    wide_bottom = erf((wide_low - excess) * scale) if wide_low > 0 else -1.0
    return (RIGHT * (top - bottom) + ONE_OFF * (wide_top - wide_bottom)) / 2 + ANYTHING


def _tap(fed: float, demand: float, *, said_clear: bool) -> float:
    clear = 0.5 + erf((fed - TAP_SHARE * demand) / (0.05 * demand + 0.05) * ROOT_HALF) / 2
    if not said_clear:
        clear = 1 - clear
    return TAP_RIGHT * clear + (1 - TAP_RIGHT) * (1 - clear)
