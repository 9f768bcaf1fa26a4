"""An answer as it is kept, and read again to the digit.

Contents: told, read_again, table_told, table_read.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from .fair_answer import Answer, Person
from .fair_power import Power
from .fair_table import Table


def told(answer: Answer) -> dict[str, Any]:
    """Of plain values; a number keeps every digit as JSON writes it."""
    return asdict(answer)


def read_again(kept: dict[str, Any]) -> Answer:
    people = [_person(each) for each in kept["people"]]
    return Answer(**kept | {"people": tuple(people)})


def _person(kept: dict[str, Any]) -> Person:
    power = kept["power"]
    return Person(**kept | {"power": Power(**power) if power else None})


def table_told(table: Table) -> dict[str, Any]:
    return asdict(table)


def table_read(kept: dict[str, Any]) -> Table:
    return Table(
        people=tuple(kept["people"]),
        classes=tuple(tuple(each) for each in kept["classes"]),
        jobs=tuple(tuple(row) for row in kept["jobs"]),
        called=tuple(tuple(row) for row in kept["called"]),
    )
