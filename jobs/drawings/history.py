"""Geometry of what happened at a house over time; colours live in the style sheet.

All charts of a page share one axis of days, so that they can be read one under the other.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from itertools import pairwise

from django.utils import timezone

from .figures import nice_step

WIDTH, LEFT, RIGHT, TOP, FOOT = 560.0, 58.0, 546.0, 18.0, 208.0
BAND, LANE = 242.0, 26.0
DAYS_AT_LEAST, MOST_TICKS = 28, 5
#: words on a phone: so many units for one character
CHARACTER = 10.5
MONTH_STEPS = (1, 2, 3, 4, 6, 12, 24, 60, 120)
DAY_STEPS = (7, 14)
SIZE = 6.5
#: corners and turn of the marker of each line; 0 corners is a circle
SHAPES = ((0, 0.0), (4, 45.0), (3, 0.0), (4, 0.0), (3, 180.0), (5, 0.0))


@dataclass(frozen=True)
class Days:
    """The axis of days: from the first figure to today."""

    start: date
    end: date
    left: float = LEFT
    right: float = RIGHT

    def x(self, at: date | datetime) -> float:
        """Where a day (its noon) or a moment stands; beyond the axis, its end."""
        if not isinstance(at, datetime):
            at = datetime.combine(at, time(12), timezone.get_current_timezone())
        begin = datetime.combine(self.start, time.min, timezone.get_current_timezone())
        gone = (at - begin).total_seconds() / 86400 / self.length
        return round(self.left + (self.right - self.left) * min(max(gone, 0.0), 1.0), 1)

    @property
    def length(self) -> int:
        return (self.end - self.start).days + 1

    def ticks(self) -> list[tuple[float, str, str]]:
        """Two to five round days: years, months or weeks."""
        for step in MONTH_STEPS:
            found = [day for day in _firsts(self.start, self.end) if _months(day) % step == 0]
            if 2 <= len(found) <= MOST_TICKS:
                form = "%Y" if step >= 12 else "%b %Y"
                return [self._tick(day, day.strftime(form)) for day in found]
        step = next((n for n in DAY_STEPS if self.length / n <= MOST_TICKS), DAY_STEPS[-1])
        every = range(step // 2, self.length, step)
        return [self._tick(day := _after(self.start, n), f"{day:%-d %b}") for n in every]

    def _tick(self, day: date, label: str) -> tuple[float, str, str]:
        x = self.x(day)
        return x, label, "end" if x + len(label) * CHARACTER / 2 > WIDTH else "middle"


def _months(day: date) -> int:
    return day.year * 12 + day.month - 1


def _firsts(start: date, end: date) -> Iterable[date]:
    """First days of the months between two days."""
    for month in range(_months(start), _months(end) + 1):
        day = date(month // 12, month % 12 + 1, 1)
        if start <= day <= end:
            yield day


def _after(start: date, days: int) -> date:
    return start + timedelta(days=days)


def days_of(moments: Iterable[date], today: date) -> Days:
    """An axis with a little room before the first day, four weeks at least."""
    first = min([*moments, today - timedelta(days=DAYS_AT_LEAST)])
    room = max(2, (today - first).days // 40)
    return Days(first - timedelta(days=room), today + timedelta(days=room))


# --- what is drawn --------------------------------------------------------------------------


@dataclass(frozen=True)
class Point:
    """One figure. `comparator` "<": not found above `value`; ">": beyond the range of the test.

    `other` is the other end of a range: it is drawn from end to end.
    """

    at: datetime
    value: float
    comparator: str = "="
    other: float | None = None

    @property
    def ends(self) -> list[float]:
        return [self.value] if self.other is None else sorted((self.value, self.other))

    @property
    def is_open(self) -> bool:
        return self.comparator != "="


@dataclass(frozen=True)
class Line:
    name: str
    points: Sequence[Point]


@dataclass(frozen=True)
class Limit:
    """A figure readings are compared with, and whose it is."""

    value: float
    whose: str
    source: str = ""


@dataclass(frozen=True)
class Living:
    name: str
    from_on: date
    until_on: date | None


@dataclass(frozen=True)
class Mark:
    path: str
    is_open: bool = False
    stem: str = ""  # which way the true figure lies


@dataclass(frozen=True)
class DrawnLimit:
    y: float
    text: str
    text_x: float
    anchor: str


@dataclass(frozen=True)
class Lane:
    x: float
    y: float
    width: float
    name: str


@dataclass(frozen=True)
class Key:
    name: str
    path: str


@dataclass
class Chart:
    title: str
    spoken: str
    height: float
    rows: list[tuple[float, str]]
    columns: list[tuple[float, str, str]]  # x, words, anchor
    limits: list[DrawnLimit] = field(default_factory=list)
    lines: list[tuple[str, str]] = field(default_factory=list)  # class, path
    marks: list[Mark] = field(default_factory=list)
    band: list[Lane] = field(default_factory=list)
    keys: list[Key] = field(default_factory=list)
    has_open: bool = False
    has_range: bool = False
    sources: list[str] = field(default_factory=list)
    note: str = ""
    unit: str = ""
    key: str = ""  # its name on the page


class _Scale:
    def __init__(self, low: float, high: float) -> None:
        step = nice_step(max(high - low, 1e-9))
        self.low = math.floor(low / step + 1e-9) * step
        self.high = math.ceil(high / step - 1e-9) * step
        if self.high <= self.low:
            self.high = self.low + step
        self.step = step

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return round(FOOT - (FOOT - TOP) * share, 1)

    def rows(self) -> list[tuple[float, str]]:
        count = round((self.high - self.low) / self.step)
        values = [self.low + n * self.step for n in range(0, count + 1, 2 if count > 6 else 1)]
        return [(self.y(value), f"{value:.4g}") for value in values]


def _scale(values: Sequence[float], from_zero: bool) -> _Scale:
    low, high = min(values), max(values)
    if from_zero and low >= 0:
        return _Scale(0.0, high * 1.05 or 1.0)
    room = (high - low) * 0.1 or 1.0
    return _Scale(low - room, high + room)


def readings_chart(
    title: str,
    lines: Sequence[Line],
    days: Days,
    *,
    limits: Sequence[Limit] = (),
    living: Sequence[Living] = (),
    from_zero: bool = True,
    unit: str = "",
) -> Chart:
    """Figures of several places; what was not found stands open at the limit of its test."""
    values = [end for line in lines for point in line.points for end in point.ends]
    scale = _scale([*values, *(limit.value for limit in limits)], from_zero)
    chart = _frame(title, scale, days, living, unit)
    chart.limits = _drawn_limits(limits, scale)
    chart.sources = [f"{limit.value:g} {limit.source or limit.whose}" for limit in limits]
    for number, line in enumerate(lines):
        shape = SHAPES[number % len(SHAPES)]
        spots = [(days.x(p.at), scale.y(p.value)) for p in line.points]
        for (one, other), (start, end) in zip(pairwise(line.points), pairwise(spots), strict=True):
            kind = "join unsure" if one.is_open or other.is_open else "join"
            chart.lines.append((kind, _path([start, end])))
        chart.marks += [
            Mark(marker_path(*shape, *spot), point.is_open, _stem(point, *spot, scale))
            for point, spot in zip(line.points, spots, strict=True)
        ]
        chart.keys.append(Key(line.name, marker_path(*shape, 9, 9)))
    chart.has_open = any(mark.is_open for mark in chart.marks)
    chart.has_range = any(point.other is not None for line in lines for point in line.points)
    chart.spoken = "; ".join([*(_told(line, unit) for line in lines), *_told_limits(limits, unit)])
    return chart


def steps_chart(
    title: str,
    points: Sequence[Point],
    days: Days,
    *,
    before: float | None = None,
    ended: date | None = None,
    living: Sequence[Living] = (),
    unit: str = "",
) -> Chart:
    """A setting: level until the next change, up or down at once."""
    told = [point.value for point in points]
    scale = _scale([*told, *([before] if before is not None else [])], from_zero=True)
    chart = _frame(title, scale, days, living, unit)
    first = days.x(points[0].at)
    path = f"M{first:g} {scale.y(points[0].value if before is None else before):g}"
    for point in points:
        path += f"H{days.x(point.at):g}V{scale.y(point.value):g}"
    chart.lines = [("step", f"{path}H{days.x(ended or days.end):g}")]
    chart.marks = [
        Mark(marker_path(*SHAPES[0], days.x(p.at), scale.y(p.value), size=4.5)) for p in points
    ]
    chart.spoken = _told(Line("set to", points), unit)
    return chart


def fills_chart(
    title: str,
    fills: Sequence[tuple[datetime, float | None, float]],
    days: Days,
    *,
    living: Sequence[Living] = (),
    unit: str = "",
) -> Chart:
    """Level before and after each fill; between fills nobody looked, so the line is dashed."""
    scale = _scale([level for _, *two in fills for level in two if level is not None], True)
    chart = _frame(title, scale, days, living, unit)
    chart.note = "Dotted: nobody looked between two fills."
    for at, before, after in fills:
        x = days.x(at)
        if before is not None:
            chart.lines.append(("step", _path([(x, scale.y(before)), (x, scale.y(after))])))
        chart.marks.append(Mark(marker_path(*SHAPES[0], x, scale.y(after), size=4.5)))
    for (at, _, after), (then, before, _) in pairwise(fills):
        if before is not None:
            ends = [(days.x(at), scale.y(after)), (days.x(then), scale.y(before))]
            chart.lines.append(("join unsure", _path(ends)))
    chart.spoken = "; ".join(
        f"{timezone.localtime(at):%-d %B %Y} {_level(before)}filled to {after:.4g} {unit}".strip()
        for at, before, after in fills
    )
    return chart


def _level(before: float | None) -> str:
    return "" if before is None else f"from {before:.4g} "


# --- parts ----------------------------------------------------------------------------------


def _frame(title: str, scale: _Scale, days: Days, living: Sequence[Living], unit: str) -> Chart:
    band = _lanes(living, days)
    depth = max((lane.y for lane in band), default=BAND - LANE) + LANE
    return Chart(title, "", depth + 4, scale.rows(), days.ticks(), band=band, unit=unit)


def _drawn_limits(limits: Sequence[Limit], scale: _Scale) -> list[DrawnLimit]:
    """Names stand on their line, left and right by turns, so that near ones stay apart."""
    drawn = []
    for number, limit in enumerate(sorted(limits, key=lambda each: -each.value)):
        y = scale.y(limit.value)
        x, anchor = (RIGHT, "end") if number % 2 == 0 else (LEFT + 6, "start")
        drawn.append(DrawnLimit(y, f"{limit.value:g} {limit.whose}", x, anchor))
    return drawn


def _lanes(living: Sequence[Living], days: Days) -> list[Lane]:
    """Who lived there, one under the other where two did at the same time."""
    lanes: list[Lane] = []
    ends: list[float] = []
    for each in sorted(living, key=lambda row: row.from_on):
        if each.until_on and each.until_on <= days.start:
            continue
        start, end = days.x(each.from_on), days.x(each.until_on or days.end)
        level = next((n for n, taken in enumerate(ends) if taken <= start), len(ends))
        ends[level : level + 1] = [end]
        width = round(max(end - start, 1.0), 1)
        name = each.name if len(each.name) * CHARACTER + 12 <= width else ""
        lanes.append(Lane(start, BAND + level * LANE, width, name))
    return lanes


def _path(points: Iterable[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x:g} {y:g}" for x, y in points)


def marker_path(corners: int, turn: float, x: float, y: float, size: float = SIZE) -> str:
    if not corners:
        r = size * 0.85
        return f"M{x - r:g} {y:g}a{r:g} {r:g} 0 1 0 {2 * r:g} 0a{r:g} {r:g} 0 1 0 {-2 * r:g} 0Z"
    angles = [math.radians(turn + 360 * n / corners) for n in range(corners)]
    around = [(x + size * math.sin(a), y - size * math.cos(a)) for a in angles]
    return _path((round(px, 1), round(py, 1)) for px, py in around) + "Z"


def _stem(point: Point, x: float, y: float, scale: _Scale) -> str:
    """Down from what was not found, up from what was beyond the test; never out of the chart.

    Of a range, to its other end.
    """
    if point.other is not None:
        return _path([(x, y), (x, scale.y(point.other))])
    if not point.is_open:
        return ""
    end = min(y + 3 * SIZE, FOOT) if point.comparator == "<" else max(y - 3 * SIZE, 4.0)
    side = SIZE if point.comparator == "<" else -SIZE
    return f"M{x:g} {y + side:g}V{end:g}" if (end - y - side) * side > 0 else ""


def _told(line: Line, unit: str) -> str:
    said = [
        f"{'' if p.comparator == '=' else f'{p.comparator} '}"
        + f"{' to '.join(f'{end:.4g}' for end in p.ends)} {unit}".strip()
        + f" on {timezone.localtime(p.at):%-d %B %Y}"
        for p in (line.points[0], line.points[-1])
    ]
    count = f"{len(line.points)} figures" if len(line.points) != 1 else "1 figure"
    return f"{line.name}: {count}, {' to '.join(dict.fromkeys(said))}"


def _told_limits(limits: Sequence[Limit], unit: str) -> list[str]:
    return [f"line at {limit.value:g} {unit}".strip() + f", {limit.whose}" for limit in limits]
