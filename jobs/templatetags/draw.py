"""Drawings on pages: the timer, the residual bands, the well and the treatment system."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta

from django import template

from jobs.drawings import figures as drawn
from jobs.drawings.figures import WellFigures

register = template.Library()


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


@register.inclusion_tag("parts/_well.html")
def well(figures: WellFigures, key: object = "") -> dict[str, object]:
    """The well to scale; `key` keeps two wells on one page apart."""
    return {"drawing": drawn.well(figures), "unit": figures.unit, "key": key}


@register.inclusion_tag("parts/_rod_now.html")
def rod_now(minutes: float | None, of: float) -> dict[str, object]:
    """ "Now" through all rows of the daily schedule, so many minutes after its first hour."""
    shown = minutes is not None and 0 <= minutes <= of
    return {"x": round(minutes / of * 1000, 1) if shown and minutes is not None else None}


@register.inclusion_tag("parts/_vessel.html")
def vessel(kind: str, media: str = "", place: str = "") -> dict[str, str]:
    """One piece of equipment; `place` "down": beside a line that runs down the page."""
    return {"kind": kind, "media": media or MEDIA.get(kind, ""), "place": place}


#: hatch of the bed: dots carbon and sand, rings resin, crosses mineral that dissolves
MEDIA = {"filter": "dots", "softener": "rings", "neutralizer": "crosses"}
