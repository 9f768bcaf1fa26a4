"""Chemicals as tables for a spreadsheet, with what is counted and what is not."""

from __future__ import annotations

from jobs.wording.names import person

from .chemical_balance import WHY
from .chemical_fills import Asked, Line
from .chemicals import FEWEST_DAYS, FEWEST_FILLS, HIGHEST, HOUSEHOLD, LOWEST, House, Person, Report
from .tables import Table, Value, as_csv, as_xlsx, table

HOUSES = (
    "House",
    "What",
    "Weakest, g/L",
    "Strongest, g/L",
    "Fills",
    "Solution, gal",
    "Oxidant, kg",
    "Salt, lb",
    "Poured away, gal",
    "Compared fills",
    "Days",
    "Used",
    "Expected",
    "Used / expected",
    "Outside half to twice",
    "What cannot be said",
)
PEOPLE = (
    "Written down by",
    "Fills of solution",
    "Solution, gal",
    "Oxidant, kg",
    "Poured away, gal",
    "Compared fills",
    "Used, kg",
    "Expected, kg",
    "Used / expected",
    "Fills of salt",
    "Salt, lb",
)
FILLS = (
    "Filled",
    "House",
    "What",
    "Lot",
    "Strength, g/L",
    "Solution, gal",
    "Oxidant, kg",
    "Salt, lb",
    "Level before, gal",
    "Level after, gal",
    "Poured away, gal",
    "Written down by",
    "Days",
    "Days off",
    "Used",
    "Expected",
    "On what the expected rests",
    "What cannot be said",
)
#: over every file: no figure of a person leaves without it
NOT_OF_A_PERSON = (
    "Used over expected says something about a house: its dosing pump, its water, its levels and "
    "its record. It is no verdict on whoever filled the tank."
)


def rules(asked: Asked) -> tuple[tuple[str, str], ...]:
    """What is counted, as it stands on the page."""
    return (
        ("Period", f"filled {asked.since.isoformat()} to {asked.until.isoformat()}"),
        (
            "Put in",
            "product and water poured, else level after less level before; of the first fill of a "
            "tank what stood in it. Oxidant: gallons times the strength of the solution",
        ),
        (
            "Used",
            "level after the fill before less level before this one, times the strength of what "
            "stood in the tank. Salt has no level: as much as was put in, to the same mark",
        ),
        (
            "Expected",
            "dose x water in a day x days since the fill before, by the newest record closed by "
            "then; salt by the month that the record worked out. In gallons: dose x water / "
            "strength. A setting changed since without a record is not in it and moves what "
            "used over expected says",
        ),
        (
            "Outside",
            f"used over expected below {LOWEST:g} or above {HIGHEST:g}, from {FEWEST_DAYS} "
            "compared days on: common practice, no source",
        ),
        (
            "Of a person",
            f"used over expected from {FEWEST_FILLS} compared fills on; {NOT_OF_A_PERSON}",
        ),
        (
            "Not here",
            "water is what the record says of a day: no meter is read. What was bought, loaded or "
            "stored is not written down",
        ),
        *WHY.items(),
    )


def of_houses(report: Report, asked: Asked) -> list[Table]:
    return [
        table("Houses", HOUSES, map(_house, report.houses), above=NOT_OF_A_PERSON),
        table("People", PEOPLE, map(_person, report.people), above=NOT_OF_A_PERSON),
        table("Rules", ("Word", "What it means here"), rules(asked)),
    ]


def of_fills(lines: list[Line], asked: Asked) -> list[Table]:
    return [
        table("Fills", FILLS, map(_fill, lines), above=NOT_OF_A_PERSON),
        table("Rules", ("Word", "What it means here"), rules(asked)),
    ]


def written(tables: list[Table], kind: str) -> bytes:
    """A CSV holds the first table only."""
    return as_csv(tables[0]) if kind == "csv" else as_xlsx(tables)


def _rounded(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def _house(house: House) -> tuple[Value, ...]:
    found, strengths = house.sum, house.strengths
    said = [f"{why} ({fills})" for why, fills in house.cannot_say]
    said += [f"off {house.off_days} days, not counted"] if house.off_days else []
    said += [f"only {found.days} days compared"] if house.is_short else []
    return (
        str(house.fill.stage.train.site),
        house.what,
        strengths[0] if strengths else None,
        strengths[-1] if strengths else None,
        found.fills,
        None if house.is_salt else round(found.volume_gal, 2),
        None if house.is_salt else round(found.amount, 3),
        round(found.amount, 1) if house.is_salt else None,
        round(found.away_gal, 2),
        found.compared,
        found.days,
        round(found.used, 3),
        round(found.expected, 3),
        _rounded(house.quotient, 2),
        house.is_outside,
        "; ".join(said),
    )


def _person(who: Person) -> tuple[Value, ...]:
    oxidant, salt = who.oxidant, who.salt
    return (
        who.name,
        oxidant.fills,
        round(oxidant.volume_gal, 2),
        round(oxidant.amount, 3),
        round(oxidant.away_gal, 2),
        oxidant.compared,
        round(oxidant.used, 3),
        round(oxidant.expected, 3),
        _rounded(who.quotient, 2),
        salt.fills,
        round(salt.amount, 1),
    )


def _fill(line: Line) -> tuple[Value, ...]:
    row, compared = line.fill, line.compared
    return (
        line.written.day,
        str(row.stage.train.site),
        line.what,
        row.lot,
        _rounded(line.strength, 2),
        _rounded(line.volume_gal, 2),
        None if line.is_salt else _rounded(line.amount, 3),
        row.salt_lb,
        row.level_before_gal,
        row.level_after_gal,
        round(line.written.poured_away_gal, 2),
        person(line.who) if line.who else HOUSEHOLD,
        compared.days,
        compared.days_off,
        round(compared.used, 3),
        round(compared.expected, 3),
        compared.said,
        compared.why,
    )
