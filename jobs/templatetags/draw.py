"""Drawings on pages: the well and the treatment system, and those of a record."""

from __future__ import annotations

from django import template

from jobs.drawings import figures as drawn
from jobs.drawings.figures import WellFigures
from jobs.phone import draw

register = template.Library()
#: those that a phone has too
register.tags.update(draw.register.tags)


@register.inclusion_tag("parts/_well.html")
def well(figures: WellFigures, key: object = "") -> dict[str, object]:
    """The well to scale; `key` keeps two wells on one page apart."""
    return {"drawing": drawn.well(figures), "unit": figures.unit, "key": key}


@register.inclusion_tag("parts/_vessel.html")
def vessel(kind: str, media: str = "", place: str = "") -> dict[str, str]:
    """One piece of equipment; `place` "down": beside a line that runs down the page."""
    return {"kind": kind, "media": media or MEDIA.get(kind, ""), "place": place}


#: hatch of the bed: dots carbon and sand, rings resin, crosses mineral that dissolves
MEDIA = {"filter": "dots", "softener": "rings", "neutralizer": "crosses"}
