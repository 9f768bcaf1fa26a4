"""Each person beside the limits of chance for so many jobs. A reading, never a rank."""

from __future__ import annotations

from dataclasses import dataclass

from .callbacks import Report
from .statistics import FEW_JOBS, funnel_limits

INNER_TAIL, OUTER_TAIL = 0.025, 0.001
CHANCE = "no different from chance"
LOOK = "worth a look"
HIGH = "look at the causes with the person"
LOW = "find out what goes well, or whether callbacks are logged"
FEW = "fewer than 10 jobs: count only"


@dataclass(frozen=True)
class Limits:
    low: float
    high: float
    outer_low: float
    outer_high: float

    def reading(self, rate: float) -> str:
        if rate > self.outer_high:
            return HIGH
        if rate < self.outer_low:
            return LOW
        return CHANCE if self.low <= rate <= self.high else LOOK


@dataclass(frozen=True)
class Point:
    name: str
    jobs: int
    callbacks: int
    limits: Limits | None
    reading: str

    @property
    def rate(self) -> float:
        return self.callbacks / self.jobs


def limits_for(theta: float, jobs: int) -> Limits:
    """Exact limits about the company's rate; 95 and 99.8 percent of chance lie inside."""
    inner = funnel_limits(rate=theta, jobs=jobs, tail=INNER_TAIL)
    outer = funnel_limits(rate=theta, jobs=jobs, tail=OUTER_TAIL)
    return Limits(inner.low, inner.high, outer.low, outer.high)


def usable(theta: float | None) -> bool:
    """Without callbacks, or with nothing else, there is no spread to draw."""
    return theta is not None and 0 < theta < 0.999


def points(report: Report) -> tuple[Point, ...]:
    """One for each person with a judgeable job, in the order of the report."""
    theta = report.theta
    if theta is None or not usable(theta):
        return ()
    found = []
    for person in report.people:
        jobs, callbacks = person.counts.judgeable, person.counts.callbacks
        if not jobs:
            continue
        few = jobs < FEW_JOBS
        limits = None if few else limits_for(theta, jobs)
        reading = FEW if limits is None else limits.reading(callbacks / jobs)
        found.append(Point(person.name, jobs, callbacks, limits, reading))
    return tuple(found)


def summary(found: tuple[Point, ...], theta: float | None) -> str:
    """One sentence over the report, without a name."""
    if theta is not None and not usable(theta):
        which = "All jobs, or nearly all," if theta else "No job"
        return f"{which} had a callback: there is nothing to compare with chance."
    judged = [point for point in found if point.limits]
    if not judged:
        return "Too few jobs to tell: counts only, and the jobs behind them."
    outside = sum(point.reading in (HIGH, LOW) for point in judged)
    look = sum(point.reading == LOOK for point in judged)
    if not outside and not look:
        return f"No. All {len(judged)} people with ten or more jobs lie within what chance gives."
    said = []
    if look:
        said.append(f"{look} of {len(judged)} {'is' if look == 1 else 'are'} worth a look")
    said.append(
        f"{outside} of {len(judged)} {'lies' if outside == 1 else 'lie'} outside the outer limit"
        if outside
        else "nobody lies outside the outer limit"
    )
    return f"{' and '.join(said)}. Read the causes before the rates.".capitalize()
