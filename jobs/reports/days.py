"""Day arithmetic inside the database, written the fast way of each."""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models
from django.db.models import Func, Value
from django.db.models.expressions import CombinedExpression


class DaysBetween(Func):
    """Whole days from the second day to the first: DaysBetween("until_on", "from_on")."""

    arity = 2
    output_field = models.IntegerField()

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler,
            connection,
            arg_joiner=") - julianday(",
            template="CAST(julianday(%(expressions)s) AS INTEGER)",
            **extra,
        )

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler, connection, arg_joiner=" - ", template="(%(expressions)s)", **extra
        )


def day_number(day: str) -> CombinedExpression:
    """The number of a day as `jobs.models.facts.number_of` counts it: 1 for 1 January of year 1."""
    return DaysBetween(day, Value(date.min)) + 1


class TwoDaysLater(Func):
    """Midnight (UTC) two days on: later than every hour of that day in any zone of the company."""

    arity = 1
    output_field = models.DateTimeField()

    def as_sqlite(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler, connection, template="datetime(%(expressions)s, '+2 day')", **extra
        )

    def as_postgresql(self, compiler: Any, connection: Any, **extra: Any) -> Any:
        return self.as_sql(
            compiler,
            connection,
            template="((%(expressions)s + 2)::timestamp AT TIME ZONE 'UTC')",
            **extra,
        )
