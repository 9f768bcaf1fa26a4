"""The web server: `python -m config.web_server`.

Waitress reads a request whole before a thread takes it, so that slow or half-open lines hold up
nobody. Requests that are being answered at a TERM are answered to their end.
"""

from __future__ import annotations

import os
import signal
import socket
import threading
import time
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

from django.conf import settings  # noqa: E402
from waitress import wasyncore  # noqa: E402
from waitress.server import create_server  # noqa: E402

from . import leash  # noqa: E402
from .listening import handed_over_or_opened  # noqa: E402

#: the longest that answers may take after a TERM
DRAIN_SECONDS = 25
LARGEST_REQUEST = 32 * 2**20
#: who asks and by which scheme is believed of a proxy on this machine, and of nobody else
BEHIND_A_PROXY = {
    "trusted_proxy": "127.0.0.1",
    "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
}


def make_server(application: Any, line: socket.socket) -> Any:
    return create_server(
        application,
        sockets=[line],
        threads=settings.WEB_THREADS,
        ident="",
        connection_limit=800,
        channel_timeout=60,
        cleanup_interval=10,
        max_request_body_size=LARGEST_REQUEST,
        clear_untrusted_proxy_headers=True,
        asyncore_use_poll=True,
        **(BEHIND_A_PROXY if settings.IN_PRODUCTION else {}),
    )


def serve(server: Any, stopping: threading.Event) -> None:
    while not stopping.is_set():
        turn(server)
    server.accepting = False
    deadline = time.monotonic() + DRAIN_SECONDS
    while is_busy(server) and time.monotonic() < deadline:
        turn(server)


def turn(server: Any) -> None:
    # a clock that was set back would put off the closing of silent lines
    server.next_channel_cleanup = min(
        server.next_channel_cleanup, time.time() + server.adj.cleanup_interval
    )
    wasyncore.loop(timeout=1, use_poll=True, map=server._map, count=1)


def is_busy(server: Any) -> bool:
    return any(
        channel.requests or channel.total_outbufs_len
        for channel in list(server.active_channels.values())
    )


def main() -> None:
    from .wsgi import application  # refuses an unsafe installation

    server, stopping = make_server(application, handed_over_or_opened()), threading.Event()

    def stop(number: int, frame: object) -> None:
        stopping.set()
        server.pull_trigger()

    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, stop)
    if tied := leash.from_environment():
        tied.end_with_the_other()
    serve(server, stopping)


if __name__ == "__main__":
    main()
