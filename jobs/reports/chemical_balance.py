"""What went into a tank and what should have left it: the arithmetic, without a database.

From one fill to the next: used = level after the one before - level before this one, times the
strength of what stood in the tank. Expected = dose x water in a day x days. For salt, of which no
level is read: what was put in against salt in a day x days.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise

from equipment.engineering.oxidant.feeding import oxidant_in_kg

#: common practice, no source: a mark of a tank is read to half a gallon
READ_TO_GAL = 0.5
#: common practice, no source: a record closed later says what was fed in the days before it
CLOSED_LATE_DAYS = 14

FIRST = "first fill on file"
NO_LEVEL = "a level is not written"
MORE = "more in the tank than after the fill before"
NO_STRENGTH = "strength not written"
NO_RECORD = "no closed record says what is fed"
NO_WATER = "its record knows no water in a day"
OFF = "system off all the time"
SAME_DAY = "filled twice on one day"
#: what cannot be said, and what it means
WHY = {
    FIRST: "What stood in the tank before it is not known: it is compared from the next one on.",
    NO_LEVEL: "Without the level before and after, or how much was poured, nobody knows the use.",
    MORE: "Somebody filled it and did not write it down.",
    NO_STRENGTH: "Gallons without a strength are no oxidant.",
    NO_RECORD: "No start-up or recheck of these days is closed, so no dose stands on file.",
    NO_WATER: "People in the house or a metered use are not on file, so the water is not known.",
    OFF: "The customer had the system off or bypassed.",
    SAME_DAY: "No day lies between them.",
}


@dataclass(frozen=True)
class Written:
    """A fill as it was written: gallons of solution, or pounds of salt."""

    day: date
    salt_lb: float | None = None
    poured_gal: float | None = None
    before_gal: float | None = None
    after_gal: float | None = None
    strength_g_l: float | None = None

    @property
    def put_in_gal(self) -> float | None:
        if self.poured_gal is not None:
            return self.poured_gal
        if self.before_gal is None or self.after_gal is None:
            return None
        return self.after_gal - self.before_gal

    @property
    def level_before(self) -> float | None:
        if self.before_gal is not None:
            return self.before_gal
        if self.after_gal is None or self.poured_gal is None:
            return None
        return self.after_gal - self.poured_gal

    @property
    def level_after(self) -> float | None:
        if self.after_gal is not None:
            return self.after_gal
        if self.before_gal is None or self.poured_gal is None:
            return None
        return self.before_gal + self.poured_gal

    @property
    def poured_away_gal(self) -> float:
        """What was in the tank and what was poured, less what stood in it after."""
        told = (self.before_gal, self.poured_gal, self.after_gal)
        before, poured, after = told
        if before is None or poured is None or after is None:
            return 0.0
        away = before + poured - after
        return away if away > READ_TO_GAL else 0.0


@dataclass(frozen=True)
class Daily:
    """What a closed record says is used in a day, kg of oxidant or lb of salt, from a day on."""

    since: date
    #: None: its record knows no water
    amount: float | None
    #: on what it rests, in words
    said: str = ""


@dataclass(frozen=True)
class Compared:
    """Used against expected, over so many days; or why nothing can be said."""

    used: float = 0.0
    expected: float = 0.0
    days: int = 0
    days_off: int = 0
    why: str = ""
    said: str = ""


def compare(
    before: Written | None,
    fill: Written,
    dailies: Sequence[Daily],
    off: Sequence[tuple[date, date]] = (),
) -> Compared:
    """`dailies` oldest first; `off`: days on which the system was off, the last one not."""
    if before is None:
        return Compared(why=FIRST)
    used, why = _used(before, fill)
    if used is None:
        return Compared(why=why)
    return _expected(used, (before.day, fill.day), dailies, off)


def _used(before: Written, fill: Written) -> tuple[float | None, str]:
    if fill.salt_lb is not None:
        return fill.salt_lb, ""
    then, now = before.level_after, fill.level_before
    if then is None or now is None:
        return None, NO_LEVEL
    if now > then + READ_TO_GAL:
        return None, MORE
    if not before.strength_g_l:
        return None, NO_STRENGTH
    return oxidant_in_kg(max(0.0, then - now), before.strength_g_l), ""


def _expected(
    used: float,
    between: tuple[date, date],
    dailies: Sequence[Daily],
    off: Sequence[tuple[date, date]],
) -> Compared:
    start, end = between
    turns = sorted({start, end, *(row.since for row in dailies if start < row.since < end)})
    expected, days, days_off, said = 0.0, 0, 0, ""
    for first, last in pairwise(turns):
        off_here = sum(max(0, (min(last, b) - max(first, a)).days) for a, b in off)
        on = (last - first).days - off_here
        days_off += off_here
        daily = _daily_on(dailies, first)
        if on <= 0:
            continue
        if daily is None or daily.amount is None:
            return Compared(days_off=days_off, why=NO_RECORD if daily is None else NO_WATER)
        expected, days, said = expected + on * daily.amount, days + on, daily.said
    if not days:
        return Compared(days_off=days_off, why=OFF if days_off else SAME_DAY)
    return Compared(used, expected, days, days_off, said=said)


def _daily_on(dailies: Sequence[Daily], day: date) -> Daily | None:
    """The newest of that day; before the first one, the first if it was closed late."""
    standing = [row for row in dailies if row.since <= day]
    if standing:
        return standing[-1]
    is_late = dailies and (dailies[0].since - day).days <= CLOSED_LATE_DAYS
    return dailies[0] if is_late else None
