"""What the rules of the dial-in look at, and the advice they give."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import StrEnum

from .dial_figures import FAINT, FIGURES, Aims, Figures, aims_for, down_to_mark
from .dial_grid import House, Weights
from .readings import Reading

FULL = 100.0
ROUNDING = 1e-9


class Act(StrEnum):
    """What is to be done now."""

    START = "start"
    SET = "set"
    HOLD = "hold"
    STOP = "stop"
    CHECK = "check"
    LIMIT = "limit"


@dataclass(frozen=True, kw_only=True)
class Case:
    """All that the rules look at, in percent and mg/L."""

    oxidant: str
    readings: tuple[Reading, ...]
    calibration: float
    target_low: float
    target_high: float
    #: largest dose allowed, None when no limit is on file
    maximum: float | None
    computed: float | None
    #: smallest change the pump can be set to, percent
    step: float = 1.0
    #: permanganate: no colour left after the filter at the last reading; None where not said
    colour_gone: bool | None = None
    #: new carbon takes odour up by itself: a clear tap proves nothing of the dose
    new_carbon: bool = False
    #: what was said of the tap at the last reading, also where it proves nothing
    tap_said: bool | None = None

    @property
    def figures(self) -> Figures:
        return FIGURES[self.oxidant]

    @property
    def aims(self) -> Aims:
        return aims_for(self.oxidant, self.target_low, self.target_high)

    @property
    def coloured(self) -> bool:
        """Judged by colour, without a residual to aim at."""
        return self.oxidant == "permanganate"

    @property
    def settled(self) -> tuple[Reading, ...]:
        return tuple(reading for reading in self.readings if reading.settled)

    @property
    def standing(self) -> tuple[Reading, ...]:
        """Settled readings that still count: of those before the feeder was mended only such
        that prove it fed."""
        kept: list[Reading] = []
        for reading in self.settled:
            kept.append(replace(reading, check=""))
            if reading.check == "mended":
                kept = [earlier for earlier in kept if not earlier.zero]
        return tuple(kept)

    @property
    def middle(self) -> float:
        return 0.0 if self.coloured else (self.target_low + self.target_high) / 2

    @property
    def width(self) -> float:
        return self.target_high - self.target_low

    @property
    def ceiling(self) -> float:
        """Highest setting that the feeder and the largest dose allow."""
        return FULL if self.maximum is None else min(FULL, self.maximum / self.calibration)

    @property
    def house(self) -> House:
        computed = self.computed or self.settled[0].setting / self.figures.start
        return House(
            self.calibration,
            self.calibration * computed,
            0.0 if self.coloured else self.target_high,
            self.figures.memory,
        )

    def landing_allowed(self, reading: Reading) -> float:
        """Chance of an unmet demand that a step down from this reading may take."""
        figures = self.figures
        allowed = figures.landing_later
        if len(self.settled) == 1:
            over = self.is_over(reading)
            allowed = figures.landing_first_over if over else figures.landing_first
        if self.target_low < figures.landing_aim:
            allowed *= self.target_low / figures.landing_aim
        return allowed

    def down_to_mark(self, setting: float) -> float:
        return down_to_mark(setting, self.step)

    def is_over(self, reading: Reading) -> bool:
        return reading.low >= (FAINT if self.coloured else self.target_high)

    def is_under(self, reading: Reading) -> bool:
        return not self.coloured and reading.high <= self.target_low

    def is_inside(self, reading: Reading) -> bool:
        """The band alone lies where it may stay."""
        if self.coloured:
            return reading.high <= FAINT + ROUNDING
        inside = self.target_low <= reading.middle <= self.target_high
        return inside and not self.is_over(reading) and not self.is_under(reading)


@dataclass(frozen=True, kw_only=True)
class Advice:
    """The next setting and why."""

    act: Act
    setting: float
    reason: str
    limits: tuple[float, float] = (0.0, FULL)
    weights: Weights | None = None

    @property
    def stop(self) -> bool:
        return self.act == Act.STOP
