"""The file broker, with whole files only.

Kombu's own transport names a message before it has written it. A worker that looks in between
takes an empty file and ends with a JSON error. Here a message appears under its name in one step,
and what cannot be read is left out: the next tick sees the same rows.
"""

from __future__ import annotations

import os
import time
import uuid
from collections.abc import Callable
from pathlib import Path
from queue import Empty
from typing import Any

from kombu.exceptions import ChannelError
from kombu.transport import TRANSPORT_ALIASES, filesystem
from kombu.utils.encoding import str_to_bytes
from kombu.utils.json import dumps

ALIAS = "files"
TRIES, PAUSE_S = 50, 0.02


class Channel(filesystem.Channel):  # type: ignore[misc,unused-ignore]
    def _put(  # type: ignore[override]  # kombu names the argument in two ways
        self, queue: str, payload: Any, **kwargs: Any
    ) -> None:
        name = f"{round(time.monotonic() * 1000)}_{uuid.uuid4()}.{queue}.msg"
        folder = Path(self.data_folder_out)
        draft = folder / f".{name}.draft"
        try:
            draft.write_bytes(str_to_bytes(dumps(payload)))
            os.replace(draft, folder / name)
        except OSError as error:
            raise ChannelError(f"Cannot add a message to {str(folder)!r}.") from error

    def _get(self, queue: str, timeout: float | None = None) -> Any:
        try:
            return super()._get(queue)
        except ValueError:
            raise Empty from None

    def get_table(self, exchange: str) -> Any:
        return whole(lambda: super(Channel, self).get_table(exchange))

    def _queue_bind(self, *args: Any) -> Any:
        return whole(lambda: super(Channel, self)._queue_bind(*args))


def whole(read: Callable[[], Any]) -> Any:
    """What another process is writing at the moment is read when it is there."""
    for _ in range(TRIES):
        try:
            return read()
        except ValueError:
            time.sleep(PAUSE_S)
    return read()


class Transport(filesystem.Transport):  # type: ignore[misc,unused-ignore]
    Channel = Channel


def register() -> None:
    TRANSPORT_ALIASES[ALIAS] = f"{__name__}:Transport"
