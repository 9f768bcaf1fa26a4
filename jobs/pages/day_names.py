"""Names hang above and below the row of a person, as on a chart, so that none is cut short."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product

#: quarters of an hour that a letter takes, of the name and of what stands small beside it
LETTER, SMALL = 0.36, 0.30
#: a name that is cut weighs so much more than a kind
NAME_WEIGHS = 10
#: rows with more visits hang their names by turns: all ways would be too many to try
MOST_TRIED = 9
UP, DOWN = "up", "dn"


@dataclass
class Placed:
    """A box on the scale of the day with its words, and where they hang."""

    name: str
    kind: str
    word: str
    at: int
    span: int

    def __post_init__(self) -> None:
        self.level, self.room, self.is_tight = UP, self.span, False

    @property
    def needs(self) -> float:
        """Quarters that the name and the state take."""
        return len(self.name) * LETTER + (len(self.word) + 1) * SMALL * bool(self.word)

    @property
    def needs_all(self) -> float:
        return self.needs + (len(self.kind) + 1) * SMALL


def set_levels(row: Sequence[Placed], total: int) -> None:
    """Give each name its level and the room until the next one there."""
    ways = (
        product((UP, DOWN), repeat=len(row))
        if len(row) <= MOST_TRIED
        else [tuple((UP, DOWN)[n % 2] for n in range(len(row)))]
    )
    best = min(ways, key=lambda way: _cut(row, way, total))
    for placed, level, room in zip(row, best, _rooms(row, best, total), strict=True):
        placed.level, placed.room = level, room
        placed.is_tight = placed.needs_all > room


def _rooms(row: Sequence[Placed], way: Sequence[str], total: int) -> list[int]:
    rooms, ends = [0] * len(row), {UP: total, DOWN: total}
    for n in reversed(range(len(row))):
        rooms[n] = max(1, ends[way[n]] - row[n].at)
        ends[way[n]] = row[n].at
    return rooms


def _cut(row: Sequence[Placed], way: Sequence[str], total: int) -> tuple[float, int]:
    """What does not fit; of two ways that cut alike the one that changes levels by turns."""
    short = 0.0
    for placed, room in zip(row, _rooms(row, way, total), strict=True):
        short += NAME_WEIGHS * max(0.0, placed.needs - room)
        short += max(0.0, placed.needs_all - max(room, placed.needs))
    same = sum(one == other for one, other in zip(way, way[1:], strict=False))
    return round(short, 6), same + (bool(way) and way[0] == DOWN)
