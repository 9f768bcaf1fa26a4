"""The folder that holds everything an installation keeps, and its generated key."""

import os
import secrets
import stat
from contextlib import suppress
from pathlib import Path
from typing import Any

from django.core.exceptions import ImproperlyConfigured

#: database and key lie in the folder itself; everything else has a folder of its own
PARTS = ("mail", "documents", "media", "static", "run", "phone")
BACKUPS = "backups"


def make_data_folder(folder: Path) -> None:
    """Makes the folder and its parts, readable by their owner only, also those that are there."""
    for path in (folder, *(folder / part for part in (*PARTS, BACKUPS))):
        try:
            path.mkdir(mode=0o700, parents=True, exist_ok=True)
            make_private(path)
        except OSError as error:
            raise ImproperlyConfigured(_sentence(path, error)) from error
        if not os.access(path, os.W_OK | os.X_OK):
            raise ImproperlyConfigured(_sentence(path, None))


def make_private(path: Path) -> None:
    """Takes the rights of everybody else away; a path of another owner is left to that one."""
    found = path.stat()
    if found.st_mode & 0o077 and found.st_uid == os.geteuid():
        path.chmod(stat.S_IMODE(found.st_mode) & 0o700)


def make_database_private(connection: Any, **kwargs: object) -> None:
    """At each connection to an SQLite file: it may have been made, copied or put back by hand."""
    if connection.vendor != "sqlite":
        return
    file = Path(connection.settings_dict["NAME"])
    for ending in ("", "-wal", "-shm"):
        with suppress(OSError):  # in memory, or gone meanwhile
            make_private(file.with_name(file.name + ending))


def kept_key(folder: Path) -> str:
    """The installation's own random key: made once, then read."""
    path = folder / "secret-key"
    try:
        if not path.exists():
            _write_once(path, secrets.token_urlsafe(64))
        key = path.read_text().strip()
    except OSError as error:
        raise ImproperlyConfigured(_sentence(path, error)) from error
    if len(key) < 50:
        raise ImproperlyConfigured(
            f"{path} is damaged: delete it and start again (everybody signs in anew)."
        )
    return key


def _write_once(path: Path, text: str) -> None:
    """Two first starts at once end with one key: the link either makes the file or fails."""
    draft = path.with_name(f"{path.name}.{os.getpid()}")
    descriptor = os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(descriptor, "w") as file:
        file.write(text)
    try:
        os.link(draft, path)
    except FileExistsError:
        pass
    finally:
        draft.unlink()


def _sentence(path: Path, error: OSError | None) -> str:
    reason = error.strerror if error else "no right to write"
    return (
        f"The data folder cannot be used: {path}: {reason}. "
        "Give this user the right to write there, or set DATA_DIR to another folder."
    )
