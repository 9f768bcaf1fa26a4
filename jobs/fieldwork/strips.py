"""Strips taken into use: what is wrong with them, and an act that takes some on a phone."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from equipment.engineering.oxidant.kits import strips_fault
from jobs.wording.strips import Lot, strips_said

from .dialling import band_read
from .facts_beside import Beside, StripLot

#: from pad to pad; None: nobody looked
Read = tuple[float, float] | None


@dataclass(frozen=True)
class Checked:
    """A lot with what it read of nothing and of a known mix."""

    lot: Lot
    oxidant: str
    blank: Read = None
    mix: Read = None


def is_expired(lot: Lot, day: date) -> bool:
    """Good until the end of the day on the bottle."""
    return day > lot.expires_on


def over_on(lot: Lot, day: date) -> str:
    """Why strips are past their day, "" where they are not."""
    if not is_expired(lot, day):
        return ""
    return f"strips {lot.lot} were good until {lot.expires_on:%-d %b %Y}"


def doubt_of(strips: Checked, day: date) -> str:
    """What is wrong with these strips on that day, "" where nothing is."""
    lot = strips.lot
    if over := over_on(lot, day):
        return over
    fault = strips_fault(strips.oxidant, blank=strips.blank, mix=strips.mix)
    return f"strips {lot.lot}: {fault}" if fault else ""


def doubt_on(beside: Beside, day: date) -> str:
    """The same of the strips that read, on a day after the one on which it was said."""
    lot = beside.strips_of
    return (lot and over_on(lot, day)) or beside.strips_doubt


def taken(beside: Beside, said: Mapping[str, Any], *, oxidant: str, day: date) -> Beside:
    """With the strips that an act says; as it was where the office would refuse them."""
    lots = [lot for lot in beside.lots if lot.oxidant == oxidant]
    lot = _chosen(lots, said, oxidant) if oxidant else None
    if lot is None:
        return beside
    checked = Checked(lot, oxidant, _read(said.get("blank")), _read(said.get("mix")))
    return replace(
        beside,
        strips=strips_said(lot),
        strips_doubt=doubt_of(checked, day),
        strips_lot=lot.pk or None,
        strips_of=lot,
        lots=beside.lots if lot in beside.lots else (*beside.lots, lot),
    )


def _chosen(lots: list[StripLot], said: Mapping[str, Any], oxidant: str) -> StripLot | None:
    """By its number, or by what stands on another bottle."""
    number, name = str(said.get("lot") or ""), str(said.get("new_lot") or "").strip()
    if number:
        return next((lot for lot in lots if str(lot.pk) == number), None)
    text = str(said.get("expires_on") or "")
    until = date.fromisoformat(text) if text else None
    known = next((lot for lot in lots if lot.lot.lower() == name.lower()), None)
    if known:
        return known if until in (None, known.expires_on) else None
    if not name or until is None:
        return None
    return StripLot(pk=0, oxidant=oxidant, lot=name[:40], expires_on=until)


def _read(said: object) -> Read:
    if not said:
        return None
    low, high = band_read(str(said))
    return low, math.inf if high is None else high
