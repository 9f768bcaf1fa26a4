"""Geometry of the drawings on pages: where lines and words stand, from figures that may be missing.

Only positions are worked out here; shapes are in templates/parts and colours in the style sheet.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field

from jobs.phone.drawn import Tick

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
    "pump_depth": "well pump",
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
