"""How figures, units and days are written in the templates that a phone has too."""

from __future__ import annotations

from django.template import Library
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from jobs.wording.days import day, days_from, short_day
from jobs.wording.figures import FIGURE, THIN, grouped, in_unit, number, sig, unit, written
from jobs.wording.names import soft

from .asks import Ask

register = Library()

#: written in jobs/wording, which knows no templates
for word in (number, sig, unit, in_unit, soft):
    register.filter(word.__name__, word)
for said in (day, short_day):  # a moment is said by the day of the company's clock
    register.filter(said.__name__, said, expects_localtime=True)
register.filter("days_from", days_from, expects_localtime=True)


@register.filter
def figure(value: object, state: str = "") -> SafeString:
    """A figure split at its point, so that points line up in a column; "<" turns it grey."""
    found = FIGURE.match("" if value is None else written(value))
    if not found:
        return conditional_escape("" if value is None else str(value))
    sign, whole, rest = found["sign"], found["whole"], found["rest"] or ""
    before = f"{sign}{THIN}" if sign in "<>≤≥~" and sign else sign.replace("-", "−")
    classes = "pt nd" if sign == "<" else f"pt {state}".strip()
    return format_html(
        '<span class="{}"><span>{}{}</span><span>{}</span></span>',
        classes,
        before,
        grouped(whole),
        rest,
    )


# --- boxes without a form ---------------------------------------------------------------------


@register.filter
def is_tick(ask: object) -> bool:
    """Questions of a phone are boxes and choices."""
    return False


@register.filter
def control(ask: Ask, kind: str = "") -> str:
    """The input itself. "figure": number keypad, no memory of earlier entries."""
    return ask.control(kind)


@register.simple_block_tag
def words(content: str) -> SafeString:
    """Words longer than a line of a template, for an argument: `{% words as hint %}`."""
    return mark_safe(" ".join(content.split()))


# --- units --------------------------------------------------------------------------------


@register.filter
def with_unit(value: object, name: str) -> SafeString:
    """A figure with its unit: never one without the other."""
    if value is None or value == "":
        return mark_safe("")
    text = number(value)
    if not name:
        return conditional_escape(text)
    return format_html('{}{}<span class="u">{}</span>', text, THIN, unit(name))
