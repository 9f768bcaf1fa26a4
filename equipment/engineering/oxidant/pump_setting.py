"""What a dosing pump is set to: one figure or two, and the share of its full output it feeds.

Contents: PumpSetting, FIGURES, set_to, nearest. One dial: the setting in percent. A timer: length
of its cycle and the share of it that the pump runs. Stroke and speed: both in percent. Pulses of
a meter: length of the stroke, and how many pulses make one.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

from equipment.engineering.errors import MissingInput, OutOfRange
from equipment.engineering.names import PumpHead

FULL = 100.0
#: common practice, no source: below this share of its speed a pump is set by its stroke
SLOWEST_PERCENT = 10.0
MIDDLE_PERCENT = 50.0
#: a figure that lies on a mark must not fall below it by the last digit of a float
ROUNDING = 1e-9

SHARE, CYCLE, STROKE, SPEED, PULSES = (
    "setting_percent",
    "cycle_s",
    "stroke_percent",
    "speed_percent",
    "pulses",
)
#: the figures that a pump of each kind is set by; one that is not known has one dial
FIGURES: dict[str, tuple[str, ...]] = {
    "": (SHARE,),
    PumpHead.VARIABLE: (SHARE,),
    PumpHead.TIMER: (SHARE, CYCLE),
    PumpHead.STROKE: (STROKE, SPEED),
    PumpHead.METERED: (STROKE, PULSES),
}
#: least and most of each figure
LIMITS: dict[str, tuple[float, float]] = {
    SHARE: (0, FULL),
    CYCLE: (0.1, 3600),
    STROKE: (0, FULL),
    SPEED: (0, FULL),
    PULSES: (1, 1000),
}


class Pump(Protocol):
    """What the rating plate says about setting it; None where it is not on file."""

    @property
    def head(self) -> str: ...

    @property
    def setting_step_percent(self) -> float: ...

    @property
    def cycle_s(self) -> float | None: ...

    @property
    def cycle_step_s(self) -> float: ...

    @property
    def strokes_per_min(self) -> float | None: ...

    @property
    def pulses_per_gal(self) -> float | None: ...


@dataclass(frozen=True, kw_only=True)
class PumpSetting:
    """One setting. `percent` is the share of the full output that is fed; the others as set."""

    percent: float
    cycle_s: float | None = None
    stroke_percent: float | None = None
    speed_percent: float | None = None
    pulses: float | None = None
    #: nobody read the cycle off the pump: it is that of the catalog
    cycle_from_catalog: bool = False

    @classmethod
    def of(cls, percent: float, marks: Mapping[str, Any] | None = None) -> PumpSetting:
        """From the share and the other figures as a row keeps them."""
        known = {key: value for key, value in (marks or {}).items() if key in MARKS}
        return cls(percent=percent, **known)

    @property
    def marks(self) -> dict[str, float | bool]:
        """The figures beside the share, those that there are."""
        known = {key: getattr(self, key) for key in MARKS}
        return {
            key: value for key, value in known.items() if value is not None and value is not False
        }

    def figure(self, name: str) -> float | None:
        value = self.percent if name == SHARE else getattr(self, name)
        return None if value is None else float(value)


MARKS = (CYCLE, STROKE, SPEED, PULSES, "cycle_from_catalog")


def set_to(
    figures: Mapping[str, float | None], pump: Pump | None, *, flow_gpm: float | None = None
) -> PumpSetting:
    """A setting from the figures that stand on the pump.

    stroke and speed:  percent = stroke x speed / 100
    pulses of a meter: percent = stroke x (flow x pulses a gallon / pulses for a stroke) / fastest

    Raises MissingInput for a figure that such a pump needs, OutOfRange beyond LIMITS. Source:
    definition of a stroke's volume and a count; a pump at its fastest gives no more.
    """
    head = pump.head if pump else ""
    taken = {name: _taken(name, figures.get(name)) for name in FIGURES[head]}
    if head == PumpHead.TIMER:
        return PumpSetting(percent=taken[SHARE], cycle_s=taken[CYCLE])
    if head == PumpHead.STROKE:
        percent = taken[STROKE] * taken[SPEED] / FULL
        return PumpSetting(
            percent=percent, stroke_percent=taken[STROKE], speed_percent=taken[SPEED]
        )
    if head == PumpHead.METERED:
        assert pump
        share = _stroke_rate(pump, taken[PULSES], flow_gpm)
        percent = taken[STROKE] * min(share, 1.0)
        return PumpSetting(percent=percent, stroke_percent=taken[STROKE], pulses=taken[PULSES])
    return PumpSetting(percent=taken[SHARE])


def _taken(name: str, value: float | None) -> float:
    low, high = LIMITS[name]
    if value is None:
        raise MissingInput(name, "is missing; such a dosing pump is set by two figures")
    if not low <= value <= high:
        raise OutOfRange(name, f"must be {low:g} to {high:g}, got {value:g}")
    return value


def _stroke_rate(pump: Pump, pulses: float, flow_gpm: float | None) -> float:
    """Strokes in a minute at that flow, over the fastest that the pump makes."""
    needed = {
        "strokes_per_min": (
            pump.strokes_per_min,
            "strokes of the dosing pump in a minute, in the catalog",
        ),
        "pulses_per_gal": (pump.pulses_per_gal, "pulses of the meter for a gallon, in the catalog"),
        "flow": (flow_gpm, "flow of the well pump"),
    }
    for name, (value, words) in needed.items():
        if not value:
            raise MissingInput(name, f"is missing: {words}")
    assert pump.strokes_per_min
    assert pump.pulses_per_gal
    assert flow_gpm
    return flow_gpm * pump.pulses_per_gal / pulses / pump.strokes_per_min


def nearest(
    percent: float,
    pump: Pump | None,
    *,
    now: PumpSetting | None = None,
    flow_gpm: float | None = None,
) -> PumpSetting:
    """What to set for a share of the full output: on the marks, never above it, and with as
    little turned as may be. `now` is what it stands at."""
    head = pump.head if pump else ""
    if pump is None or head in ("", PumpHead.VARIABLE):
        return PumpSetting(percent=percent)
    if head == PumpHead.TIMER:
        cycle = (now.cycle_s if now else None) or pump.cycle_s
        return PumpSetting(percent=percent, cycle_s=cycle)
    step = pump.setting_step_percent
    if head == PumpHead.STROKE:
        stroke, speed = _stroke_and_speed(percent, (now and now.stroke_percent) or FULL)
        figures: dict[str, float | None] = {STROKE: _down(stroke, step), SPEED: _down(speed, step)}
        return set_to(figures, pump)
    pulses = (now and now.pulses) or 1.0
    share = _stroke_rate(pump, pulses, flow_gpm)
    if percent > FULL * min(share, 1.0) and share < 1:
        pulses = max(1.0, math.floor(pulses * share * FULL / percent))
        share = _stroke_rate(pump, pulses, flow_gpm)
    stroke = min(FULL, percent / min(share, 1.0))
    return set_to({STROKE: _down(stroke, step), PULSES: pulses}, pump, flow_gpm=flow_gpm)


def _stroke_and_speed(percent: float, stroke: float) -> tuple[float, float]:
    """The stroke stays where it is as long as the speed can follow."""
    speed = percent / stroke * FULL
    if speed > FULL:
        return percent, FULL
    if speed < SLOWEST_PERCENT:
        return percent / MIDDLE_PERCENT * FULL, MIDDLE_PERCENT
    return stroke, speed


def _down(value: float, step: float) -> float:
    return round(math.floor(value / step + ROUNDING) * step, 6)
