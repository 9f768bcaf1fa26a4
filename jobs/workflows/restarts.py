"""Which processes were started again, and when: kept in one small file for whoever asks health.

No database: it is written when that may be what failed. The file has its room from the start, so
a full disk does not keep it from being written.
"""

from __future__ import annotations

import json
import os
from collections import Counter
from contextlib import suppress
from datetime import datetime, timedelta
from pathlib import Path

ROOM, MOST = 8192, 40
RECENT = timedelta(hours=1)


class Kept:
    """The writer's side. What cannot be written is kept in mind until the next line."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.lines: list[dict[str, str]] = []
        self._write()

    def add(self, part: str, why: str, *, now: datetime) -> None:
        line = {"part": part, "at": now.isoformat(), "why": why[:80]}
        self.lines = [*self.lines, line][-MOST:]
        self._write()

    def _write(self) -> None:
        text = json.dumps(self.lines).ljust(ROOM).encode()
        with suppress(OSError):
            descriptor = os.open(self.path, os.O_WRONLY | os.O_CREAT, 0o600)
            with os.fdopen(descriptor, "wb") as file:
                file.write(text)


def recent(path: Path, *, now: datetime) -> Counter[str]:
    """How often each part was started again within the hour; nothing where nobody watches."""
    try:
        lines = json.loads(path.read_text())
        return Counter(
            line["part"] for line in lines if abs(now - datetime.fromisoformat(line["at"])) < RECENT
        )
    except (OSError, ValueError, KeyError, TypeError):
        return Counter()
