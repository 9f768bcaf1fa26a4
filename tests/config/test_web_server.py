"""The web server: slow lines hold up nobody, a proxy is believed, a stop answers what was asked."""

import http.client
import socket
import threading
import time

import pytest

from config import web_server

HEADERS = {"X-Forwarded-Proto": "https", "X-Forwarded-For": "192.0.2.7"}


@pytest.fixture
def serving(settings):
    """A small program behind the server, in threads of this process."""
    settings.WEB_THREADS = 2
    stopping, running, lines = threading.Event(), [], []

    def start(program):
        line = socket.create_server(("127.0.0.1", 0))
        server = web_server.make_server(program, line)
        thread = threading.Thread(target=web_server.serve, args=(server, stopping))
        thread.start()
        running.append((server, thread))
        return line.getsockname()[1]

    start.stop = lambda: (stopping.set(), [server.pull_trigger() for server, _ in running])
    start.lines = lines
    yield start
    start.stop()
    for line in lines:
        line.close()
    for server, thread in running:
        thread.join(10)
        server.task_dispatcher.shutdown()
        server.close()


def tells(environ, begin):
    begin("200 OK", [("Content-Type", "text/plain")])
    return [f"{environ['wsgi.url_scheme']} {environ['REMOTE_ADDR']}".encode()]


def ask(port, headers=None):
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    line.request("GET", "/", headers=headers or {})
    said = line.getresponse().read().decode()
    line.close()
    return said


@pytest.mark.parametrize(
    "half",
    [b"", b"GET / HTTP/1.1\r\nHost: a\r\n", b"POST / HTTP/1.1\r\nContent-Length: 9\r\n\r\nabc"],
)
def test_forty_half_open_lines_hold_up_no_page(serving, half):
    port = serving(tells)
    for _ in range(40):
        line = socket.create_connection(("127.0.0.1", port))
        line.sendall(half)
        serving.lines.append(line)
    begun = time.monotonic()
    assert ask(port) == "http 127.0.0.1"
    assert time.monotonic() - begun < 1


@pytest.mark.parametrize(
    ("in_production", "said"), [(True, "https 192.0.2.7"), (False, "http 127.0.0.1")]
)
def test_a_proxy_on_this_machine_is_believed_in_production_only(
    serving, settings, in_production, said
):
    settings.IN_PRODUCTION = in_production
    assert ask(serving(tells), HEADERS) == said


def test_a_stop_answers_what_was_asked_before(serving):
    entered, go_on, answers = threading.Event(), threading.Event(), []

    def slow(environ, begin):
        entered.set()
        go_on.wait(10)
        return tells(environ, begin)

    port = serving(slow)
    asking = threading.Thread(target=lambda: answers.append(ask(port)))
    asking.start()
    assert entered.wait(10)
    serving.stop()
    go_on.set()
    asking.join(10)
    assert answers == ["http 127.0.0.1"]
