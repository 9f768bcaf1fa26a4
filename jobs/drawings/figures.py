"""Geometry of the drawings on pages: where lines and words stand, from figures that may be missing.

Only positions are worked out here; shapes are in templates/parts and colours in the style sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime


@dataclass(frozen=True)
class Tick:
    at: float
    label: str = ""


# --- timer --------------------------------------------------------------------------------

TIMER_WIDTH = 360.0


@dataclass(frozen=True)
class TimerDrawing:
    """The bar of a timer: how far it is, one tick for each unit of time, and the words for it."""

    state: str  # waiting, running, passed, stopped
    run: float
    ticks: list[Tick]
    left: str
    left_unit: str
    spoken: str
    seconds: int


def clock(seconds: float) -> tuple[str, str]:
    """6:12 h:min from an hour on, 18:00 min:s below."""
    whole = max(0, math.ceil(seconds))
    if whole >= 3600:
        minutes = math.ceil(whole / 60)
        return f"{minutes // 60}:{minutes % 60:02d}", "h:min"
    return f"{whole // 60}:{whole % 60:02d}", "min:s"


def timer(
    started_at: datetime | None,
    minutes: float,
    now: datetime,
    *,
    stopped_at: datetime | None = None,
) -> TimerDrawing:
    """How far it is now; a stopped one stands where it was stopped."""
    seconds = max(1, round(minutes * 60))
    step = 60 if minutes <= 40 else 600 if minutes <= 240 else 3600
    count = int(seconds // step)
    ticks = [
        Tick(round(n * step / seconds * TIMER_WIDTH, 1), "long" if n % 6 == 0 or n == count else "")
        for n in range(count + 1)
    ]
    total, total_unit = clock(seconds)
    if started_at is None:
        return TimerDrawing("waiting", 0.0, ticks, total, f"{total_unit}, not started", "", seconds)
    gone = min(max(((stopped_at or now) - started_at).total_seconds(), 0.0), float(seconds))
    left, unit = clock(seconds - gone)
    passed = gone >= seconds
    short = f"{unit} short" if stopped_at else f"{unit} left"
    return TimerDrawing(
        state="passed" if passed else "stopped" if stopped_at else "running",
        run=round(gone / seconds * TIMER_WIDTH, 1),
        ticks=ticks,
        left=left,
        left_unit="enough time passed" if passed else short,
        spoken=f"{round(gone / 60)} of {round(seconds / 60)} minutes have passed",
        seconds=seconds,
    )


# --- residual, as bars from pad to pad of a strip -------------------------------------------


@dataclass(frozen=True)
class Bar:
    label: str
    x: float
    width: float
    y: float
    kind: str  # "", early, expected


@dataclass(frozen=True)
class BandsDrawing:
    width: float
    height: float
    pads: list[Tick]
    bars: list[Bar]
    aim: tuple[float, float] | None
    foot: float


LEFT, RIGHT, TOP, ROW = 52.0, 346.0, 24.0, 26.0


def on_pads(value: float, pads: Sequence[float]) -> float:
    """Place on an axis with equal steps from pad to pad; beyond the last pad is at its end."""
    step = (RIGHT - LEFT) / (len(pads) - 1)
    if value <= pads[0]:
        return LEFT
    for index, (low, high) in enumerate(zip(pads, pads[1:], strict=False)):
        if value <= high:
            return round(LEFT + step * (index + (value - low) / (high - low)), 1)
    return RIGHT


def bands(
    steps: Sequence[tuple[str, float, float, str]],
    pads: Sequence[float],
    aim: tuple[float, float] | None,
) -> BandsDrawing | None:
    """Steps are (label, low, high, kind). None when there is no strip scale to draw on."""
    if len(pads) < 2:
        return None
    bars = []
    for row, (label, low, high, kind) in enumerate(steps):
        x, end = on_pads(low, pads), on_pads(high, pads)
        bars.append(Bar(label, x, round(max(end - x, 3.0), 1), TOP + 6 + row * ROW, kind))
    foot = TOP + ROW * max(len(bars), 1)
    marked = [Tick(on_pads(pad, pads), f"{pad:g}") for pad in pads]
    place = (on_pads(aim[0], pads), on_pads(aim[1], pads)) if aim else None
    return BandsDrawing(360.0, foot + 26, marked, bars, place, foot)


# --- the well, drawn to depth -----------------------------------------------------------------


@dataclass(frozen=True)
class Layer:
    """One bed of the driller's log; `until` None: to the bottom."""

    name: str
    until: float | None
    pattern: str = "sand"  # till, sand, rock


@dataclass(frozen=True, kw_only=True)
class WellFigures:
    """Depths from the ground in one unit; None is unknown. `measured`: names shown slanted."""

    total_depth: float | None = None
    casing_depth: float | None = None
    static_level: float | None = None
    pumping_level: float | None = None
    pump_depth: float | None = None
    casing_size: str = ""
    unit: str = "ft"
    layers: tuple[Layer, ...] = ()
    measured: frozenset[str] = frozenset()

    def depths(self) -> list[float]:
        told = (
            self.total_depth,
            self.casing_depth,
            self.static_level,
            self.pumping_level,
            self.pump_depth,
            *(layer.until for layer in self.layers),
        )
        return [depth for depth in told if depth is not None and depth > 0]


@dataclass
class Label:
    text: str
    at: float  # where its line points to
    y: float  # where the words stand
    slanted: bool = False
    quiet: bool = False


@dataclass(frozen=True)
class Bed:
    y: float
    height: float
    pattern: str


@dataclass
class WellDrawing:
    height: float
    bottom: float
    open_bottom: bool
    ticks: list[Tick]
    beds: list[Bed]
    casing: float | None
    static: float | None
    pumping: float | None
    pump: float | None
    labels: list[Label] = field(default_factory=list)
    unknown: list[str] = field(default_factory=list)
    spoken: str = ""


GROUND, DRAWN, LINE = 34.0, 360.0, 18.0
NAMES = {
    "static_level": "static level",
    "pumping_level": "pumping level",
    "casing_depth": "casing",
    "pump_depth": "pump",
    "total_depth": "bottom",
}


def nice_step(depth: float) -> float:
    """Depth marks at 1, 2, 5, 10, 20 and so on: four to eight of them."""
    power = 10.0 ** math.floor(math.log10(depth / 4))
    return next((power * m for m in (5, 2, 1) if depth / (power * m) >= 4), power)


def well(figures: WellFigures) -> WellDrawing | None:
    """The column to scale. None when nothing is known; unknown figures are named, not guessed."""
    depths = figures.depths()
    if not depths:
        return None
    known_bottom = figures.total_depth is not None
    deepest = max(depths) if known_bottom else max(depths) * 1.12

    def y(depth: float | None) -> float | None:
        return None if depth is None else round(GROUND + DRAWN * depth / deepest, 1)

    step = nice_step(deepest)
    drawing = WellDrawing(
        height=GROUND + DRAWN + 14,
        bottom=GROUND + DRAWN if not known_bottom else y(figures.total_depth) or GROUND,
        open_bottom=not known_bottom,
        ticks=[Tick(y(n * step) or 0.0, f"{n * step:g}") for n in range(int(deepest // step) + 1)],
        beds=_beds(figures, deepest),
        casing=y(figures.casing_depth),
        static=y(figures.static_level),
        pumping=y(figures.pumping_level),
        pump=y(figures.pump_depth),
    )
    _name_parts(drawing, figures, y)
    return drawing


def _beds(figures: WellFigures, deepest: float) -> list[Bed]:
    beds, start = [], 0.0
    for layer in figures.layers or (Layer("", None, "plain"),):
        until = deepest if layer.until is None else min(layer.until, deepest)
        if until > start:
            top = GROUND + DRAWN * start / deepest
            height = DRAWN * (until - start) / deepest
            beds.append(Bed(round(top, 1), round(height, 1), layer.pattern))
            start = until
    return beds


def _name_parts(drawing: WellDrawing, figures: WellFigures, y: object) -> None:
    """Words beside the column, kept apart; what is not known is listed."""
    assert callable(y)
    said = []
    for key, name in NAMES.items():
        depth = getattr(figures, key)
        if depth is None:
            drawing.unknown.append(name if key != "total_depth" else "depth of the well")
            continue
        size = (
            f" {figures.casing_size}, to" if key == "casing_depth" and figures.casing_size else ""
        )
        text = f"{name}{size} {depth:g} {figures.unit}"
        said.append(text)
        at = y(depth)
        drawing.labels.append(Label(text, at, at, slanted=key in figures.measured))
    start = 0.0
    for layer in figures.layers:
        until = layer.until
        words = (
            f"{layer.name} below" if until is None else f"{layer.name} to {until:g} {figures.unit}"
        )
        middle = y(((until if until is not None else max(figures.depths())) + start) / 2)
        drawing.labels.append(Label(words, middle, middle, quiet=True))
        start = until if until is not None else start
    drawing.labels = spread(drawing.labels, GROUND, GROUND + DRAWN)
    drawing.spoken = "Well, drawn to depth: " + ", ".join(said)
    if drawing.unknown:
        drawing.spoken += "; not known: " + ", ".join(drawing.unknown)


def spread(labels: list[Label], top: float, bottom: float) -> list[Label]:
    """Move words apart by one line height, pushing down first and up again from the bottom."""
    placed = sorted(labels, key=lambda label: label.at)
    floor = top - LINE
    for label in placed:
        label.y = max(label.at, floor + LINE)
        floor = label.y
    ceiling = bottom + LINE
    for label in reversed(placed):
        label.y = round(min(label.y, ceiling - LINE), 1)
        ceiling = label.y
    return placed
