"""Strips of a van in words."""

from __future__ import annotations

from datetime import date
from typing import Protocol


class Lot(Protocol):
    @property
    def lot(self) -> str: ...

    @property
    def expires_on(self) -> date: ...


def strips_said(lot: Lot) -> str:
    """Which strips, and until when they are good: the record says kit and expiry."""
    return f"strips {lot.lot}, good until {lot.expires_on:%-d %b %Y}"
