"""Parts that live and end together, tried with small programs instead of the real three."""

import os
import signal
import socket
import threading
import time
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from django.core.management.base import CommandError

from jobs.management.commands import serve

PATIENT = "import time; time.sleep(60)"
#: says what it got and goes on, as a program that is slow to end
DEAF = """
import pathlib, signal, sys, time
notes = pathlib.Path(sys.argv[1])
def note(number, frame):
    with notes.open("a") as file:
        file.write("TERM\\n")
signal.signal(signal.SIGTERM, note)
notes.write_text("ready\\n")
while True:
    time.sleep(0.05)
"""


@pytest.fixture
def family(monkeypatch):
    started = []

    real = serve.subprocess.Popen

    def run_code(words, **more):
        """The command starts modules (python -m NAME); these parts are code (python -c CODE)."""
        return real([words[0], "-c", *words[2:]], **more)

    monkeypatch.setattr(serve.subprocess, "Popen", run_code)

    def make(**programs):
        parts = {
            n: words if isinstance(words, tuple) else (words,) for n, words in programs.items()
        }
        monkeypatch.setattr(serve, "PARTS", parts)
        made = serve.Family()
        started.append(made)
        made.start()
        return made

    yield make
    for made in started:
        for process in made.members.values():
            serve.end_group(process)
            process.wait()


def wait_for(condition, seconds=10):
    deadline = time.monotonic() + seconds
    pause = threading.Event()
    while not condition():
        assert time.monotonic() < deadline
        pause.wait(0.02)


def test_part_that_ends_by_itself_is_named_and_the_rest_is_stopped(family):
    made = family(web=PATIENT, worker="pass", beat=PATIENT)
    assert made.wait_until_one_ends() == "worker"
    made.stop()
    assert made.members["web"].returncode == -signal.SIGTERM
    assert made.members["beat"].returncode == -signal.SIGTERM


def test_each_part_leads_a_group_of_its_own(family):
    made = family(web=PATIENT, beat=PATIENT)
    groups = {os.getpgid(process.pid) for process in made.members.values()}
    assert groups == {process.pid for process in made.members.values()}
    assert os.getpgid(0) not in groups


def test_late_part_gets_one_term_and_then_kill(family, tmp_path, monkeypatch):
    monkeypatch.setattr(serve, "STOP_SECONDS", 0.5)
    notes = tmp_path / "notes"
    made = family(worker=(DEAF, str(notes)))
    wait_for(lambda: notes.exists() and notes.read_text())
    made.stop()
    assert notes.read_text() == "ready\nTERM\n"
    assert made.members["worker"].returncode == -signal.SIGKILL


def test_children_of_a_killed_part_do_not_outlive_it(family, tmp_path):
    note = tmp_path / "child"
    parent = (
        "import subprocess, sys, time, pathlib\n"
        f"child = subprocess.Popen([sys.executable, '-c', {PATIENT!r}])\n"
        "pathlib.Path(sys.argv[1]).write_text(f'{child.pid} ')\n"
        "time.sleep(60)"
    )
    made = family(worker=(parent, str(note)))
    wait_for(lambda: note.exists() and note.read_text().endswith(" "))
    made.members["worker"].kill()
    assert made.wait_until_one_ends() == "worker"
    made.stop()
    wait_for(lambda: not is_running(int(note.read_text())))


def is_running(pid):
    try:
        with open(f"/proc/{pid}/stat") as file:
            return file.read().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def test_signal_ends_the_waiting(family):
    made = family(web=PATIENT)
    timer = threading.Timer(0.1, made.ask_to_stop, (signal.SIGTERM, None))
    timer.start()
    assert made.wait_until_one_ends() == ""


def test_taken_port_is_one_sentence():
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(
            CommandError, match=rf"127\.0\.0\.1:{port}.*LISTEN=127\.0\.0\.1:{port + 1}"
        ):
            serve.refuse_taken_port("127.0.0.1", port)


def test_free_port_is_accepted_and_left_free():
    with socket.create_server(("127.0.0.1", 0)) as found:
        port = found.getsockname()[1]
    serve.refuse_taken_port("127.0.0.1", port)
    socket.create_server(("127.0.0.1", port)).close()


def test_nobody_there_is_not_healthy(settings):
    with socket.create_server(("127.0.0.1", 0)) as found:
        settings.LISTEN_PORT = found.getsockname()[1]
    assert serve.answers() is False


@pytest.mark.parametrize(
    ("status", "body", "good"),
    [
        (200, b'{"status": "ok", "worker": "ok"}', True),
        (503, b'{"status": "late", "worker": "ok"}', True),  # the mail server is away
        (503, b'{"status": "late", "worker": "silent"}', False),
        (500, b"broken", False),
    ],
)
def test_the_site_runs_when_its_worker_works(settings, status, body, good):
    class Healthz(BaseHTTPRequestHandler):
        def do_GET(self):  # noqa: N802
            self.send_response(status)
            self.end_headers()
            self.wfile.write(body)

        def log_message(self, *args):
            """Quiet."""

    with HTTPServer(("127.0.0.1", 0), Healthz) as site:
        settings.LISTEN_PORT = site.server_port
        thread = threading.Thread(target=site.handle_request)
        thread.start()
        assert serve.answers() is good
        thread.join()
