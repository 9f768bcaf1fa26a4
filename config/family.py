"""The processes of one machine, kept alive: `python -m config.family`, which `serve` ends in.

Who dies is started again, after a pause that grows while it keeps dying; so is who stands still:
a worker that finishes nothing, a web server that answers nothing. Nothing here needs the database
or room on the disk, and time is counted by a clock that nobody can set.
"""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Mapping
from contextlib import suppress
from datetime import UTC, datetime
from urllib.parse import urlsplit

from django.conf import settings

from jobs.workflows import restarts

from . import leash, listening

#: from one TERM to KILL; longer than the worker's own soft shutdown
STOP_SECONDS = 35
START_SECONDS = 60
LOOK_SECONDS = 0.2
#: pauses before a part is started again; a part that lived for a while begins at the first
PAUSES = (0.5, 1, 2, 5, 10, 30, 60)
LIVED_SECONDS = 60
#: a silent web server is asked this often, and given up after so many questions without answer
ASK_EVERY, ASK_PATIENCE, ASK_TIMES = 10, 10, 3
HANDLED = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)
CELERY = ("celery", "--quiet", "-A", "config")


def parts() -> dict[str, tuple[str, ...]]:
    """Modules and their words. With a broker on the network there is a clock of its own."""
    worker = (*CELERY, "worker", "--concurrency", str(settings.WORKER_CHILDREN))
    found = {
        "web": ("config.web_server",),
        "worker": (*worker, "--without-gossip", "--without-mingle", "--without-heartbeat"),
    }
    if not settings.OWN_BROKER:
        found["beat"] = (*CELERY, "beat", "--pidfile=")
    return found


class Part:
    """One process in a group of its own, and the line to it."""

    def __init__(self, name: str, words: tuple[str, ...], inherited: Mapping[str, int]) -> None:
        self.name, self.words, self.inherited = name, words, inherited
        self.process: subprocess.Popen[bytes] | None = None
        self.line: socket.socket | None = None
        self.begun = self.heard = self.not_before = 0.0
        self.deaths = 0

    def start(self, now: float) -> None:
        self.line, theirs = socket.socketpair()
        self.line.setblocking(False)
        numbers = {leash.VARIABLE: theirs.fileno(), **self.inherited}
        with theirs:
            self.process = subprocess.Popen(
                [sys.executable, "-m", *self.words],
                cwd=settings.BASE_DIR,
                env=os.environ | {name: str(number) for name, number in numbers.items()},
                pass_fds=tuple(numbers.values()),
                stdin=subprocess.DEVNULL,
                process_group=0,  # Ctrl-C reaches this command only, which asks each part once
            )
        self.begun = self.heard = now

    def listen(self, now: float) -> None:
        if self.line:
            with suppress(BlockingIOError, ConnectionError):
                if self.line.recv(4096):
                    self.heard = now

    def clear(self, now: float) -> None:
        """After its end: children that outlived it go too, and the next start is put off."""
        if self.process:
            end_group(self.process)
            self.process.wait()
        if self.line:
            self.line.close()
        self.process = self.line = None
        self.deaths = 0 if now - self.begun > LIVED_SECONDS else self.deaths
        self.not_before = now + PAUSES[min(self.deaths, len(PAUSES) - 1)]
        self.deaths += 1


class Family:
    """Web, worker and clock: started, watched, started again, ended together."""

    def __init__(
        self,
        members: Mapping[str, tuple[str, ...]],
        *,
        still_after: float,
        inherited: Mapping[str, int] | None = None,
        asks: Callable[[], bool] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.members = [Part(name, words, inherited or {}) for name, words in members.items()]
        self.still_after, self.asks, self.clock = still_after, asks, clock
        self.kept = restarts.Kept(settings.RESTARTS_FILE)
        self.stopping = threading.Event()
        self.unanswered, self.asked = 0, clock()

    def ask_to_stop(self, number: int, frame: object) -> None:
        self.stopping.set()

    def look(self) -> None:
        """Once over all parts: who is gone or stands still is ended, who is due is started."""
        now = self.clock()
        for part in self.members:
            part.listen(now)
            if part.process and (why := self._fault_of(part, now)):
                part.clear(now)
                self._say(part, why)
            elif part.process is None and now >= part.not_before:
                self._start(part, now)

    def watch(self) -> None:
        while not self.stopping.wait(LOOK_SECONDS):
            self.look()

    def stop(self) -> None:
        """One TERM to each part (it tells its own children); KILL to the group when late."""
        running = [part.process for part in self.members if part.process]
        for process in running:
            if process.poll() is None:
                process.terminate()
        deadline = self.clock() + STOP_SECONDS
        for process in running:
            with suppress(subprocess.TimeoutExpired):
                process.wait(max(deadline - self.clock(), 0))
            end_group(process)  # late, or children that outlived their parent
            process.wait()

    def _start(self, part: Part, now: float) -> None:
        try:
            part.start(now)
        except OSError as error:  # no memory, no descriptors: tried again like a death
            part.clear(now)
            self._say(part, f"could not be started ({error.strerror})")

    def _fault_of(self, part: Part, now: float) -> str:
        assert part.process is not None
        code = part.process.poll()
        if code is not None:
            return f"ended by signal {-code}" if code < 0 else f"ended with code {code}"
        if part.name == "worker" and now - part.heard > self.still_after:
            return f"finished nothing for {now - part.heard:.0f} s"
        return self._silence_of(part, now) if part.name == "web" and self.asks else ""

    def _silence_of(self, part: Part, now: float) -> str:
        assert self.asks is not None
        if now - max(part.begun, self.asked) < ASK_EVERY:
            return ""
        self.asked = now
        self.unanswered = 0 if self.asks() else self.unanswered + 1
        if self.unanswered < ASK_TIMES:
            return ""
        self.unanswered = 0
        return f"answered none of {ASK_TIMES} questions"

    def _say(self, part: Part, why: str) -> None:
        pause = max(part.not_before - self.clock(), 0)
        tell(f"The {part.name} {why}; it is started again in {pause:.1f} s.")
        self.kept.add(part.name, why, now=datetime.now(UTC))


def end_group(process: subprocess.Popen[bytes]) -> None:
    with suppress(ProcessLookupError):
        os.killpg(process.pid, signal.SIGKILL)


def tell(line: str) -> None:
    """To whoever reads standard error; a full disk behind it is no reason to end."""
    with suppress(OSError, ValueError):
        print(line, file=sys.stderr, flush=True)


def healthz(patience: float = ASK_PATIENCE) -> tuple[int, bytes]:
    """/healthz on this machine under the site's own name; (0, b"") when nobody answers."""
    line = http.client.HTTPConnection(settings.LISTEN_HOST, settings.LISTEN_PORT, timeout=patience)
    try:
        line.request("GET", "/healthz", headers={"Host": urlsplit(settings.SITE_URL).netloc})
        answer = line.getresponse()
        return answer.status, answer.read()
    except (OSError, http.client.HTTPException):
        return 0, b""
    finally:
        line.close()


def runs() -> bool:
    """Mail that waits for its server is told by /healthz and is no reason to end everything."""
    status, body = healthz(patience=5)
    return status == 200 or b'"worker": "ok"' in body


def wait_until_it_runs(family: Family) -> bool:
    """False when asked to stop before. Who is slow is waited for: ending would help nobody."""
    begun = time.monotonic()
    while not family.stopping.wait(LOOK_SECONDS):
        family.look()
        if runs():
            return True
        if time.monotonic() - begun > START_SECONDS:
            begun = time.monotonic()
            tell(f"The site does not answer after {START_SECONDS} s; the lines above say why.")
    return False


def still_after() -> float:
    """A pass lasts less than a minute; a worker that is silent for much longer hangs."""
    return max(180.0, 3.0 * settings.TICK_SECONDS)


def main(begun: float) -> int:
    # opened here, so that no visitor is turned away while the web server is started again
    with listening.open_socket() as shared:
        family = Family(
            parts(),
            still_after=still_after(),
            inherited={listening.VARIABLE: shared.fileno()},
            asks=lambda: healthz()[0] > 0,
        )
        for number in HANDLED:
            signal.signal(number, family.ask_to_stop)
        try:
            if wait_until_it_runs(family):
                tell(f"{settings.SITE_NAME} runs at {settings.SITE_URL}")
                tell(f"Started in {time.monotonic() - begun:.1f} s. Ctrl-C stops it.")
                family.watch()
        finally:
            family.stop()
    return 0


if __name__ == "__main__":
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")
    sys.exit(main(float(sys.argv[1]) if len(sys.argv) > 1 else time.monotonic()))
