"""How figures, units, days and names are written on a page, and the small drawn marks."""

from __future__ import annotations

from collections.abc import Iterable

from django import template
from django.conf import settings
from django.forms import BoundField, CheckboxInput
from django.urls import NoReverseMatch, reverse
from django.utils.safestring import SafeString

from jobs.access import has_role, roles_of
from jobs.phone import tags

register = template.Library()
#: those that a phone has too
register.filters.update(tags.register.filters)
register.tags.update(tags.register.tags)

#: words of the menu in order: url name, word, who sees it
WORDS: tuple[tuple[str, str, str], ...] = (
    ("my-day", "Today", "technician"),
    ("worklist", "Worklist", "dispatcher"),
    ("call-new", "Call", "dispatcher"),
    ("day", "Daily schedule", "dispatcher"),
    ("search", "Find", ""),
    ("messages", "Messages", "dispatcher"),
    ("charges", "Charges", "dispatcher"),
    ("callbacks", "Callbacks", "owner"),
    ("people", "People", "owner"),
    ("rules", "Rules", "owner"),
    ("catalog", "Catalog", "owner"),
    ("company", "Company", "owner"),
    ("worksheets", "Worksheets", ""),
)


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
def main_nav(context: template.Context) -> list[dict[str, object]]:
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


@register.inclusion_tag("parts/_sent.html", takes_context=True)
def sent(context: template.Context) -> dict[str, object]:
    """What waits on this phone: for technicians alone."""
    user = getattr(context.get("request"), "user", None)
    person = user if user and has_role(user, "technician") else None
    return {"person": person, "keeps": settings.FIELD_OFFLINE}


@register.inclusion_tag("parts/_border.html")
def border(here: int = 0, of: int = 0, done: int | Iterable[int] = 0) -> dict[str, object]:
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
