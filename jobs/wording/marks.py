"""Lots and serial numbers: in which order they come, and which lie between two."""

from __future__ import annotations

import re

#: figures count as numbers, all else as letters whatever their size
PIECES = re.compile(r"(\d+)")
Key = tuple[tuple[int, int, str], ...]


def mark_key(mark: str) -> Key:
    """K7-9 comes before K7-10."""
    pieces = PIECES.split(mark.strip().casefold())
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in pieces if p)


def lies_between(mark: str, first: str, last: str) -> bool:
    """Both ends belong to it; an empty mark comes before all others."""
    return mark_key(first) <= mark_key(mark) <= mark_key(last)
