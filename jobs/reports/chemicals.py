"""Chemicals of a period by house and by person: put in, used, expected, and what cannot be said.

Each fill carries what was used and expected since the fill before it in the same tank; houses,
people and the period are sums of fills, so that a number and the fills behind it cannot differ.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.contrib.auth.models import User

from equipment.models import Fill, Site

from .callbacks import list_name
from .chemical_fills import Asked, Line, read

#: common practice, no source: used over expected outside of these is listed first
LOWEST, HIGHEST = 0.5, 2.0
#: common practice, no source: over fewer days a level read half a gallon off decides
FEWEST_DAYS = 30
#: of a person a quotient only from so many compared fills on; common practice, no source
FEWEST_FILLS = 10
HOUSEHOLD = "household"
OUTSIDE, COMPARED, NOT_COMPARED, AWAY = "outside", "compared", "not_compared", "away"
ONLY = {
    OUTSIDE: "of tanks outside half to twice",
    COMPARED: "compared",
    NOT_COMPARED: "not compared",
    AWAY: "with solution poured away",
}


@dataclass
class Sum:
    """Fills of one kind, added up: kilograms of oxidant, or pounds of salt."""

    fills: int = 0
    volume_gal: float = 0.0
    amount: float = 0.0
    away_gal: float = 0.0
    #: fills of which it is not written how much oxidant they held
    unweighed: int = 0
    compared: int = 0
    used: float = 0.0
    expected: float = 0.0
    days: int = 0

    def add(self, line: Line) -> None:
        self.fills += 1
        self.volume_gal += line.volume_gal or 0.0
        self.amount += line.amount or 0.0
        self.unweighed += line.amount is None
        self.away_gal += line.written.poured_away_gal
        if not line.compared.why:
            self.compared += 1
            self.used += line.compared.used
            self.expected += line.compared.expected
            self.days += line.compared.days

    @property
    def quotient(self) -> float | None:
        """Used over expected."""
        return self.used / self.expected if self.compared and self.expected > 0 else None

    @property
    def not_compared(self) -> int:
        return self.fills - self.compared


class House:
    """One tank of one house."""

    def __init__(self, stage: int) -> None:
        self.stage = stage
        self.sum = Sum()
        self.lines: list[Line] = []
        self.why: Counter[str] = Counter()

    def add(self, line: Line) -> None:
        self.lines.append(line)
        self.sum.add(line)
        if line.compared.why:
            self.why[line.compared.why] += 1

    @property
    def fill(self) -> Fill:
        return self.lines[-1].fill

    @property
    def is_salt(self) -> bool:
        return self.lines[-1].is_salt

    @property
    def what(self) -> str:
        return ", ".join(dict.fromkeys(line.what for line in self.lines))

    @property
    def strengths(self) -> tuple[float, ...]:
        """Weakest and strongest, once where they are one."""
        known = {round(line.strength, 1) for line in self.lines if line.strength}
        return tuple(dict.fromkeys((min(known), max(known)))) if known else ()

    @property
    def is_short(self) -> bool:
        return bool(self.sum.compared) and self.sum.days < FEWEST_DAYS

    @property
    def quotient(self) -> float | None:
        return None if self.is_short else self.sum.quotient

    @property
    def is_outside(self) -> bool:
        found = self.quotient
        return found is not None and not LOWEST <= found <= HIGHEST

    @property
    def cannot_say(self) -> list[tuple[str, int]]:
        return sorted(self.why.items())

    @property
    def off_days(self) -> int:
        return sum(line.compared.days_off for line in self.lines)


class Person:
    """Who wrote the fills down, or the household that told them."""

    def __init__(self, user: User | None) -> None:
        self.user = user
        self.oxidant, self.salt = Sum(), Sum()

    @property
    def name(self) -> str:
        return list_name(self.user) if self.user else HOUSEHOLD

    @property
    def key(self) -> str:
        return str(self.user.pk) if self.user else HOUSEHOLD

    @property
    def quotient(self) -> float | None:
        return None if self.oxidant.compared < FEWEST_FILLS else self.oxidant.quotient


@dataclass(frozen=True)
class Report:
    houses: list[House]
    people: list[Person]
    oxidant: Sum
    salt: Sum

    @property
    def outside(self) -> int:
        return sum(house.is_outside for house in self.houses)


def report(asked: Asked) -> Report:
    return counted(lines_of(asked))


def counted(lines: Iterable[Line]) -> Report:
    """Houses outside the bounds first, then by address; people by the alphabet, not ranked."""
    houses: dict[int, House] = {}
    people: dict[str, Person] = {}
    oxidant, salt = Sum(), Sum()
    for line in lines:
        houses.setdefault(line.fill.stage_id, House(line.fill.stage_id)).add(line)
        who = Person(line.who)
        who = people.setdefault(who.key, who)
        (who.salt if line.is_salt else who.oxidant).add(line)
        (salt if line.is_salt else oxidant).add(line)
    return Report(
        sorted(houses.values(), key=_place),
        sorted(people.values(), key=lambda each: (each.user is None, each.name.casefold())),
        oxidant,
        salt,
    )


def _place(house: House) -> tuple[bool, str, int]:
    return not house.is_outside, str(house.fill.stage.train.site).casefold(), house.stage


def lines_of(asked: Asked) -> list[Line]:
    """The fills of the question, newest first."""
    lines = read(asked)
    if asked.only == OUTSIDE:
        tanks = {house.stage for house in counted(lines).houses if house.is_outside}
        lines = [line for line in lines if line.fill.stage_id in tanks]
    if asked.person:
        lines = [line for line in lines if Person(line.who).key == asked.person]
    return [line for line in lines if _is_asked(line, asked.only)]


def _is_asked(line: Line, only: str) -> bool:
    if only == AWAY:
        return line.written.poured_away_gal > 0
    if only in (COMPARED, NOT_COMPARED):
        return bool(line.compared.why) == (only == NOT_COMPARED)
    return True


def house_of(asked: Asked) -> Site | None:
    """The house that the question is about; None: all of them, or none of that number."""
    if asked.tank:
        return Site.objects.filter(trains__stages=asked.tank).first()
    return Site.objects.filter(pk=asked.house).first() if asked.house else None


def years(today: date) -> list[int]:
    """Calendar years with a fill, newest first; this one always."""
    first = Fill.objects.standing().order_by("at").values_list("at", flat=True).first()
    return list(range(today.year, min(first.year if first else today.year, today.year) - 1, -1))
