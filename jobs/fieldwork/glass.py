"""A measuring glass: one computed figure with what it rests on, as every page shows it."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

#: name of a box, what goes into it, and in which unit
Put = tuple[str, str, str]


@dataclass(frozen=True)
class Offer:
    """A figure that goes into boxes by one press: as it is read, and where it comes from."""

    said: str
    source: str
    puts: tuple[Put, ...]
    side: str = ""
    at: datetime | None = None

    @property
    def sent(self) -> str:
        """What the button sends: [[box, text, unit], ...]."""
        return json.dumps(self.puts)


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
    #: lines of the page that ask for this very figure
    takes: Sequence[Offer] = ()
