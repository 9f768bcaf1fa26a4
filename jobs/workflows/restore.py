"""Puts a copy of the database back. The copy knows nothing of what was sent after it was made, so
it holds all mail from its first moment in place until the owner says what becomes of it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

from django.conf import settings
from django.contrib.sessions.models import Session
from django.db import DatabaseError, connection

from jobs.errors import JobsError
from jobs.models import WorkerPass

from .backup import BackupFailed, copy_database, refuse_damage
from .mail_holds import hold_after_restore

#: a worker that finished something within this time still runs
STILL_RUNS = timedelta(seconds=10)


class RestoreFailed(JobsError):
    """Nothing was changed; the message says why."""


def restore_database(file: Path, *, migrate: Callable[[], None], now: datetime) -> Path | None:
    """Put a copy of an SQLite database in place of the present one.

    All is done to a draft beside it, which takes its place in one step. Gives where the former
    database is kept, None if there was none.
    """
    if connection.vendor != "sqlite":
        raise RestoreFailed(
            "The database is PostgreSQL: put it back with pg_restore, then run this command "
            "with --in-place instead of a file."
        )
    if not file.is_file():
        raise RestoreFailed(f"There is no file {file}.")
    refuse_while_running(now)
    target = Path(connection.settings_dict["NAME"])
    draft = target.with_name(f"{target.name}.draft")
    _remove(draft)
    try:
        copy_database(file, draft)
        refuse_damage(draft)
        with _connected_to(draft):
            make_safe(migrate=migrate, now=now)
        _settle(draft)
        return _exchange(draft, target, now)
    except (OSError, sqlite3.Error, DatabaseError, BackupFailed) as error:
        reason = error.message if isinstance(error, JobsError) else str(error)
        raise RestoreFailed(f"Nothing was restored ({reason}).") from error
    finally:
        _remove(draft)


def make_safe(*, migrate: Callable[[], None], now: datetime) -> None:
    """Bring a database that was put back up to date, hold its mail, end its old sessions."""
    migrate()
    hold_after_restore(now=now)
    Session.objects.all().delete()


def refuse_while_running(now: datetime) -> None:
    """A database that cannot be read is one reason to restore, and runs nothing."""
    with suppress(DatabaseError):
        recent = WorkerPass.objects.filter(
            finished_at__gt=now - STILL_RUNS - timedelta(seconds=settings.TICK_SECONDS),
            finished_at__lte=now + STILL_RUNS,
        )
        if recent.exists():
            raise RestoreFailed("The worker still runs: stop the product first, then restore.")


@contextmanager
def _connected_to(path: Path) -> Iterator[None]:
    """The default database is another file meanwhile."""
    usual = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = str(path)
    try:
        yield
    finally:
        connection.close()
        connection.settings_dict["NAME"] = usual


def _settle(path: Path) -> None:
    """Everything in the one file, and on the disk."""
    with closing(sqlite3.connect(path)) as file:
        file.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    path.chmod(0o600)
    with open(path, "rb") as whole:
        os.fsync(whole.fileno())


def _exchange(draft: Path, target: Path, now: datetime) -> Path | None:
    """The former database keeps what was written to it last, under a name of its own."""
    kept = None
    connection.close()
    if target.exists():
        with suppress(sqlite3.Error):  # a damaged one is kept as it is
            _settle(target)
        kept = Path(settings.BACKUP_DIR) / f"before-restore-{now.astimezone(UTC):%Y%m%d-%H%M%S}"
        kept.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        kept = kept.with_suffix(".sqlite3")
        os.link(target, kept)
        _keep_beside(target, kept)
    os.replace(draft, target)
    return kept


def _keep_beside(target: Path, kept: Path) -> None:
    """The journal of another database beside ours would damage it."""
    for ending in ("-wal", "-shm"):
        journal = target.with_name(target.name + ending)
        if journal.exists():
            journal.rename(kept.with_name(kept.name + ending))


def _remove(path: Path) -> None:
    for ending in ("", "-wal", "-shm"):
        path.with_name(path.name + ending).unlink(missing_ok=True)
