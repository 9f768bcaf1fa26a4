"""A promise from being made to its end, on the axis of days of a house."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from .history import Days, marker_path

P_LEFT, P_RIGHT = 6.0, 294.0


@dataclass(frozen=True)
class Course:
    """A promise from being made to its end, as a bar of 300 by 26."""

    made: float
    until: float
    window: tuple[float, float]  # left edge and width
    due: float
    booked: float | None
    end: str  # done, waived, superseded or open
    end_path: str


def course(
    days: Days,
    *,
    made: datetime,
    window: tuple[date, date],
    due: date,
    until: date,
    state: str,
    booked: datetime | None = None,
) -> Course:
    x, left, right = days.x(until), days.x(window[0]), days.x(window[1])
    crossed = f"M{x - 5:g} 8l10 10m0 -10l-10 10"
    path = crossed if state in ("waived", "superseded") else marker_path(0, 0.0, x, 13.0)
    return Course(
        made=days.x(made),
        until=x,
        window=(left, round(max(right - left, 2.0), 1)),
        due=days.x(due),
        booked=days.x(booked) if booked else None,
        end=state,
        end_path=path,
    )
