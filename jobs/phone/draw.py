"""Drawings of a record in the templates that a phone has too: the wait, the residual bands."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django.template import Library

from . import drawn

register = Library()


@register.inclusion_tag("parts/_timer.html")
def timer(
    title: str,
    started_at: datetime | None,
    minutes: float,
    now: datetime,
    allows: str = "",
    stopped_at: datetime | None = None,
) -> dict[str, object]:
    """A running time of so many minutes; `allows` says what it is for. Stopped, it stands still."""
    drawing = drawn.timer(started_at, minutes, now, stopped_at=stopped_at)
    is_running = drawing.state == "running"
    return {
        "title": title,
        "runs_from": None if stopped_at else started_at,
        "now": now,
        "drawing": drawing,
        "allows": allows,
        "rings_at": started_at + timedelta(minutes=minutes) if started_at and is_running else None,
    }


@register.inclusion_tag("parts/_bands.html")
def bands(
    steps: Sequence[tuple[str, float, float, str]],
    pads: Sequence[float],
    aim: tuple[float, float] | None = None,
) -> dict[str, object]:
    """Residual by setting; kind of a step is "", "early" or "expected"."""
    return {"drawing": drawn.bands(steps, pads, aim)}
