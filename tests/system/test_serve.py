"""`manage.py serve` for real: it answers, its worker ticks, who dies comes back, it ends as one."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from contextlib import contextmanager

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
    with database_of_its_own() as url:
        yield url


@contextmanager
def database_of_its_own():
    """An empty database on the server of the run, "" for SQLite."""
    server = os.environ.get("DATABASE_URL", "")
    if not server.startswith("postgres"):
        yield ""
        return
    name = f"system_{os.getpid()}"
    with psycopg.connect(server, autocommit=True) as connection:
        connection.execute(sql.SQL("CREATE DATABASE {}").format(sql.Identifier(name)))
        try:
            yield f"{server.rpartition('/')[0]}/{name}"
        finally:
            drop = sql.SQL("DROP DATABASE {} WITH (FORCE)").format(sql.Identifier(name))
            connection.execute(drop)


@pytest.fixture
def environment(tmp_path, database_url):
    return own_environment(tmp_path, database_url)


def own_environment(folder, database_url):
    """Nothing of this process's settings but the broker of the run."""
    kept = {name: os.environ[name] for name in ("PATH", "HOME", "LANG") if name in os.environ}
    return kept | {
        "CELERY_BROKER_URL": os.environ.get("CELERY_BROKER_URL", ""),
        "DEPLOYMENT": "test",
        "DATA_DIR": str(folder / "data"),
        "DATABASE_URL": database_url,
        "LISTEN": f"127.0.0.1:{free_port()}",
        "TICK_SECONDS": "1",
    }


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


def restarts(environment):
    return json.loads(healthz(environment) or "{}").get("restarts", {})


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


def ask(environment, program, seconds=60):
    answer = subprocess.run(
        [sys.executable, "manage.py", "shell", "-v", "0", "-c", program],
        cwd=settings.BASE_DIR,
        env=environment,
        capture_output=True,
        text=True,
        timeout=seconds,
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


def members(serving, environment):
    """Web and worker, and with a broker on the network its clock and the worker's child."""
    wanted = 4 if environment["CELERY_BROKER_URL"] else 2
    return poll(lambda: found if len(found := family(serving.pid)) >= wanted else None)


def test_term_ends_everything_and_frees_the_port(serving, environment):
    poll(lambda: healthz(environment))
    found = members(serving, environment)
    serving.send_signal(signal.SIGTERM)
    assert serving.wait(60) == 0
    assert [pid for pid in found if command_line(pid)] == []
    host, port = environment["LISTEN"].split(":")
    socket.create_server((host, int(port))).close()


def test_each_process_may_die_and_the_command_itself_takes_all_along(
    serving, environment, tmp_path
):
    poll(lambda: healthz(environment))
    names = ["worker", "web_server", *(["beat"] if environment["CELERY_BROKER_URL"] else [])]
    for name in names:
        victim = next(pid for pid in children(serving.pid) if name in command_line(pid))
        os.kill(victim, signal.SIGKILL)
        poll(lambda name=name: any(name in command_line(pid) for pid in children(serving.pid)))
        part = name.removesuffix("_server")
        poll(lambda part=part: restarts(environment).get(part) == 1)
        assert f"The {part} ended by signal 9" in (tmp_path / "serve.log").read_text()
    assert serving.poll() is None
    last = members(serving, environment)
    serving.kill()
    poll(lambda: not any(command_line(pid) for pid in last), 60)


def test_forty_half_open_lines_hold_up_no_page(serving, environment):
    """Twenty that never end their head, twenty that never send their body."""
    poll(lambda: healthz(environment))
    host, port = environment["LISTEN"].split(":")
    head = f"Host: {environment['LISTEN']}\r\n"
    half = [
        f"GET /healthz HTTP/1.1\r\n{head}",
        f"POST /sign-in/ HTTP/1.1\r\n{head}Content-Length: 9\r\n\r\n",
    ]
    lines = [socket.create_connection((host, int(port))) for _ in range(40)]
    for number, line in enumerate(lines):
        line.sendall(half[number % 2].encode())
    begun = time.monotonic()
    with urllib.request.urlopen(f"http://{environment['LISTEN']}/sign-in/", timeout=5) as page:
        assert page.status == 200
    assert time.monotonic() - begun < 1
    for line in lines:
        line.close()


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
