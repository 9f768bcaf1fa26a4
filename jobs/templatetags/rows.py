"""A value of a dict by a key known only on the page."""

from __future__ import annotations

from collections.abc import Hashable, Mapping

from django import template

register = template.Library()


@register.filter
def of(rows: Mapping[Hashable, object], key: Hashable) -> object:
    return rows.get(key)
