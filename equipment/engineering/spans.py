"""What a kit says of a figure: one value, between two printed ones, or beyond the last.

The one home of how a range is typed and said: 5-10 and 5 to 10, "< 0.5" for 0 to 0.5, "> 50" for
above 50 with no upper end. Steps of the dial-back, strips and answers are read by it.
"""

from __future__ import annotations

import math
import re

from .errors import WrongInput
from .units import number

_FIGURE = r"\d+(?:\.\d+)?"
_LOWER = re.compile(rf"{_FIGURE} to", re.A)
_RANGE = re.compile(
    rf"\s*(?P<low>{_FIGURE})\s*(?:-|\u2013|\bto\b)\s*(?P<high>{_FIGURE}(?![\d./]).*)", re.S | re.A
)


def ends_typed(text: str) -> tuple[str, str] | None:
    """Both ends as typed, the upper one with its unit; None where it is no range."""
    found = _RANGE.fullmatch(text)
    return (found["low"], found["high"].strip()) if found else None


def begins_with(sign: str) -> bool:
    """Whether it is said before a figure: beyond it, or the lower end of a range, "5 to", of a
    page that a phone carries from before bands were pressed whole."""
    return sign in ("<", ">") or bool(_LOWER.fullmatch(sign))


def signed(text: str, sign: str) -> str:
    """A figure with what was picked before it; what was typed whole goes before."""
    alone = not text or text[0] in "<>" or ends_typed(text.replace(",", ".")) is not None
    return text if alone or not begins_with(sign) else f"{sign} {text}"


def sign_of(text: str) -> tuple[str, str]:
    """The sign before a figure and the figure; a range stands as it was typed."""
    return (text[0], text[1:].strip()) if text[:1] in ("<", ">") else ("", text)


def band_typed(low: float, high: float) -> str:
    """A band as it is typed: 5-10, ">10" where there is no upper end."""
    return f">{low:g}" if math.isinf(high) else f"{low:g}-{high:g}"


def read_span(key: str, text: str) -> tuple[float, float]:
    """From and to; infinity above the last printed value. One value stands for both ends."""
    text = text.strip()
    if text.startswith(">"):
        return number(key, text[1:]), math.inf
    if text.startswith("<"):
        return 0.0, number(key, text[1:])
    ends = ends_typed(text)
    if ends is None:
        value = number(key, text)
        return value, value
    low, high = number(key, ends[0]), number(key, ends[1])
    if high < low:
        raise WrongInput(key, f"the upper end {high:g} must not be below the lower, {low:g}")
    return low, high


def span_words(low: float | None, high: float | None) -> str:
    """5 to 10, above 50 where there is no upper end, "" where nothing was read."""
    if low is None:
        return ""
    if high is None or math.isinf(high):
        return f"above {low:g}"
    return f"{low:g} to {high:g}"
