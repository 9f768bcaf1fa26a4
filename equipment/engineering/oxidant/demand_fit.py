"""What a few residual readings say about slope and demand.

The model is residual = k x - D, never below 0: k is mg/L of residual for each percent of setting,
D the demand in mg/L. A reading is an interval, so it leaves a region of (k, D) that could have
given it; several readings leave the overlap. The feeder's own calibration g carries the slope:
k lies between 0.6 g and 1.3 g (worn tube, weaker solution, flow error; common practice, no
source).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.units import number

SLOPE_LOW = 0.6
SLOPE_HIGH = 1.3
#: standard deviation of the slope before any reading, as a share of the calibration
SLOPE_PRIOR = 0.2
#: a setting settles when three volumes have gone through: 95 percent of the step in a mixed tank
SETTLED_TURNOVERS = 3.0
HIGHEST_READING = 1000.0
MOST_TURNOVERS = 100.0
#: narrowest reading that is believed, mg/L
RESOLUTION = 0.001
#: keeps the region of exact readings from closing by rounding, mg/L
ROUNDING = 1e-6
#: a single value is taken as good to this share (kit or photometer; common practice, no source)
KIT_SHARE = 0.1


@dataclass(frozen=True)
class Reading:
    """A residual read at a setting: percent, mg/L from low to high (inf: above the top pad)."""

    setting: float
    low: float
    high: float
    turnovers: float = SETTLED_TURNOVERS

    @property
    def settled(self) -> bool:
        return self.turnovers >= SETTLED_TURNOVERS

    @property
    def zero(self) -> bool:
        return self.low == 0

    @property
    def above_top(self) -> bool:
        return math.isinf(self.high)

    @property
    def text(self) -> str:
        span = f"above {self.low:g}" if self.above_top else f"{self.low:g} to {self.high:g}"
        return f"{span} mg/L at {self.setting:g} percent"

    def as_json(self) -> dict[str, object]:
        shown: dict[str, object] = {"setting": self.setting, "low": self.low, "unit": "mg/L"}
        if not self.above_top:
            shown["high"] = self.high
        return shown | {"turnovers": self.turnovers}


def read_reading(key: str, text: str) -> Reading:
    """setting:low-high[:turnovers], in percent and mg/L.

    ">75" stands for above the top pad, "<0.5" for 0 to 0.5, "12" for 12 give or take 10 percent.
    """
    parts = [part.strip() for part in text.split(":")]
    if len(parts) not in (2, 3):
        raise WrongInput(key, f"{text[:30]!r} is not setting:low-high, for example 40:5-10")
    setting = number(key, parts[0].removesuffix("%").removesuffix("percent"))
    low, high = _read_span(key, parts[1].removesuffix("mg/L").strip())
    turnovers = number(key, parts[2]) if len(parts) == 3 else SETTLED_TURNOVERS
    return checked_reading(key, Reading(setting, low, high, turnovers))


def _read_span(key: str, text: str) -> tuple[float, float]:
    if text.startswith(">"):
        return number(key, text[1:]), math.inf
    if text.startswith("<"):
        return 0.0, number(key, text[1:])
    low, dash, high = text.partition("-")
    if not dash:
        value = number(key, low)
        return value * (1 - KIT_SHARE), value * (1 + KIT_SHARE)
    return number(key, low), number(key, high)


def checked_reading(key: str, reading: Reading) -> Reading:
    """The reading, or a refusal that says what is wrong with it."""
    if not 0 < reading.setting <= 100:
        raise OutOfRange(
            key,
            f"setting must be above 0 and at most 100 percent, got {reading.setting:g}; a "
            "residual with the feeder off means that solution is siphoned in",
        )
    if not 0 <= reading.low <= HIGHEST_READING:
        raise OutOfRange(
            key, f"residual must be 0 to {HIGHEST_READING:g} mg/L, got {reading.low:g}"
        )
    if reading.high < reading.low or HIGHEST_READING < reading.high < math.inf:
        span = f"{reading.low:g} to {HIGHEST_READING:g} mg/L"
        raise OutOfRange(key, f"upper end {reading.high:g} must be {span}")
    if not 0 <= reading.turnovers <= MOST_TURNOVERS:
        raise OutOfRange(
            key, f"turnovers must be 0 to {MOST_TURNOVERS:g}, got {reading.turnovers:g}"
        )
    return reading


@dataclass(frozen=True)
class Fit:
    """Slope and demand by least squares with the calibration as prior, and their covariance."""

    slope: float
    demand: float
    slope_variance: float
    demand_variance: float
    covariance: float

    def setting_for(self, residual: float) -> float:
        return (residual + self.demand) / self.slope

    def residual_deviation(self, setting: float) -> float:
        """Standard deviation of the predicted residual at a setting."""
        variance = (
            setting**2 * self.slope_variance - 2 * setting * self.covariance + self.demand_variance
        )
        return math.sqrt(max(0.0, variance))


def fit_line(
    points: Sequence[tuple[float, float, float]],
    *,
    calibration: float,
    slope_prior: float = SLOPE_PRIOR,
    demand_prior: tuple[float, float] | None = None,
) -> Fit:
    """Least squares of r = k x - D with priors: minimise

    sum((r - k x + D)^2 / s^2) + (k - g)^2 / (p g)^2 + (D - D0)^2 / d^2

    points         (setting x, residual r, its standard deviation s), at least one
    calibration    g, mg/L per percent
    slope_prior    p, standard deviation of k as a share of g; inf for none
    demand_prior   D0 and d, or none
    """
    spread = slope_prior * calibration
    slope_weight = 0.0 if math.isinf(spread) else 1 / spread**2
    demand_0, deviation = demand_prior or (0.0, math.inf)
    demand_weight = 0.0 if math.isinf(deviation) else 1 / deviation**2
    kk = math.fsum(x * x / s**2 for x, _, s in points) + slope_weight
    kd = -math.fsum(x / s**2 for x, _, s in points)
    dd = math.fsum(1 / s**2 for _, _, s in points) + demand_weight
    k_side = math.fsum(x * r / s**2 for x, r, s in points) + slope_weight * calibration
    d_side = -math.fsum(r / s**2 for _, r, s in points) + demand_weight * demand_0
    determinant = kk * dd - kd * kd
    return Fit(
        slope=(k_side * dd - d_side * kd) / determinant,
        demand=(kk * d_side - kd * k_side) / determinant,
        slope_variance=dd / determinant,
        demand_variance=kk / determinant,
        covariance=-kd / determinant,
    )


@dataclass(frozen=True)
class Evidence:
    """What the readings leave possible, and the best estimate inside it."""

    readings: tuple[Reading, ...]
    #: corners (k, D) of the region that fits every reading
    corners: tuple[tuple[float, float], ...]
    slope: float
    demand_low: float
    demand_high: float
    #: "" or what had to be given up so that the readings agree
    conflict: str
    fit: Fit | None

    @property
    def bounded(self) -> bool:
        """Whether a reading above zero limits the demand from above."""
        return any(not reading.zero for reading in self.readings)

    def residual(self, setting: float) -> tuple[float, float]:
        """Lowest and highest residual at a setting that the readings allow."""
        values = [max(0.0, k * setting - demand) for k, demand in self.corners]
        return min(values), max(values)


def evidence_from(readings: Sequence[Reading], calibration: float) -> Evidence:
    """Region and estimate from settled readings, the latest last.

    Readings that cannot all be true are widened by their own width (one pad misread); if they
    still disagree only the latest counts. Either is said in `conflict`.
    """
    for used, conflict in (
        (readings, ""),
        ([_widened(reading) for reading in readings], "misread"),
        (readings[-1:], "disagree"),
    ):
        corners = _region(used, calibration)
        if corners:
            return _estimated(tuple(used), tuple(corners), calibration, conflict)
    raise WrongInput("reading", f"{readings[-1].text} fits no demand")  # pragma: no cover


def _estimated(
    readings: tuple[Reading, ...],
    corners: tuple[tuple[float, float], ...],
    calibration: float,
    conflict: str,
) -> Evidence:
    fit = _fitted(readings, calibration)
    slopes = [k for k, _ in corners]
    slope = min(max(fit.slope if fit else calibration, min(slopes)), max(slopes))
    if fit and readings[-1].zero:
        slope = (min(slopes) + max(slopes)) / 2  # zero where more was expected: the slope is off
    low = max([0.0] + [slope * r.setting - r.high for r in readings if not r.above_top])
    high = min(
        [_largest_demand(readings, calibration)]
        + [slope * r.setting - r.low for r in readings if not r.zero]
    )
    low, high = min(low, max(high, 0.0)), max(low, high, 0.0)
    return Evidence(readings, corners, slope, low, high, conflict, fit)


def _fitted(readings: Sequence[Reading], calibration: float) -> Fit | None:
    """Zeros and readings above the top pad are limits, not points."""
    points = [
        (r.setting, (r.low + r.high) / 2, max(r.high - r.low, RESOLUTION) / math.sqrt(12))
        for r in readings
        if not r.zero and not r.above_top
    ]
    return fit_line(points, calibration=calibration) if points else None


def _widened(reading: Reading) -> Reading:
    width = reading.low / 2 if reading.above_top else reading.high - reading.low
    return replace(reading, low=max(0.0, reading.low - width), high=reading.high + width)


def _slope_high(readings: Sequence[Reading], calibration: float) -> float:
    """More residual than was fed needs a slope above the calibration's range."""
    fed = max(reading.low / reading.setting for reading in readings)
    return max(SLOPE_HIGH * calibration, fed * (1 + RESOLUTION))


def _largest_demand(readings: Sequence[Reading], calibration: float) -> float:
    """The feeder at full setting: a larger demand cannot be met and is not told apart."""
    return 100 * _slope_high(readings, calibration)


def _region(readings: Sequence[Reading], calibration: float) -> list[tuple[float, float]]:
    """Corners of the (k, D) that fit all readings, by clipping a rectangle; empty if none."""
    k_low, k_high = SLOPE_LOW * calibration, _slope_high(readings[-1:], calibration)
    top = _largest_demand(readings[-1:], calibration)
    corners = [(k_low, 0.0), (k_high, 0.0), (k_high, top), (k_low, top)]
    for reading in readings:
        if not reading.above_top:
            corners = _clip(corners, reading.setting, reading.high + ROUNDING, 1)
        if not reading.zero:
            corners = _clip(corners, reading.setting, reading.low - ROUNDING, -1)
    return corners


def _clip(
    corners: list[tuple[float, float]], setting: float, limit: float, side: int
) -> list[tuple[float, float]]:
    """The part of a convex region where side * (k setting - D - limit) is not above 0."""
    kept = []
    for (k1, d1), (k2, d2) in zip(corners, corners[1:] + corners[:1], strict=True):
        first = side * (k1 * setting - d1 - limit)
        second = side * (k2 * setting - d2 - limit)
        if first <= 0:
            kept.append((k1, d1))
        if first * second < 0:
            share = first / (first - second)
            kept.append((k1 + share * (k2 - k1), d1 + share * (d2 - d1)))
    return kept
