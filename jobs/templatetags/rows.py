"""A value of a dict by a key known only on the page."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template

register = template.Library()


@register.filter
def of(rows: Mapping[Any, Any], key: Any) -> Any:
    return rows.get(key)
