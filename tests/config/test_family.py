"""Parts that are kept alive and end together, tried with small programs for the real ones."""

import os
import signal
import socket
import threading
import time
from http.server import BaseHTTPRequestHandler, HTTPServer

import pytest
from django.core.management.base import CommandError
from django.utils import timezone

from config import family as families
from jobs.management.commands import serve
from jobs.workflows import restarts

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
#: works for a moment and then hangs
HANGING = """
import time
from config import leash
leash.from_environment().beat()
time.sleep(60)
"""


class Clock:
    """A clock that the test moves."""

    def __init__(self):
        self.at = 1000.0

    def __call__(self):
        return self.at


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def family(monkeypatch, settings, tmp_path, clock):
    settings.RESTARTS_FILE = tmp_path / "restarts.json"
    started = []
    real = families.subprocess.Popen

    def run_code(words, **more):
        """The command starts modules (python -m NAME); these parts are code (python -c CODE)."""
        return real([words[0], "-c", *words[2:]], **more)

    monkeypatch.setattr(families.subprocess, "Popen", run_code)

    def make(asks=None, **programs):
        parts = {
            name: words if isinstance(words, tuple) else (words,)
            for name, words in programs.items()
        }
        made = families.Family(parts, still_after=180, asks=asks, clock=clock)
        started.append(made)
        made.look()
        return made

    yield make
    for made in started:
        for part in made.members:
            if part.process:
                families.end_group(part.process)
                part.process.wait()


def member(made, name):
    return next(part for part in made.members if part.name == name)


def wait_for(condition, seconds=10):
    deadline = time.monotonic() + seconds
    pause = threading.Event()
    while not condition():
        assert time.monotonic() < deadline
        pause.wait(0.02)


def restarted(settings):
    return dict(restarts.recent(settings.RESTARTS_FILE, now=timezone.now()))


def test_a_part_that_dies_is_started_again_and_said_and_the_others_live_on(
    family, settings, clock, capfd
):
    made = family(web=PATIENT, worker=PATIENT)
    web, worker = member(made, "web").process, member(made, "worker").process
    worker.kill()
    worker.wait()
    made.look()
    assert member(made, "worker").process is None
    clock.at += families.PAUSES[0]
    made.look()
    assert member(made, "worker").process.poll() is None
    assert member(made, "web").process is web
    assert "The worker ended by signal 9; it is started again in 0.5 s." in capfd.readouterr().err
    assert restarted(settings) == {"worker": 1}


def test_a_part_that_keeps_dying_is_started_at_ever_longer_pauses(family, clock):
    made, pauses = family(worker="pass"), []
    part = member(made, "worker")
    for _ in range(9):
        part.process.wait()
        made.look()
        pauses.append(part.not_before - clock.at)
        clock.at = part.not_before
        made.look()
    assert pauses == [0.5, 1, 2, 5, 10, 30, 60, 60, 60]


def test_a_part_that_lived_for_a_while_is_back_at_once(family, clock):
    made = family(worker=PATIENT)
    part = member(made, "worker")
    for _ in range(3):
        clock.at += families.LIVED_SECONDS + 1
        part.process.kill()
        part.process.wait()
        made.look()
        assert part.not_before - clock.at == families.PAUSES[0]
        clock.at = part.not_before
        made.look()


def test_a_worker_that_stands_still_is_ended_and_started_again(family, settings, clock, capfd):
    made = family(worker=HANGING)
    part = member(made, "worker")
    hanging = part.process
    clock.at += 100
    wait_for(lambda: (made.look(), part.heard == clock.at)[1])  # it has said something by then
    clock.at += 180
    made.look()
    assert hanging.poll() is None  # not yet
    clock.at += 1
    made.look()
    assert hanging.poll() == -signal.SIGKILL
    clock.at = part.not_before
    made.look()
    assert part.process.poll() is None
    assert "The worker finished nothing for 181 s" in capfd.readouterr().err
    assert restarted(settings) == {"worker": 1}


def test_a_web_server_that_answers_nothing_is_ended_after_three_questions(family, clock, settings):
    answers = iter([True, False, False, True, False, False, False])
    made = family(asks=lambda: next(answers), web=PATIENT)
    first = member(made, "web").process
    for _ in range(6):
        clock.at += families.ASK_EVERY
        made.look()
        assert first.poll() is None
    clock.at += families.ASK_EVERY
    made.look()
    assert first.poll() == -signal.SIGKILL
    assert restarted(settings) == {"web": 1}


def test_what_cannot_be_started_is_tried_again(family, clock, monkeypatch, capfd):
    def refuse(self, now):
        raise OSError(12, "Cannot allocate memory")

    with monkeypatch.context() as patch:
        patch.setattr(families.Part, "start", refuse)
        made = family(web=PATIENT)
    assert "could not be started (Cannot allocate memory)" in capfd.readouterr().err
    clock.at += families.PAUSES[0]
    made.look()
    assert member(made, "web").process.poll() is None


def test_a_full_disk_ends_nobody(family, settings, clock, monkeypatch):
    """Neither the file of restarts nor standard error can be written; both are tried again."""
    made = family(worker=PATIENT)

    def full(*args, **kwargs):
        raise OSError(28, "No space left on device")

    part = member(made, "worker")
    with monkeypatch.context() as patch:
        patch.setattr("builtins.print", full)
        patch.setattr(restarts.os, "open", full)
        part.process.kill()
        part.process.wait()
        made.look()
    clock.at += families.PAUSES[0]
    made.look()
    assert part.process.poll() is None
    part.process.kill()
    part.process.wait()
    made.look()
    assert restarted(settings) == {"worker": 2}  # what could not be written was kept in mind


def test_the_file_of_restarts_has_its_room_from_the_start(tmp_path):
    kept = restarts.Kept(tmp_path / "restarts.json")
    sizes = {(tmp_path / "restarts.json").stat().st_size}
    for number in range(100):
        kept.add("worker", f"ended with code {number} " * 10, now=timezone.now())
        sizes.add((tmp_path / "restarts.json").stat().st_size)
    assert sizes == {restarts.ROOM}
    found = restarts.recent(tmp_path / "restarts.json", now=timezone.now())
    assert found == {"worker": restarts.MOST}


@pytest.mark.parametrize("text", ["", "null", "[1]", '[{"at": "never", "part": "web"}]'])
def test_a_damaged_file_of_restarts_says_nothing(tmp_path, text):
    (tmp_path / "restarts.json").write_text(text)
    assert restarts.recent(tmp_path / "restarts.json", now=timezone.now()) == {}


def test_each_part_leads_a_group_of_its_own(family):
    made = family(web=PATIENT, worker=PATIENT)
    groups = {os.getpgid(part.process.pid) for part in made.members}
    assert groups == {part.process.pid for part in made.members}
    assert os.getpgid(0) not in groups


def test_late_part_gets_one_term_and_then_kill(family, tmp_path, monkeypatch):
    monkeypatch.setattr(families, "STOP_SECONDS", 0.5)
    notes = tmp_path / "notes"
    made = family(worker=(DEAF, str(notes)))
    wait_for(lambda: notes.exists() and notes.read_text())
    process = member(made, "worker").process
    made.stop()
    assert notes.read_text() == "ready\nTERM\n"
    assert process.returncode == -signal.SIGKILL


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
    process = member(made, "worker").process
    process.kill()
    process.wait()
    made.look()
    wait_for(lambda: not is_running(int(note.read_text())))


@pytest.mark.parametrize("beats", [0, 1], ids=["all heard", "one not heard"])
def test_a_part_ends_when_the_command_that_started_it_is_killed(family, tmp_path, beats):
    """Nobody can kill the test, so its end of the line is closed, as a kill would do."""
    tied = (
        "import pathlib, sys, time\n"
        "from config import leash\n"
        "tied = leash.from_environment()\n"
        "tied.end_with_the_other()\n"
        f"[tied.beat() for _ in range({beats})]\n"
        "pathlib.Path(sys.argv[1]).write_text('tied')\n"
        "time.sleep(60)"
    )
    made = family(web=(tied, str(tmp_path / "note")))
    part = member(made, "web")
    wait_for(lambda: (tmp_path / "note").exists())
    part.line.close()
    assert part.process.wait(10) == -signal.SIGTERM


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
    made.watch()
    process = member(made, "web").process
    made.stop()
    assert process.returncode == -signal.SIGTERM


def test_a_slow_start_is_waited_for_and_said(family, monkeypatch, capfd):
    answers = iter([False, False, True])
    monkeypatch.setattr(families, "runs", lambda: next(answers))
    monkeypatch.setattr(families, "START_SECONDS", 0)
    monkeypatch.setattr(families, "LOOK_SECONDS", 0.01)
    assert families.wait_until_it_runs(family(web=PATIENT))
    assert capfd.readouterr().err.count("The site does not answer after 0 s") == 2


def test_the_clock_is_a_process_only_with_a_broker_on_the_network(settings):
    settings.OWN_BROKER = True
    assert list(families.parts()) == ["web", "worker"]
    settings.OWN_BROKER = False
    assert list(families.parts()) == ["web", "worker", "beat"]


def test_a_rare_tick_gives_the_worker_longer(settings):
    settings.TICK_SECONDS = 2
    assert families.still_after() == 180
    settings.TICK_SECONDS = 600
    assert families.still_after() == 1800


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


def test_nobody_there_does_not_run(settings):
    with socket.create_server(("127.0.0.1", 0)) as found:
        settings.LISTEN_PORT = found.getsockname()[1]
    assert families.runs() is False


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
        assert families.runs() is good
        thread.join()
