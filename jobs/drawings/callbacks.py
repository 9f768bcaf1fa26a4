"""Geometry of the two charts of the callback report; colours live in the style sheet."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from jobs.reports.callbacks import Counts
from jobs.reports.funnel import Point, limits_for

STEPS = (0.05, 0.1, 0.2, 0.4, 0.6, 0.8, 1.0)
#: interval chart
LEFT, WIDTH = 6.0, 288.0
#: funnel chart
F_LEFT, F_RIGHT, F_TOP, F_BOTTOM = 44.0, 540.0, 14.0, 296.0
LABEL_HEIGHT, CURVE_POINTS, FIRST_JOBS = 19.0, 70, 4


@dataclass(frozen=True)
class Tick:
    x: float
    label: str
    anchor: str = "middle"


@dataclass(frozen=True)
class Scale:
    top: float  # share at the right end
    ticks: tuple[Tick, ...]
    reference: float | None
    reference_x: float | None
    reference_anchor: str = "middle"

    def x(self, share: float) -> float:
        return round(LEFT + WIDTH * min(share, self.top) / self.top, 1)


@dataclass(frozen=True)
class Bar:
    low: float
    high: float
    at: float
    cut: bool  # the interval goes on beyond the scale


def scale_for(counts: Iterable[Counts], reference: float | None) -> Scale:
    """A common scale for all intervals of the page, ending at a round share."""
    highest = [rate.high for each in counts if (rate := each.rate)]
    top = next(step for step in STEPS if step >= min(1.0, max([*highest, reference or 0, 0.05])))
    ticks = []
    for part in range(5):
        share = top * part / 4
        label = f"{share * 100:g}" + ("\u202f%" if part == 4 else "")
        anchor = {0: "start", 4: "end"}.get(part, "middle")
        ticks.append(Tick(round(LEFT + WIDTH * part / 4, 1), label, anchor))
    at = None if reference is None else round(LEFT + WIDTH * reference / top, 1)
    edge = "middle"
    if at is not None:
        edge = "start" if at < 40 else "end" if at > 260 else "middle"
    return Scale(top, tuple(ticks), reference, at, edge)


def bar(scale: Scale, counts: Counts) -> Bar | None:
    rate = counts.rate
    if rate is None:
        return None
    return Bar(scale.x(rate.low), scale.x(rate.high), scale.x(rate.value), rate.high > scale.top)


@dataclass(frozen=True)
class Dot:
    x: float
    y: float
    few: bool
    name: str
    label_x: float
    label_y: float
    anchor: str


@dataclass(frozen=True)
class Funnel:
    dots: tuple[Dot, ...]
    inner: tuple[str, str]
    outer: tuple[str, str]
    inside: str
    reference: float
    rows: tuple[tuple[float, str], ...]
    columns: tuple[tuple[float, str], ...]
    inner_label: tuple[float, float]
    outer_label: tuple[float, float]


class _Plane:
    def __init__(self, most_jobs: int, top: float) -> None:
        self.jobs, self.top = most_jobs, top

    def x(self, jobs: float) -> float:
        return round(F_LEFT + (F_RIGHT - F_LEFT) * jobs / self.jobs, 1)

    def y(self, share: float) -> float:
        inside = min(share, self.top) / self.top
        return round(F_BOTTOM - (F_BOTTOM - F_TOP) * inside, 1)


def funnel(points: Sequence[Point], theta: float) -> Funnel | None:
    """Rate against number of jobs, with the limits of chance about the company's rate."""
    if not points:
        return None
    most = _round_up(max(point.jobs for point in points) * 1.05)
    most = max(most, 20)
    top = next(s for s in STEPS if s >= min(1.0, max(theta * 3, *(p.rate for p in points), 0.1)))
    plane = _Plane(most, top)
    sizes = _sizes(most)
    curves = [limits_for(theta, n) for n in sizes]
    lines = [
        [
            (plane.x(n), plane.y(getattr(limit, name)))
            for n, limit in zip(sizes, curves, strict=True)
        ]
        for name in ("low", "high", "outer_low", "outer_high")
    ]
    middle = len(sizes) // 3
    return Funnel(
        dots=_dots(points, plane),
        inner=(_path(lines[0]), _path(lines[1])),
        outer=(_path(lines[2]), _path(lines[3])),
        inside=_path([*lines[1], *reversed(lines[0])]) + "Z",
        reference=plane.y(theta),
        rows=tuple((plane.y(top * k / 4), f"{top * k * 25:g}") for k in range(5)),
        columns=tuple((plane.x(most * k / 5), f"{most * k / 5:g}") for k in range(6)),
        inner_label=(lines[1][middle][0], max(lines[1][middle][1] - 6, F_TOP + 10)),
        outer_label=(lines[3][middle][0], max(lines[3][middle][1] - 6, F_TOP + 10)),
    )


def _round_up(value: float) -> int:
    """To a number that five equal parts of the axis share without fractions."""
    size = 10 ** max(1, math.floor(math.log10(max(value, 1))))
    step = size // 2 if size >= 10 else 5
    return math.ceil(value / step) * step


def _sizes(most: int) -> list[int]:
    step = max(1, (most - FIRST_JOBS) // CURVE_POINTS)
    return [*range(FIRST_JOBS, most, step), most]


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def _dots(points: Sequence[Point], plane: _Plane) -> tuple[Dot, ...]:
    """Names stand beside their point, moved down where two would cover each other."""
    dots: list[Dot] = []
    for point in sorted(points, key=lambda each: (-each.rate, each.jobs)):
        x, y = plane.x(point.jobs), plane.y(point.rate)
        to_left = x > F_LEFT + (F_RIGHT - F_LEFT) * 0.7
        label_x, anchor = (x - 10, "end") if to_left else (x + 10, "start")
        label_y = y + 5 if y < F_BOTTOM - 8 else y - 8
        while any(_covers(label_x, label_y, anchor, other) for other in dots):
            label_y += LABEL_HEIGHT / 2
        name = point.name.split(",")[0]
        dots.append(Dot(x, y, point.limits is None, name, label_x, round(label_y, 1), anchor))
    return tuple(dots)


def _covers(x: float, y: float, anchor: str, other: Dot) -> bool:
    return (
        abs(other.label_y - y) < LABEL_HEIGHT
        and (other.anchor != anchor or abs(other.label_x - x) < 110)
        and abs(other.label_x - x) < 220
    )
