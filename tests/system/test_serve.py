"""`manage.py serve` for real: it answers, its worker ticks, it ends as one."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request

import psycopg
import pytest
from django.conf import settings
from psycopg import sql

pytestmark = pytest.mark.system
PATIENCE_SECONDS = 90


def free_port():
    with socket.create_server(("127.0.0.1", 0)) as found:
        return found.getsockname()[1]


def poll(ask, seconds=PATIENCE_SECONDS):
    """The first true answer before the deadline."""
    deadline = time.monotonic() + seconds
    while not (answer := ask()):
        assert time.monotonic() < deadline, "nothing happened in time"
        time.sleep(0.1)
    return answer


@pytest.fixture
def database_url():
    """An empty database of its own on the server of the run, "" for SQLite."""
    server = os.environ.get("DATABASE_URL", "")
    if not server.startswith("postgres"):
        yield ""
        return
    name = f"system_{os.getpid()}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        yield f"{server.rpartition('/')[0]}/{name}"
        connection.execute(sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name)))


@pytest.fixture
def environment(tmp_path, database_url):
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    broker = {"CELERY_BROKER_URL": os.environ.get("CELERY_BROKER_URL", "")}
    return (
        kept
        | broker
        | {
            "DEPLOYMENT": "test",
            "DATA_DIR": str(tmp_path / "data"),
            "DATABASE_URL": database_url,
            "LISTEN": f"127.0.0.1:{free_port()}",
            "TICK_SECONDS": "1",
        }
    )


@pytest.fixture
def serving(environment, tmp_path):
    with open(tmp_path / "serve.log", "wb") as log:
        process = subprocess.Popen(
            [sys.executable, "manage.py", "serve"],
            cwd=settings.BASE_DIR,
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    yield process
    if process.poll() is None:
        process.send_signal(signal.SIGTERM)
        process.wait(60)


def healthz(environment):
    try:
        with urllib.request.urlopen(f"http://{environment['LISTEN']}/healthz", timeout=5) as answer:
            return answer.read().decode()
    except (urllib.error.URLError, OSError):
        return ""


def children(pid):
    with open(f"/proc/{pid}/task/{pid}/children") as file:
        return [int(word) for word in file.read().split()]


def family(pid):
    found = children(pid)
    return found + [grandchild for child in found for grandchild in family(child)]


def command_line(pid):
    try:
        with open(f"/proc/{pid}/cmdline") as file:
            return file.read().replace("\0", " ")
    except OSError:
        return ""


def ask(environment, program):
    answer = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", program],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return json.loads(answer.stdout)


def test_site_answers_and_the_worker_ticks(serving, environment):
    poll(lambda: healthz(environment))
    program = (
        "import json; from jobs.models import WorkerPass;"
        "found = WorkerPass.objects.values_list('finished_at', flat=True);"
        "print(json.dumps([str(at) for at in found]))"
    )
    first = poll(lambda: ask(environment, program))
    poll(lambda: ask(environment, program) != first)


def test_term_ends_everything_and_frees_the_port(serving, environment):
    poll(lambda: healthz(environment))
    # gunicorn with two workers, a Celery worker with one child, beat
    members = poll(lambda: found if len(found := family(serving.pid)) >= 6 else None)
    serving.send_signal(signal.SIGTERM)
    assert serving.wait(60) == 0
    assert [pid for pid in members if command_line(pid)] == []
    host, port = environment["LISTEN"].split(":")
    socket.create_server((host, int(port))).close()


@pytest.mark.parametrize("part", ["gunicorn", "worker", "beat"])
def test_when_one_part_dies_all_end_and_its_name_is_said(serving, environment, tmp_path, part):
    poll(lambda: healthz(environment))
    members = poll(lambda: found if len(found := family(serving.pid)) >= 6 else None)
    victim = next(pid for pid in children(serving.pid) if f" {part} " in command_line(pid))
    os.kill(victim, signal.SIGKILL)
    assert serving.wait(60) == 1
    name = {"gunicorn": "web"}.get(part, part)
    assert f"The {name} ended by itself" in (tmp_path / "serve.log").read_text()
    assert [pid for pid in members if command_line(pid)] == []


def test_second_start_on_the_same_port_is_one_sentence(serving, environment):
    poll(lambda: healthz(environment))
    second = subprocess.run(
        [sys.executable, "manage.py", "serve"],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert second.returncode == 1
    assert "LISTEN=" in second.stderr
    assert len(second.stderr.splitlines()) == 1
    assert serving.poll() is None
