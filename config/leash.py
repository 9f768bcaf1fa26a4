"""The tie between a process and the command that started it: a pair of sockets.

The process sends a byte when it has done something; the command hears from that that it works.
When the command ends, however it ends, the process reads the end of the line and ends too.
"""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from contextlib import suppress

#: names the descriptor for the process that is started; without it a process runs on its own
VARIABLE = "FAMILY_SOCKET"
#: for an end in order; who is late is killed, as the command would have done
GRACE_SECONDS = 40


class Leash:
    """The child's end."""

    def __init__(self, line: socket.socket) -> None:
        self.line = line
        self.line.setblocking(True)

    def beat(self) -> None:
        """Says that work was done. Never waits: who does not listen misses nothing."""
        try:
            self.line.send(b".", socket.MSG_DONTWAIT)
        except OSError:
            return

    def end_with_the_other(self) -> None:
        threading.Thread(target=self._wait_for_the_end, name="leash", daemon=True).start()

    def _wait_for_the_end(self) -> None:
        with suppress(OSError):  # a beat that the command never read resets the line: an end too
            self.line.recv(1)
        os.kill(os.getpid(), signal.SIGTERM)
        time.sleep(GRACE_SECONDS)
        os.kill(os.getpid(), signal.SIGKILL)


def from_environment() -> Leash | None:
    number = os.environ.get(VARIABLE, "")
    return Leash(socket.socket(fileno=int(number))) if number else None
