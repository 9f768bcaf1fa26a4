"""Small helps of the owner's pages."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

from django import template

from jobs.reports import callbacks
from jobs.wording.figures import number

register = template.Library()


@register.filter
def percent(share: float | None, decimals: int = 1) -> str:
    """A share as percent without the sign: 0.0784 as 7.8."""
    return "" if share is None else number(share * 100, decimals)


@register.filter
def of(known: Mapping[Hashable, object], key: Hashable) -> object:
    """What stands under a key."""
    return known.get(key, "")


@register.simple_tag
def rate_of(callbacks_seen: int, jobs: int) -> callbacks.Interval | None:
    return callbacks.rate_of(callbacks_seen, jobs)
