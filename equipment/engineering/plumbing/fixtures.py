"""Fixtures of a house and what they ask for at once: two plumbing codes, and chance.

Contents: FIXTURE_UNITS, TABLES, Fixture, read_fixture, units_of, dwelling_units, table_flow,
likely_flow. A code's fixture units go through that code's own curve only: 11.4 units of the IPC
read on the NSPC curve give a flow that neither says.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

from equipment.engineering.errors import OutOfRange, WrongInput
from equipment.engineering.units import number

#: water supply fixture units, private house: IPC 2018 Table E103.3(2) (SEEN; shower, clothes
#: washer and water closet MEMORY)
FIXTURE_UNITS = {
    "bathroom-group": 3.6,
    "bathtub": 1.4,
    "bidet": 2.0,
    "clothes-washer": 1.4,
    "dishwasher": 1.4,
    "kitchen-sink": 1.4,
    "laundry-tray": 1.4,
    "lavatory": 0.7,
    "shower": 1.4,
    "water-closet": 2.2,
}
#: units of a whole dwelling by the NSPC, Table B.5.2 (MEMORY): baths up to three, each further one,
#: the kitchen group, a clothes washer, the first hose and each further one
DWELLING_BATHS = {1.0: 5.0, 1.5: 6.0, 2.0: 7.0, 2.5: 8.0, 3.0: 9.0}
FURTHER_BATH, KITCHEN_GROUP, WASHER, FIRST_HOSE, FURTHER_HOSE = 1.0, 2.0, 4.0, 2.5, 1.0
NSPC, IPC = "nspc", "ipc"
#: fixture units -> gpm, flush tanks. nspc: Table B.5.4 (3 to 14 and from 120 SEEN, 15 to 30
#: MEMORY), nothing between 30 and 120. ipc: 2018 Table E103.3(3), 1, 2, 4, 8, 15, 30 and 50 in a
#: general reference that prints the same numbers (SEEN-2nd), the rest MEMORY
TABLES: dict[str, tuple[tuple[float, float], ...]] = {
    NSPC: (
        (3, 3),
        (4, 4),
        (5, 4.5),
        (6, 5),
        (7, 6),
        (8, 7),
        (9, 7.5),
        (10, 8),
        (11, 8.5),
        (12, 9),
        (13, 10),
        (14, 10.5),
        (15, 11),
        (16, 12),
        (17, 12.5),
        (18, 13),
        (19, 13.5),
        (20, 14),
        (25, 17),
        (30, 20),
        (120, 49),
        (140, 53),
        (160, 57),
        (180, 61),
        (200, 65),
        (250, 75),
        (300, 85),
        (400, 105),
        (500, 125),
    ),
    IPC: (
        (1, 3.0),
        (2, 5.0),
        (3, 6.5),
        (4, 8.0),
        (5, 9.4),
        (6, 10.7),
        (7, 11.8),
        (8, 12.8),
        (9, 13.7),
        (10, 14.6),
        (11, 15.4),
        (12, 16.0),
        (13, 16.5),
        (14, 17.0),
        (15, 17.5),
        (16, 18.0),
        (17, 18.4),
        (18, 18.8),
        (19, 19.2),
        (20, 19.6),
        (25, 21.5),
        (30, 23.3),
        (40, 26.3),
        (50, 29.1),
        (100, 43.5),
        (120, 48),
        (140, 52.5),
        (160, 57),
        (180, 61),
        (200, 65),
        (250, 75),
        (300, 85),
        (400, 105),
        (500, 124),
    ),
}
TABLE_TITLES = {NSPC: "NSPC Table B.5.4", IPC: "IPC 2018 Table E103.3(3)"}
#: no straight line across a gap wider than this share of its upper end
WIDEST_GAP = 0.6
#: chance that a fixture runs in the busiest hour and its flow, gpm: Buchberger and others, Peak
#: Water Demand Study, 2017 (method SEEN, figures MEMORY)
CHANCES = {
    "water-closet": (0.010, 3.0),
    "lavatory": (0.020, 1.5),
    "shower": (0.045, 2.0),
    "bathtub": (0.055, 5.5),
    "kitchen-sink": (0.020, 2.2),
    "dishwasher": (0.005, 1.3),
    "clothes-washer": (0.055, 3.5),
}
#: one tub for so many baths, the other baths have a shower (common practice, no source)
BATHS_PER_TUB = 3
LIKELY_SHARE = 0.99


@dataclass(frozen=True)
class Fixture:
    """A kind of fixture and how many of it."""

    kind: str
    count: int

    def as_json(self) -> dict[str, str]:
        return {"value": f"{self.kind}:{self.count}", "unit": ""}


def read_fixture(key: str, text: str) -> Fixture:
    """ "shower:2", or "shower" for one."""
    kind, colon, amount = text.partition(":")
    kind = kind.strip()
    if kind not in FIXTURE_UNITS:
        raise WrongInput(key, f"{kind[:30]!r} is not one of {', '.join(FIXTURE_UNITS)}")
    count = number(key, amount) if colon else 1
    if count != int(count) or not 1 <= count <= 100:
        raise WrongInput(key, f"needs a whole number from 1 to 100 after {kind}:")
    return Fixture(kind, int(count))


def units_of(fixtures: Sequence[Fixture]) -> float:
    """Their units by the IPC."""
    return math.fsum(FIXTURE_UNITS[each.kind] * each.count for each in fixtures)


def dwelling(bathrooms: float, washers: int) -> list[Fixture]:
    """The fixtures of a house with a kitchen: each half bath is a closet and a lavatory."""
    whole, half = int(bathrooms), int(bathrooms % 1 > 0)
    tubs = math.ceil(whole / BATHS_PER_TUB)
    counted = {
        "water-closet": whole + half,
        "lavatory": whole + half,
        "bathtub": tubs,
        "shower": whole - tubs,
        "kitchen-sink": 1,
        "dishwasher": 1,
        "clothes-washer": washers,
    }
    return [Fixture(kind, count) for kind, count in counted.items() if count]


def dwelling_units(table: str, bathrooms: float, washers: int, hoses: int) -> float:
    """Units of a house with a kitchen, counted as the code of the table counts them."""
    whole, half = int(bathrooms), int(bathrooms % 1 > 0)
    if table == IPC:
        groups = [Fixture("bathroom-group", whole), Fixture("kitchen-sink", 1)]
        groups += [Fixture("dishwasher", 1), Fixture("clothes-washer", washers)]
        groups += [Fixture("water-closet", half), Fixture("lavatory", half)]
        return units_of(groups)
    most = max(DWELLING_BATHS)
    baths = DWELLING_BATHS[min(bathrooms, most)] + FURTHER_BATH * max(0.0, bathrooms - most)
    outside = FIRST_HOSE + FURTHER_HOSE * (hoses - 1) if hoses else 0.0
    return baths + KITCHEN_GROUP + WASHER * washers + outside


def table_flow(units: float, table: str) -> float:
    """Demand in gpm by a named table, straight between neighbouring rows."""
    if table not in TABLES:
        raise WrongInput("table", f"{table[:30]!r} is not one of {', '.join(TABLES)}")
    rows = TABLES[table]
    place = bisect_left([row[0] for row in rows], units)
    if place < len(rows) and rows[place][0] == units:
        return float(rows[place][1])
    if place == 0 or place == len(rows):
        raise OutOfRange(
            "fixture_units",
            f"must be {rows[0][0]:g} to {rows[-1][0]:g} for {TABLE_TITLES[table]}, got {units:g}",
        )
    (below, low), (above, high) = rows[place - 1], rows[place]
    if (above - below) / above > WIDEST_GAP:
        raise OutOfRange(
            "fixture_units",
            f"{TABLE_TITLES[table]} has no row between {below:g} and {above:g}, got {units:g}",
        )
    return low + (units - below) / (above - below) * (high - low)


def likely_flow(fixtures: Sequence[Fixture]) -> float:
    """gpm not passed in 99 of 100 moments in which anything runs: every combination counted."""
    chance = {0.0: 1.0}
    idle = 1.0
    for each in fixtures:
        running, flow = CHANCES[each.kind]
        for _ in range(each.count):
            idle *= 1 - running
            with_it: dict[float, float] = {}
            for total, share in chance.items():
                more = round(total + flow, 6)
                with_it[total] = with_it.get(total, 0.0) + share * (1 - running)
                with_it[more] = with_it.get(more, 0.0) + share * running
            chance = with_it
    chance[0.0] -= idle
    reached = 0.0
    for total in sorted(chance):
        reached += chance[total] / (1 - idle)
        if reached >= LIKELY_SHARE:
            return total
    return max(chance)
