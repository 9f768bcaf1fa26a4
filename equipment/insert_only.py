"""Triggers that keep evidence from being changed or deleted, on both databases.

A model declares `insert_only = "always"` in INSERT_ONLY, or a condition on the old row after
which it is closed. SQLite drops triggers whenever Django rebuilds a table, therefore they are
put back after every migrate. This guards against our own code, not against whoever owns the
database.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from django.apps import apps
from django.db import connections

#: model label -> SQL condition on the old row under which it may no longer change ("" = always)
INSERT_ONLY: dict[str, str] = {
    "equipment.Measurement": "",
    "equipment.SettingChange": "",
    "equipment.Fill": "",
    "equipment.StoredAssessment": "",
}


def declare(label: str, closed_when: str = "") -> None:
    """Another app's model joins the list (called when that app gets ready)."""
    INSERT_ONLY[label] = closed_when


def guarded_tables() -> dict[str, str]:
    return {apps.get_model(label)._meta.db_table: when for label, when in INSERT_ONLY.items()}


def trigger_names(table: str) -> tuple[str, str]:
    return f"{table}_no_update", f"{table}_no_delete"


def install(using: str = "default") -> None:
    """Put every trigger in place; running it again changes nothing."""
    connection = connections[using]
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table, when in guarded_tables().items():
            if table in present:
                for statement in _statements(connection.vendor, table, when):
                    cursor.execute(statement)


def remove(using: str = "default") -> None:
    connection = connections[using]
    present = set(connection.introspection.table_names())
    with connection.cursor() as cursor:
        for table in guarded_tables():
            if table not in present:
                continue
            for name in trigger_names(table):
                on = f' ON "{table}"' if connection.vendor == "postgresql" else ""
                cursor.execute(f'DROP TRIGGER IF EXISTS "{name}"{on}')


def missing(using: str = "default") -> list[str]:
    """Names of triggers that should stand and do not."""
    connection = connections[using]
    query = (
        "SELECT tgname FROM pg_trigger WHERE NOT tgisinternal"
        if connection.vendor == "postgresql"
        else "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    )
    with connection.cursor() as cursor:
        cursor.execute(query)
        standing = {row[0] for row in cursor.fetchall()}
    wanted = [name for table in guarded_tables() for name in trigger_names(table)]
    return [name for name in wanted if name not in standing]


@contextmanager
def lifted(using: str = "default") -> Iterator[None]:
    """For the flush between transactional tests only."""
    remove(using)
    try:
        yield
    finally:
        install(using)


def _statements(vendor: str, table: str, when: str) -> list[str]:
    message = f"{table} is insert-only"
    names = trigger_names(table)
    condition = f" WHEN ({when})" if when else ""
    statements = []
    if vendor == "postgresql":
        statements.append(
            "CREATE OR REPLACE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
            "$$BEGIN RAISE EXCEPTION '% is insert-only', TG_TABLE_NAME "
            "USING ERRCODE = 'restrict_violation'; END$$"
        )
    for name, verb in zip(names, ("UPDATE", "DELETE"), strict=True):
        if vendor == "postgresql":
            statements.append(f'DROP TRIGGER IF EXISTS "{name}" ON "{table}"')
            statements.append(
                f'CREATE TRIGGER "{name}" BEFORE {verb} ON "{table}" FOR EACH ROW{condition} '
                "EXECUTE FUNCTION refuse_change()"
            )
        else:
            statements.append(f'DROP TRIGGER IF EXISTS "{name}"')
            statements.append(
                f'CREATE TRIGGER "{name}" BEFORE {verb} ON "{table}"{condition} '
                f"BEGIN SELECT RAISE(ABORT, '{message}'); END"
            )
    return statements


def install_after_migrate(using: str = "default", **kwargs: object) -> None:
    install(using)
