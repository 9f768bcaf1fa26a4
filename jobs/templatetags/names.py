"""How people and settings are named on a page."""

from __future__ import annotations

from typing import Any

from django import template

register = template.Library()

SETTINGS = {
    "output_percent": "pump setting",
    "solution_strength_g_l": "strength of the solution",
    "wash_interval_days": "wash interval",
    "wash_hour": "hour of the wash",
    "hardness_gpg": "hardness set",
}


@register.filter
def person(user: Any) -> str:
    """Full name, or the sign-in name where no other is kept."""
    if user is None:
        return ""
    return str(user.get_full_name() or user.get_username())


@register.filter
def sentence(text: str) -> str:
    """A reason as a sentence of its own, whatever way it was written."""
    text = str(text).strip()
    if not text:
        return ""
    return text[0].upper() + text[1:] + ("" if text[-1] in ".!?" else ".")


@register.filter
def setting_name(name: str) -> str:
    return SETTINGS.get(name, name.replace("_", " "))
