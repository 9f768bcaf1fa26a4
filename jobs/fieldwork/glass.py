"""A measuring glass: one computed figure with what it rests on, as every page shows it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Glass:
    """What templates/parts/_measure.html shows, which says what each is."""

    title: str
    id: str = ""
    answer: str = ""
    unit: str = ""
    alt: str = ""
    waiting: str = ""
    have: str = ""
    rows: Sequence[tuple[str, str, str]] = ()
    warnings: Sequence[str] = ()
    cautions: Sequence[str] = ()
    working: Sequence[str] = ()
    sources: Sequence[str] = ()
    method: str = ""
    echo: str = ""
