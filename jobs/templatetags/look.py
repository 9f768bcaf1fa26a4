"""How figures, units, days and names are written on a page, and the small drawn marks."""

from __future__ import annotations

import re
from datetime import date
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation
from typing import Any

from django import template
from django.forms import BoundField, CheckboxInput
from django.urls import NoReverseMatch, reverse
from django.utils.formats import date_format
from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString, mark_safe

from equipment.engineering.units import quantity
from equipment.engineering.units import unit as engineering_unit
from jobs.access import roles_of

register = template.Library()

THIN = "\u202f"
SOFT_HYPHEN = "\u00ad"
#: words of the menu in order: url name, word, who sees it
WORDS: tuple[tuple[str, str, str], ...] = (
    ("my-day", "My day", "technician"),
    ("worklist", "Worklist", "dispatcher"),
    ("day", "Daily schedule", "dispatcher"),
    ("search", "Find", "dispatcher"),
    ("messages", "Messages", "dispatcher"),
    ("callbacks", "Callbacks", "owner"),
    ("people", "People", "owner"),
    ("rules", "Rules", "owner"),
    ("catalog", "Catalog", "owner"),
    ("company", "Company", "owner"),
    ("worksheets", "Worksheets", ""),
)
UNITS_PRINTED = {
    "percent": "%",
    "degC": "°C",
    "degF": "°F",
    "day": "days",
    "days": "days",
    "mPa*s": "mPa·s",
    "mg*min/L": "mg·min/L",
}
_FIGURE = re.compile(r"^\s*(?P<sign>[<>≤≥~-]?)\s*(?P<whole>\d+)(?P<rest>\.\d*)?\s*$")
_PAIR = re.compile(r"[cpst]h|s[pt]|[bcfgp][lr]|[dt]r", re.IGNORECASE)
_VOWELS = "aeiouyàáâäãåæèéêëìíîïòóôöõøùúûüý"


# --- figures ------------------------------------------------------------------------------


def grouped(whole: str) -> str:
    """Thin spaces in thousands, from 10 000 on."""
    return f"{int(whole):,}".replace(",", THIN) if len(whole) >= 5 else whole


def written(value: Any) -> str:
    """A number as plain digits, never in powers of ten; anything else as it is."""
    if isinstance(value, float):
        value = Decimal(repr(value))
    return format(value, "f") if isinstance(value, Decimal) else str(value)


@register.filter
def number(value: Any, decimals: int | None = None) -> str:
    """A figure with thin spaces in thousands; `decimals` rounds it half up."""
    if value is None:
        return ""
    if decimals is not None:
        value = rounded(value, decimals)
    text = written(value)
    found = _FIGURE.match(text)
    if not found:
        return text
    sign, whole, rest = found["sign"], found["whole"], found["rest"] or ""
    between = THIN if sign in "<>≤≥~" and sign else ""
    return f"{sign.replace('-', '−')}{between}{grouped(whole)}{rest}"


def rounded(value: Any, decimals: int) -> Any:
    try:
        exact = Decimal(written(value))
    except InvalidOperation:
        return value
    return exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


@register.filter
def sig(value: Any, digits: int = 3) -> str:
    """A computed figure to so many significant digits; whole digits are never cut off."""
    try:
        exact = Decimal(written(value))
    except InvalidOperation:
        return str(value)
    if not exact.is_finite():
        return str(value)
    return number(rounded(exact, max(0, digits - 1 - exact.adjusted()) if exact else 0))


@register.filter
def figure(value: Any, state: str = "") -> SafeString:
    """A figure split at its point, so that points line up in a column; "<" turns it grey."""
    found = _FIGURE.match("" if value is None else written(value))
    if not found:
        return conditional_escape("" if value is None else value)
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


# --- units --------------------------------------------------------------------------------


@register.filter
def unit(name: Any) -> str:
    """A unit as printed: ft³, °C, %."""
    text = "" if name is None else str(name)
    printed = UNITS_PRINTED.get(text)
    if printed is None:
        printed = text.replace("*", "·")
        printed = re.sub(r"(?<=[a-z])2\b", "²", re.sub(r"(?<=[a-z])3\b", "³", printed))
    return printed


@register.filter
def with_unit(value: Any, name: str) -> SafeString:
    """A figure with its unit: never one without the other."""
    if value is None or value == "":
        return mark_safe("")
    text = number(value)
    if not name:
        return conditional_escape(text)
    return format_html('{}{}<span class="u">{}</span>', text, THIN, unit(name))


@register.filter
def in_unit(value: Any, units: str) -> Any:
    """Convert: `{{ 8|in_unit:"gpm:L/min" }}`. None stays None."""
    if value is None or value == "":
        return value
    source, _, wanted = units.partition(":")
    return quantity(float(value), source).m_as(engineering_unit(wanted))


# --- days and names -----------------------------------------------------------------------


@register.filter
def day(value: date | None, today: date | None = None) -> str:
    """Wednesday 14 October; with the year when it is not the year of `today`."""
    if value is None:
        return ""
    year = "\u00a0Y" if today is not None and today.year != value.year else ""
    return date_format(value, f"l j\u00a0F{year}")


@register.filter
def short_day(value: date | None, today: date | None = None) -> str:
    """14 Oct, and the year when it is another."""
    if value is None:
        return ""
    year = "\u00a0Y" if today is not None and today.year != value.year else ""
    return date_format(value, f"j\u00a0M{year}")


def counted(days: int) -> str:
    return "1\u00a0day" if days == 1 else f"{days}\u00a0days"


@register.filter
def days_from(value: date | None, today: date) -> str:
    """today, tomorrow, in 3 days, yesterday, 3 days ago."""
    if value is None:
        return ""
    away = (value - today).days
    near = {-1: "yesterday", 0: "today", 1: "tomorrow"}
    if away in near:
        return near[away]
    return f"in {counted(away)}" if away > 0 else f"{counted(-away)} ago"


@register.filter
def days_left(value: date | None, today: date) -> str:
    """Until the last day allowed: 2 days left, last day, 3 days late."""
    if value is None:
        return ""
    away = (value - today).days
    if away == 0:
        return "last day"
    return f"{counted(away)} left" if away > 0 else f"{counted(-away)} late"


@register.filter
def soft(name: Any) -> str:
    """Soft hyphens in words longer than nine letters, so that a narrow cell can break them."""
    return re.sub(r"[^\W\d_]{10,}", lambda word: _hyphened(word[0]), str(name))


def _hyphened(word: str) -> str:
    """Breaks before a consonant (or a pair that begins syllables) with four letters each side."""
    parts, start = [], 0
    for place in range(1, len(word) - 1):
        here, after = word[place].lower(), word[place + 1].lower()
        if here in _VOWELS or after not in _VOWELS:
            continue
        cut = place - 1 if _PAIR.fullmatch(word[place - 1 : place + 1]) else place
        if cut - start >= 4 and len(word) - cut >= 4:
            parts.append(word[start:cut])
            start = cut
    return SOFT_HYPHEN.join([*parts, word[start:]])


# --- forms --------------------------------------------------------------------------------


@register.filter
def is_tick(field: BoundField) -> bool:
    return isinstance(field.field.widget, CheckboxInput)


@register.filter
def control(field: BoundField, kind: str = "") -> SafeString:
    """The input itself. "figure": number keypad, no memory of earlier entries; "unit": named."""
    attrs: dict[str, str] = {}
    if kind == "figure":
        attrs = {"inputmode": "decimal", "autocomplete": "off"}
    elif kind == "unit":
        attrs = {"class": "unit", "aria-label": str(field.label)}
    own = field.field.widget.attrs
    described = field.aria_describedby or own.get("aria-describedby") or ""
    if getattr(field.field, "warning", ""):
        described = f"{described} {field.auto_id}_warning".strip()
    if described:
        attrs["aria-describedby"] = described
    return field.as_widget(attrs={name: v for name, v in attrs.items() if name not in own})


# --- mast ---------------------------------------------------------------------------------


def _address(name: str) -> str:
    try:
        return reverse(name)
    except NoReverseMatch:
        return ""


@register.simple_tag(takes_context=True)
def main_nav(context: template.Context) -> list[dict[str, Any]]:
    """The menu of this person; `nav` in the context names the word we are in."""
    user = getattr(context.get("request"), "user", None) or context.get("user")
    if user is None or not getattr(user, "is_authenticated", False):
        return []
    roles = roles_of(user)
    match = getattr(context.get("request"), "resolver_match", None)
    here = context.get("nav") or getattr(match, "url_name", "")
    shown = [(name, word) for name, word, role in WORDS if not role or role in roles]
    items = [{"url": _address(name), "word": word, "here": name == here} for name, word in shown]
    return [item for item in items if item["url"]]


@register.simple_tag
def home_address() -> str:
    return _address("home") or "/"


@register.inclusion_tag("parts/_border.html")
def border(here: int = 0, of: int = 0, done: Any = 0) -> dict[str, Any]:
    """The graduated border. On a step page: part `here` of `of`, `done` parts or a set of them."""
    if not of:
        return {"ticks": range(0, 1200, 100)}
    finished = set(range(1, done + 1)) if isinstance(done, int) else set(done)
    gap = 6.0
    width = (1200 - gap * (of - 1)) / of
    segments = [
        {"x": f"{(part - 1) * (width + gap):.1f}", "state": _state(part, here, finished)}
        for part in range(1, of + 1)
    ]
    return {"segments": segments, "width": f"{width:.1f}", "here": here, "of": of}


def _state(part: int, here: int, finished: set[int]) -> str:
    if part == here:
        return "here"
    return "done" if part in finished else "open"
