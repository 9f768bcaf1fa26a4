"""Geometry of what is drawn beside the lines of a record: a wait, and the residual by setting.

Only positions are worked out here; shapes are in templates/parts and colours in the style sheet.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
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
