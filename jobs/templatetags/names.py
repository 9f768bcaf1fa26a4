"""How people and settings are named on a page."""

from __future__ import annotations

from django import template

from jobs.wording import names
from jobs.wording.days import hours_said
from jobs.wording.pump_settings import change_said

register = template.Library()

for word in (names.person, names.sentence, names.setting_name):
    register.filter(word.__name__, word)
register.filter("change_said", change_said)
register.filter("hours_said", hours_said)


@register.filter
def setting_said(change: names.Setting) -> str:
    """A changed setting behind its part."""
    return names.setting_of(change.part, change.name)
