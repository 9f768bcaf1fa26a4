"""What a page of a record says beside its lines, and what can be chosen there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime


@dataclass(frozen=True, kw_only=True)
class Poured:
    """Chlorine is in: at which house, and who was told there."""

    site: str
    whom: str
    at: datetime


@dataclass(frozen=True, kw_only=True)
class StripLot:
    """Strips of a van, entered once from the bottle; 0: only on this phone yet."""

    pk: int
    oxidant: str
    lot: str
    expires_on: date


@dataclass(frozen=True, kw_only=True)
class Beside:
    """What a page says beside its lines; nothing is judged by it but a reading by strips."""

    poured: tuple[Poured, ...] = ()
    #: acts on waits that were taken back, a sentence each
    taken_back: tuple[str, ...] = ()
    #: the strips that read, and why not to rely on them on the day of these facts; "" for none
    strips: str = ""
    strips_doubt: str = ""
    #: what is on their bottle, by which a later day is judged; None where it is not known
    strips_of: StripLot | None = None
    #: number of their lot, None where it has none or nobody has said
    strips_lot: int | None = None
    #: the lots to choose from
    lots: tuple[StripLot, ...] = ()
