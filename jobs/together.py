"""Several questions to the database in one trip."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.db import connection
from django.db.models import QuerySet


def together(parts: Sequence[QuerySet[Any, Any]]) -> list[tuple[Any, ...]]:
    """Rows of several bounded queries with as many columns each; joined by hand, as SQLite's part
    of the library refuses to join bounded ones."""
    if not parts:
        return []
    made = [part.query.sql_with_params() for part in parts]
    sql = " UNION ALL ".join(f"SELECT * FROM ({text}) AS part" for text, _ in made)
    with connection.cursor() as cursor:
        cursor.execute(sql, [value for _, values in made for value in values])
        return list(cursor.fetchall())
