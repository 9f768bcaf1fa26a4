"""What a page of a record says beside its lines, and what can be chosen there."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from equipment.engineering.names import way_said


@dataclass(frozen=True, kw_only=True)
class Poured:
    """Chlorine is in: at which house, and who was told there, by which way; "" where not noted."""

    site: str
    whom: str
    at: datetime
    #: number of the house, 0 where it is not known
    house: int = 0
    how: str = ""
    number: str = ""
    read_back: bool = False
    told_at: datetime | None = None

    @property
    def is_told(self) -> bool:
        """By name, and said back; of some only the name was asked."""
        return bool(self.whom) and (self.read_back or not self.how)

    @property
    def said(self) -> str:
        """Who was told and how, in words."""
        if not self.whom:
            return "nobody told yet"
        if not self.how:
            return f"{self.whom} told, way not noted"
        if not self.read_back:
            return f"not told yet: {self.whom} did not say it back, {self.way}"
        return f"{self.whom} told {self.way}, said it back"

    @property
    def way(self) -> str:
        return way_said(self.how, self.number)

    @property
    def moment(self) -> datetime:
        """When it was told: before the pouring, or later."""
        return self.told_at or self.at

    @property
    def late(self) -> str:
        """Behind the moment, where it was told only after the chlorine was in."""
        return ", after it was poured" if self.moment > self.at else ""


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
