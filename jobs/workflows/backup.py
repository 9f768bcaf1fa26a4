"""Nightly copies of the SQLite file, each one checked before it counts."""

import os
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from django.conf import settings
from django.db import connection

from jobs.errors import JobsError

DRAFTS = "draft-"


class BackupFailed(JobsError):
    """No copy was kept; the message says why."""


def backup_database(*, now: datetime) -> Path | None:
    """A checked copy in BACKUP_DIR, the oldest beyond BACKUPS_KEPT removed.

    None on PostgreSQL, which its own tools dump. A copy that fails its check is deleted and
    no older copy is touched.
    """
    if connection.vendor != "sqlite":
        return None
    folder = Path(settings.BACKUP_DIR)
    target = folder / f"data-{now.astimezone(UTC):%Y%m%d-%H%M%S}.sqlite3"
    try:
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        with TemporaryDirectory(dir=folder, prefix=DRAFTS) as drafts:
            draft = Path(drafts) / target.name
            copy_database(Path(connection.settings_dict["NAME"]), draft)
            refuse_damage(draft)
            draft.rename(target)
        _remove_old(folder, now)
    except (OSError, sqlite3.Error) as error:
        raise BackupFailed(f"The backup failed ({error}): check the disk of {folder}.") from error
    return target


def copy_database(source: Path, draft: Path) -> None:
    with closing(sqlite3.connect(f"{source.absolute().as_uri()}?mode=ro", 20, uri=True)) as file:
        file.execute("VACUUM INTO ?", [str(draft)])
    draft.chmod(0o600)
    with open(draft, "rb") as copy:
        os.fsync(copy.fileno())


def refuse_damage(draft: Path) -> None:
    with closing(sqlite3.connect(f"{draft.absolute().as_uri()}?mode=ro", uri=True)) as copy:
        findings = [str(row[0]) for row in copy.execute("PRAGMA integrity_check")]
        orphans = copy.execute("PRAGMA foreign_key_check").fetchall()
    if findings != ["ok"]:
        raise BackupFailed(f"The copy is damaged ({findings[0]}): restore an older one.")
    if orphans:
        raise BackupFailed(f"The copy has rows without their parent in {orphans[0][0]}.")


def _remove_old(folder: Path, now: datetime) -> None:
    for old in sorted(folder.glob("data-*.sqlite3"))[: -settings.BACKUPS_KEPT]:
        old.unlink()
    for left in folder.glob(f"{DRAFTS}*"):  # of a run that was killed
        if left.stat().st_mtime < (now - timedelta(days=1)).timestamp():
            shutil.rmtree(left)
