"""Water a house uses in a day, and its peak demand against what pump and tank can deliver.

Contents: USE_PER_PERSON_GPD, household_use_gal, FIXTURE_UNITS, TABLES, Fixture, read_fixture,
peak_demand.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.errors import MissingInput, OutOfRange, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity, number

#: gallons per person and day where no meter was read for two weeks or more, everywhere: homes on
#: wells of their own use 3,260 Mgal/d for 42.5 million people, 76.7 each (US Geological Survey,
#: Estimated use of water in the United States in 2015, Circular 1441, 2018, SEEN); 75 is the
#: sizing convention nearest to it. Figures near 60 are of indoor use only.
USE_PER_PERSON_GPD = 75.0
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
NSPC, IPC = "nspc", "ipc"
#: fixture units -> gpm, flush tanks. nspc: Table B.5.4 (SEEN), nothing between 14 and 120. ipc:
#: 2018 Table E103.3(3), 1, 2, 4, 8, 15, 30 and 50 in a general reference that prints the same
#: numbers (SEEN-2nd), the rest MEMORY
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
        (18, 18.8),
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
#: time over which the pressure tank helps the pump at a peak, min (PRACTICE)
PEAK_MIN = 5.0
FIXTURES_LIMIT, SUPPLY_LIMIT = "fixtures", "pump and tank"


@dataclass(frozen=True)
class Fixture:
    """A kind of fixture and how many of it."""

    kind: str
    count: int

    def as_json(self) -> dict[str, str]:
        return {"value": f"{self.kind}:{self.count}", "unit": ""}


def household_use_gal(people: float) -> float:
    """Gallons that so many people use in a day, where nobody has read a meter."""
    return people * USE_PER_PERSON_GPD


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


FIXTURE = Key(
    name="fixture",
    kind="repeated",
    reader=read_fixture,
    help=f'kind and number, "shower:2"; kinds: {", ".join(FIXTURE_UNITS)}',
)
UNITS_KEY = Key(
    name="fixture_units",
    kind="number",
    low=0,
    low_open=True,
    high=500,
    help="water supply fixture units, in place of fixtures",
)
TABLE = Key(
    name="table",
    kind="choice",
    choices=(NSPC, IPC),
    default=NSPC,
    help="nspc suits a private house, ipc reads higher",
)
PUMP_FLOW = Key(
    name="pump_flow", unit="gpm", low=0, low_open=True, high=500, help="sustained pump flow"
)
DRAWDOWN = Key(
    name="drawdown",
    unit="gal",
    low=0,
    high=2000,
    default="0 gal",
    help="pressure tank's water between cut-out and cut-in",
)
WANTED_FLOW = Key(
    name="wanted_flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="flow the house is to have, in place of the fixtures' figure",
)


class PeakDemand(Answer):
    method: ClassVar[str] = "peak-demand/1"

    fixture_units: float = result("", "water supply fixture units")
    flow: Quantity = result("gpm", "peak demand of the fixtures by the named table")
    table: str = result("", "the table the flow comes from")
    deliverable_flow: Quantity = result("gpm", "design flow: what is asked or what can be given")
    limited_by: str = result("", "fixtures, or pump and tank")
    sustained: Quantity | None = result("min", "how long pump and tank hold the demand")


def peak_demand(
    *,
    fixture: Sequence[Fixture] | None = None,
    fixture_units: float | None = None,
    table: str = NSPC,
    pump_flow: Quantity | None = None,
    drawdown: Quantity | None = None,
    wanted_flow: Quantity | None = None,
) -> PeakDemand:
    """Peak demand of a house and the flow its pump and tank can deliver for it.

    Q from the table by fixture units, straight between its rows;
    deliverable = min(Q or wanted, Q_pump + d / 5 min);  sustained = d / (Q - Q_pump)

    fixture        kind and number, repeated, or
    fixture_units  their sum                  [bare]    above 0, at most 500
    table          nspc (default) or ipc
    pump_flow      Q_pump, sustained          [flow]    above 0, at most 500 gpm
    drawdown       d, of the pressure tank    [volume]  0 to 2000 gal, default 0
    wanted_flow    company figure             [flow]    above 0, at most 500 gpm
    returns        fixture_units, flow gpm, table, deliverable_flow gpm, limited_by

    The same fixture units give 14.6 gpm in one table and 8 in the other: the table is named with
    the flow. Raises MissingInput, WrongInput, OutOfRange outside or in a gap of the table.
    Source: NSPC Table B.5.4 (SEEN); IPC 2018 Tables E103.3(2) and (3) (in part MEMORY); 5 min of
    tank help is common practice, no source.
    """
    units = _units(fixture, fixture_units)
    flow = table_flow(units, table)
    pump, tank = PUMP_FLOW.optional(pump_flow), DRAWDOWN.optional(drawdown) or 0.0
    wanted = WANTED_FLOW.optional(wanted_flow) or flow
    working = [f"{TABLE_TITLES[table]}: {units:g} fixture units = {flow:.3g} gpm"]
    if pump is None:
        return PeakDemand(
            fixture_units=units,
            flow=q(flow, "gpm"),
            table=TABLE_TITLES[table],
            sources=_sources(table),
            working=tuple(working),
        )
    supply = pump + tank / PEAK_MIN
    working.append(f"pump and tank = {pump:g} gpm + {tank:g} gal / 5 min = {supply:.3g} gpm")
    return PeakDemand(
        fixture_units=units,
        flow=q(flow, "gpm"),
        table=TABLE_TITLES[table],
        deliverable_flow=q(min(wanted, supply), "gpm"),
        limited_by=FIXTURES_LIMIT if wanted <= supply else SUPPLY_LIMIT,
        sustained=q(tank / (wanted - pump) if wanted > pump else None, "min"),
        warnings=_warnings(wanted, supply, pump, tank),
        sources=_sources(table),
        working=tuple(working),
    )


def _units(fixtures: Sequence[Fixture] | None, given: float | None) -> float:
    if fixtures and given is not None:
        raise WrongInput("fixture_units", "is given beside fixture; give one of the two")
    if given is not None:
        return UNITS_KEY.amount(given)
    if not fixtures:
        raise MissingInput("fixture", "is missing; give fixture or fixture_units")
    return UNITS_KEY.amount(math.fsum(FIXTURE_UNITS[each.kind] * each.count for each in fixtures))


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


def _sources(table: str) -> tuple[str, ...]:
    part = "as read." if table == NSPC else "in part from memory."
    return (
        f"{TABLE_TITLES[table]}, flush tanks, {part}",
        "Fixture units: IPC 2018 Table E103.3(2), in part from memory.",
    )


def _warnings(wanted: float, supply: float, pump: float, tank: float) -> tuple[str, ...]:
    if wanted <= pump:
        return ()
    lasts = f"{tank / (wanted - pump):.1f} min"
    if wanted <= supply:
        return (f"Above the pump's {pump:.3g} gpm: pump and tank hold the peak for {lasts}.",)
    return (
        f"The house asks for {wanted:.3g} gpm, pump and tank give {supply:.3g} gpm: the peak holds"
        f" for {lasts}. Size the equipment for what can be delivered.",
    )


register(
    Calculation(
        name="peak-demand",
        title="Peak demand and deliverable flow",
        function=peak_demand,
        answer=PeakDemand,
        keys=(FIXTURE, UNITS_KEY, TABLE, PUMP_FLOW, DRAWDOWN, WANTED_FLOW),
    )
)
