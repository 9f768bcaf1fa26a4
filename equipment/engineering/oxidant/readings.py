"""Readings of the dial-in: a residual as a band, at a setting, with what the tap said."""

from __future__ import annotations

import math
from dataclasses import dataclass

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.spans import read_span, span_words
from equipment.engineering.units import number

#: a setting settles when three volumes have gone through: 95 percent of the step in a mixed tank
SETTLED_TURNOVERS = 3.0
HIGHEST_READING = 1000.0
MOST_TURNOVERS = 100.0
#: what may stand behind a reading: how the tap was, and whether the feeder was checked after it
TAP_WORDS = {"clear": True, "unclear": False}
CHECK_WORDS = ("sound", "mended")


def turnovers_said(turnovers: float, digits: int = 1) -> str:
    """Rounded down: what is too early never reads as enough."""
    scale = 10**digits
    return f"{math.floor(round(turnovers * scale, 6)) / scale:.{digits}f}"


@dataclass(frozen=True)
class Reading:
    """A residual read at a setting: percent, mg/L from low to high (inf: above the top pad)."""

    setting: float
    low: float
    high: float
    turnovers: float = SETTLED_TURNOVERS
    #: the treated tap: True free of iron and odour, False not, None not said
    tap: bool | None = None
    #: "" or how the feeder was found when it was checked after this reading
    check: str = ""

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
    def middle(self) -> float:
        return self.low if self.above_top else (self.low + self.high) / 2

    @property
    def text(self) -> str:
        return f"{span_words(self.low, self.high)} mg/L at {self.setting:g} percent"

    def as_json(self) -> dict[str, object]:
        shown: dict[str, object] = {"setting": self.setting, "low": self.low, "unit": "mg/L"}
        if not self.above_top:
            shown["high"] = self.high
        shown["turnovers"] = self.turnovers
        if self.tap is not None:
            shown["tap"] = "clear" if self.tap else "unclear"
        if self.check:
            shown["feeder"] = self.check
        return shown


def read_reading(key: str, text: str) -> Reading:
    """setting:low-high[:turnovers][:clear or unclear][:sound or mended], percent and mg/L.

    ">75" stands for above the top pad, "<0.5" for 0 to 0.5, "12" for 12 give or take 10 percent.
    """
    setting, *rest = (part.strip() for part in text.split(":"))
    band, more = "".join(rest[:1]), rest[1:]
    if not band:
        raise WrongInput(key, f"{text[:30]!r} is not setting:low-high, for example 40:5-10")
    low, high = read_span(key, band.removesuffix("mg/L").strip())
    turnovers, tap, check = SETTLED_TURNOVERS, None, ""
    for at, word in enumerate(more):
        if word in TAP_WORDS:
            tap = TAP_WORDS[word]
        elif word in CHECK_WORDS:
            check = word
        elif at == 0:
            turnovers = number(key, word)
        else:
            raise WrongInput(key, f"{word[:20]!r} is not clear, unclear, sound or mended")
    at_setting = number(key, setting.removesuffix("%").removesuffix("percent"))
    return checked_reading(key, Reading(at_setting, low, high, turnovers, tap, check))


def checked_reading(key: str, reading: Reading) -> Reading:
    """The reading, or a refusal that says what is wrong with it."""
    if not 0 < reading.setting <= 100:
        raise OutOfRange(
            key,
            f"setting must be above 0 and at most 100 percent, got {reading.setting:g}; a "
            "residual with the dosing pump off means that solution is siphoned in",
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
