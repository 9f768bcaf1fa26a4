"""Figures and units as they are printed."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal, InvalidOperation

from equipment.engineering.units import quantity, size_in

THIN = "\u202f"
UNITS_PRINTED = {
    "percent": "%",
    "degC": "°C",
    "degF": "°F",
    "day": "days",
    "days": "days",
    "mPa*s": "mPa·s",
    "mg*min/L": "mg·min/L",
}
FIGURE = re.compile(r"^\s*(?P<sign>[<>≤≥~-]?)\s*(?P<whole>\d+)(?P<rest>\.\d*)?\s*$")


def grouped(whole: str) -> str:
    """Thin spaces in thousands, from 10 000 on."""
    return f"{int(whole):,}".replace(",", THIN) if len(whole) >= 5 else whole


def written(value: object) -> str:
    """A number as plain digits, never in powers of ten; anything else as it is."""
    if isinstance(value, float):
        value = Decimal(repr(value))
    return format(value, "f") if isinstance(value, Decimal) else str(value)


def number(value: object, decimals: int | None = None) -> str:
    """A figure with thin spaces in thousands; `decimals` rounds it half up."""
    if value is None:
        return ""
    if decimals is not None:
        value = rounded(value, decimals)
    text = written(value)
    found = FIGURE.match(text)
    if not found:
        return text
    sign, whole, rest = found["sign"], found["whole"], found["rest"] or ""
    between = THIN if sign in "<>≤≥~" and sign else ""
    return f"{sign.replace('-', '−')}{between}{grouped(whole)}{rest}"


def rounded(value: object, decimals: int) -> object:
    try:
        exact = Decimal(written(value))
    except InvalidOperation:
        return value
    return exact.quantize(Decimal(1).scaleb(-decimals), rounding=ROUND_HALF_UP)


def sig(value: object, digits: int = 3) -> str:
    """A computed figure to so many significant digits; whole digits are never cut off."""
    try:
        exact = Decimal(written(value))
    except InvalidOperation:
        return str(value)
    if not exact.is_finite():
        return str(value)
    return number(rounded(exact, max(0, digits - 1 - exact.adjusted()) if exact else 0))


#: units that a household reads as a word
SPELLED = {"grain": "grains", "gpg": "grains per gallon"}


def household(figure: str) -> str:
    """1,296 gal and 20 grains per gallon: a figure with its unit as customers read it."""
    plain = figure.replace(THIN, "")
    plain = re.sub(r"(?<![\d.])\d{4,}", lambda whole: f"{int(whole[0]):,}", plain)
    return re.sub(r"\b(grain|gpg)\b", lambda name: SPELLED[name[0]], plain)


def hour_of_day(hour: float) -> str:
    """2 am: an hour that a controller is set to."""
    if hour % 12 == 0:
        return "noon" if hour == 12 else "midnight"
    return f"{hour % 12:g} {'am' if hour < 12 else 'pm'}"


def unit(name: object) -> str:
    """A unit as printed: ft³, °C, %."""
    text = "" if name is None else str(name)
    printed = UNITS_PRINTED.get(text)
    if printed is None:
        printed = text.replace("*", "·")
        printed = re.sub(r"(?<=[a-z])2\b", "²", re.sub(r"(?<=[a-z])3\b", "³", printed))
    return printed


def in_unit(value: float | str | None, units: str) -> float | str | None:
    """Convert: `{{ 8|in_unit:"gpm:L/min" }}`. None stays None."""
    if value is None or value == "":
        return value
    source, _, wanted = units.partition(":")
    return size_in(quantity(float(value), source), wanted)


def dollars(cents: int | None) -> str:
    """As it is written: 1234567 cents as 12,345.67; nothing where no amount is known."""
    return "" if cents is None else f"{cents // 100:,}.{cents % 100:02d}"
