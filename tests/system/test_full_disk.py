"""A disk that fills up while the product runs: nobody ends, a death is survived, and it heals."""

import json
import os
import signal
import subprocess
import sys
import urllib.error
import urllib.request

import pytest
from django.conf import settings

from .test_serve import children, command_line, healthz, own_environment, poll

pytestmark = pytest.mark.system


@pytest.fixture
def small_disk(tmp_path):
    """96 MiB in memory; only the owner of the machine may make such a disk."""
    folder = tmp_path / "disk"
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", "size=96m", "tmpfs", str(folder)], check=True)
    yield folder
    subprocess.run(["umount", "-l", str(folder)], check=True)


def said(environment):
    """What /healthz says, whatever its status."""
    try:
        with urllib.request.urlopen(f"http://{environment['LISTEN']}/healthz", timeout=5) as answer:
            return json.loads(answer.read())
    except urllib.error.HTTPError as error:
        return json.loads(error.read())
    except OSError:
        return {}


def test_a_full_disk_and_a_death_on_it_end_nothing(small_disk):
    environment = own_environment(small_disk, "") | {"CELERY_BROKER_URL": ""}
    with open(small_disk / "serve.log", "wb") as log:
        serving = subprocess.Popen(
            [sys.executable, "manage.py", "serve"],
            cwd=settings.BASE_DIR,
            env=environment,
            stdout=log,
            stderr=subprocess.STDOUT,
        )
    try:
        poll(lambda: healthz(environment))
        subprocess.run(
            ["dd", "if=/dev/zero", f"of={small_disk}/rest", "bs=1k"], check=False, stderr=-3
        )
        poll(lambda: said(environment).get("status") == "disk full")
        for name in ("worker", "web_server"):
            victim = next(pid for pid in children(serving.pid) if name in command_line(pid))
            os.kill(victim, signal.SIGKILL)
            poll(
                lambda name=name, old=victim: any(
                    name in command_line(pid) for pid in children(serving.pid) if pid != old
                )
            )
        assert serving.poll() is None
        (small_disk / "rest").unlink()
        answer = poll(lambda: (found := said(environment)).get("status") == "ok" and found)
        assert answer["restarts"] == {"web": 1, "worker": 1}
    finally:
        serving.send_signal(signal.SIGTERM)
        serving.wait(90)
