"""What the company says of work, days and driving: small tables, read together in one query."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any, Self

from django.db.models import Case, CharField, DateField, F, IntegerField, Value, When

from jobs.models import CompanyDay, Skill, TownDrive, WorkNeed

from .working_days import OwnDays

#: a text, another, a number and a day: what each of these tables comes to
Row = tuple[str, str, int, date | None]
NO_DAY = Value(None, output_field=DateField())
NO_TEXT = Value("", output_field=CharField())
WORKED = Case(When(is_worked=True, then=1), default=0, output_field=IntegerField())


@dataclass(frozen=True)
class CompanyTables:
    licences: list[Row]
    needs: list[Row]
    drives: list[Row]
    days: list[Row]

    @classmethod
    def load(cls) -> Self:
        """The licences go first: an empty day has no type of its own."""
        held = Skill.objects.in_use().exclude(person=None)
        licences = _named("licences", held, "name", NO_TEXT, F("person"), "expires_on")
        others = (
            _named("needs", WorkNeed.objects, "kind", "licence", "people", NO_DAY),
            _named("drives", TownDrive.objects, "one_key", "other_key", "minutes", NO_DAY),
            _named("days", CompanyDay.objects, "name", NO_TEXT, WORKED, "day"),
        )
        found: dict[str, list[Row]] = {name: [] for name in ("licences", "needs", "drives", "days")}
        for table, *row in licences.union(*others, all=True):
            found[table].append(tuple(row))
        return cls(**found)

    @property
    def own_days(self) -> OwnDays:
        return {day: (name, bool(is_worked)) for name, _, is_worked, day in self.days if day}


def _named(table: str, rows: Any, *columns: Any) -> Any:
    """Each row behind the name of its table."""
    name = Value(table, output_field=CharField())
    return rows.order_by().values_list(name, *columns)
