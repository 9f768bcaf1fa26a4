"""An older state of the tables, and back: what happens to rows that are there."""

import gc
from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management.sql import emit_post_migrate_signal
from django.db import connection
from django.db.migrations.executor import MigrationExecutor
from django.db.migrations.loader import MigrationLoader


@contextmanager
def migrated(app: str, name: str) -> Iterator[None]:
    """The tables as they stood after that migration; afterwards as they stand today."""
    _go([(app, name)])
    try:
        yield
    finally:
        steps = _steps()
        _go([node for node in steps.graph.leaf_nodes() if not is_whole(steps, node)])


def _go(targets: list[tuple[str, str]]) -> None:
    """One step after the other, also those that a fresh database makes in one.

    Each step makes hundreds of classes that live until the last one: nothing to collect before.
    """
    executor = MigrationExecutor(connection)
    executor.loader = _steps()
    gc.disable()
    try:
        executor.migrate(targets)
    finally:
        gc.enable()
    emit_post_migrate_signal(verbosity=0, interactive=False, db=connection.alias)


def _steps() -> MigrationLoader:
    return MigrationLoader(connection, replace_migrations=False)


def is_whole(loader: MigrationLoader, node: tuple[str, str]) -> bool:
    """It stands for many steps."""
    return bool(loader.disk_migrations[node].replaces)
