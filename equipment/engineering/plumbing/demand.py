"""Water a house uses in a day, and its peak demand against what pump and tank can deliver.

Contents: USE_PER_PERSON_GPD, household_use_gal, peak_demand.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

from equipment.engineering.errors import MissingInput, WrongInput
from equipment.engineering.registry import Calculation, Key, register
from equipment.engineering.results import Answer, q, result
from equipment.engineering.units import Quantity

from .fixtures import (
    FIXTURE_UNITS,
    IPC,
    NSPC,
    TABLE_TITLES,
    TABLES,
    Fixture,
    dwelling,
    dwelling_units,
    likely_flow,
    read_fixture,
    table_flow,
    units_of,
)

#: gallons per person and day where no meter was read for two weeks or more, everywhere: homes on
#: wells of their own use 3,260 Mgal/d for 42.5 million people, 76.7 each (US Geological Survey,
#: Estimated use of water in the United States in 2015, Circular 1441, 2018, SEEN); 75 is the
#: sizing convention nearest to it. Figures near 60 are of indoor use only.
USE_PER_PERSON_GPD = 75.0
#: above this many units it is no private house
LARGEST_HOUSE_UNITS = 30.0
#: time over which the pressure tank helps the pump at a peak, min (PRACTICE)
PEAK_MIN = 5.0
FIXTURES_LIMIT, SUPPLY_LIMIT = "fixtures", "well pump and tank"


def household_use_gal(people: float) -> float:
    """Gallons that so many people use in a day, where nobody has read a meter."""
    return people * USE_PER_PERSON_GPD


BATHROOMS = Key(
    name="bathrooms",
    kind="number",
    low=1,
    high=8,
    help="bathrooms, a half one 0.5; kitchen and clothes washer are counted in",
)
WASHERS = Key(
    name="washers",
    kind="number",
    low=0,
    high=4,
    default="1",
    help="clothes washers, with bathrooms",
)
HOSES = Key(
    name="hoses",
    kind="number",
    low=0,
    high=8,
    default="0",
    help="hose taps, with bathrooms, by the NSPC",
)
FIXTURE = Key(
    name="fixture",
    kind="repeated",
    reader=read_fixture,
    help="kind and number, in place of bathrooms, by the IPC: "
    f'"shower:2"; kinds: {", ".join(FIXTURE_UNITS)}',
)
UNITS_KEY = Key(
    name="fixture_units",
    kind="number",
    low=0,
    low_open=True,
    high=500,
    help="water supply fixture units, counted as the table named counts them",
)
TABLE = Key(
    name="table",
    kind="choice",
    choices=(NSPC, IPC),
    help="the code for units and flow; nspc for bathrooms, ipc for fixtures",
)
PUMP_FLOW = Key(
    name="pump_flow",
    unit="gpm",
    low=0,
    low_open=True,
    high=500,
    help="sustained flow of the well pump",
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
    method: ClassVar[str] = "peak-demand/2"

    fixture_units: float = result("", "water supply fixture units")
    flow: Quantity = result("gpm", "peak demand of the fixtures by the named table")
    table: str = result("", "the code that units and flow come from")
    likely_flow: Quantity | None = result(
        "gpm", "flow not passed in 99 of 100 moments of use, by chance"
    )
    deliverable_flow: Quantity | None = result(
        "gpm", "design flow: what is asked or what can be given"
    )
    limited_by: str | None = result("", "fixtures, or well pump and tank")
    sustained: Quantity | None = result("min", "how long well pump and tank hold the demand")


@dataclass(frozen=True)
class _Asked:
    """What a house asks for: units and flow of one code, and the flow by chance."""

    table: str
    units: float
    flow: float
    likely: float | None = None


def peak_demand(
    *,
    bathrooms: float | None = None,
    washers: float | None = None,
    hoses: float | None = None,
    fixture: Sequence[Fixture] | None = None,
    fixture_units: float | None = None,
    table: str | None = None,
    pump_flow: Quantity | None = None,
    drawdown: Quantity | None = None,
    wanted_flow: Quantity | None = None,
) -> PeakDemand:
    """Peak demand of a house and the flow its pump and tank can deliver for it.

    Q from the curve of one code by the units of the same code, straight between its rows;
    deliverable = min(Q or wanted, Q_pump + d / 5 min);  sustained = d / (Q - Q_pump);
    likely = 99th percentile of all combinations of running fixtures, "nothing runs" left out

    bathrooms      1 to 8, a half one 0.5     [bare], with washers (0 to 4, default 1), hoses (0)
    fixture        kind and number, repeated, or
    fixture_units  their sum, as counted by the table named    [bare]  above 0, at most 500
    table          nspc (default for bathrooms) or ipc (for fixtures)
    pump_flow      Q_pump, sustained          [flow]    above 0, at most 500 gpm
    drawdown       d, of the pressure tank    [volume]  0 to 2000 gal, default 0
    wanted_flow    company figure             [flow]    above 0, at most 500 gpm
    returns        fixture_units, flow gpm, table, likely_flow gpm (bathrooms only),
                   deliverable_flow gpm, limited_by

    The codes differ by half: 15.6 gpm by the IPC and 10 by the NSPC for the same two bathrooms.
    Raises MissingInput, WrongInput, OutOfRange outside or in a gap of the table.
    Source: NSPC Tables B.5.2 (MEMORY) and B.5.4 (to 14 units SEEN); IPC 2018 Tables E103.3(2) and
    (3) (in part MEMORY); Buchberger and others 2017 (method SEEN, figures MEMORY); 5 min of tank
    help is common practice, no source.
    """
    asked = _asked(
        bathrooms, (WASHERS.optional(washers), HOSES.optional(hoses)), fixture, fixture_units, table
    )
    pump, tank = PUMP_FLOW.optional(pump_flow), DRAWDOWN.optional(drawdown) or 0.0
    wanted = WANTED_FLOW.optional(wanted_flow) or asked.flow
    working = [f"{TABLE_TITLES[asked.table]}: {asked.units:g} fixture units = {asked.flow:.3g} gpm"]
    warnings: list[str] = []
    if asked.units > LARGEST_HOUSE_UNITS:
        warnings.append("More fixture units than a private house has: have it designed.")
    supply = None if pump is None else pump + tank / PEAK_MIN
    sustained = None
    if pump is not None and supply is not None:
        working.append(
            f"well pump and tank = {pump:g} gpm + {tank:g} gal / 5 min = {supply:.3g} gpm"
        )
        sustained = tank / (wanted - pump) if wanted > pump else None
        warnings += _warnings(wanted, supply, pump, tank)
    return PeakDemand(
        fixture_units=asked.units,
        flow=q(asked.flow, "gpm"),
        table=TABLE_TITLES[asked.table],
        likely_flow=q(asked.likely, "gpm"),
        deliverable_flow=q(None if supply is None else min(wanted, supply), "gpm"),
        limited_by=None
        if supply is None
        else (FIXTURES_LIMIT if wanted <= supply else SUPPLY_LIMIT),
        sustained=q(sustained, "min"),
        warnings=tuple(warnings),
        sources=_sources(asked),
        working=tuple(working),
    )


def _asked(
    bathrooms: float | None,
    beside: tuple[float | None, float | None],
    fixtures: Sequence[Fixture] | None,
    units: float | None,
    table: str | None,
) -> _Asked:
    """Units and flow from the one way that is given, both of one code."""
    given = [
        name
        for name, value in (
            ("bathrooms", bathrooms),
            ("fixture", fixtures or None),
            ("fixture_units", units),
        )
        if value is not None
    ]
    if not given:
        raise MissingInput("bathrooms", "is missing; give bathrooms, fixture or fixture_units")
    if len(given) > 1:
        raise WrongInput(given[1], f"is given beside {given[0]}; give one of the two")
    if table is not None and table not in TABLES:
        raise WrongInput("table", f"{table[:30]!r} is not one of {', '.join(TABLES)}")
    if bathrooms is not None:
        return _dwelling(bathrooms, beside, table or NSPC)
    if fixtures:
        if table == NSPC:
            raise WrongInput(
                "table", f"{NSPC} counts dwellings: give bathrooms, or {IPC} for fixtures"
            )
        counted = UNITS_KEY.amount(units_of(fixtures))
        return _Asked(IPC, counted, table_flow(counted, IPC))
    if table is None:
        raise MissingInput("table", "is missing; the codes count fixture units differently")
    assert units is not None
    counted = UNITS_KEY.amount(units)
    return _Asked(table, counted, table_flow(counted, table))


def _dwelling(bathrooms: float, beside: tuple[float | None, float | None], table: str) -> _Asked:
    baths = BATHROOMS.amount(bathrooms)
    if baths * 2 != int(baths * 2):
        raise WrongInput("bathrooms", f"must be whole or half, such as 2.5, got {baths:g}")
    washers = _whole("washers", 1.0 if beside[0] is None else beside[0])
    hoses = _whole("hoses", beside[1] or 0.0)
    units = dwelling_units(table, baths, washers, hoses)
    return _Asked(table, units, table_flow(units, table), likely_flow(dwelling(baths, washers)))


def _whole(key: str, value: float) -> int:
    if value != int(value):
        raise WrongInput(key, f"must be a whole number, got {value:g}")
    return int(value)


def _sources(asked: _Asked) -> tuple[str, ...]:
    units = {
        NSPC: "Fixture units: NSPC Table B.5.2, from memory.",
        IPC: "Fixture units: IPC 2018 Table E103.3(2), in part from memory.",
    }
    chance = "Flow by chance: Buchberger and others, Peak Water Demand Study, 2017, figures from"
    return (
        f"{TABLE_TITLES[asked.table]}, flush tanks, in part from memory.",
        units[asked.table],
        *((f"{chance} memory.",) if asked.likely is not None else ()),
    )


def _warnings(wanted: float, supply: float, pump: float, tank: float) -> tuple[str, ...]:
    """`pump` and `supply`, with the tank, are what can be given."""
    if wanted <= pump:
        return ()
    lasts = f"{tank / (wanted - pump):.1f} min"
    if wanted <= supply:
        return (
            f"Above the well pump's {pump:.3g} gpm: well pump and tank hold the peak for {lasts}.",
        )
    return (
        f"The house asks for {wanted:.3g} gpm, well pump and tank give {supply:.3g} gpm: the "
        "peak holds"
        f" for {lasts}. Size the equipment for what can be delivered.",
    )


register(
    Calculation(
        name="peak-demand",
        title="Peak demand and deliverable flow",
        function=peak_demand,
        answer=PeakDemand,
        keys=(
            BATHROOMS,
            WASHERS,
            HOSES,
            FIXTURE,
            UNITS_KEY,
            TABLE,
            PUMP_FLOW,
            DRAWDOWN,
            WANTED_FLOW,
        ),
    )
)
