"""One command for web, worker and beat; the same three run as services in production."""

import os
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from argparse import ArgumentParser
from typing import Any
from urllib.parse import urlsplit

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError

#: from one TERM to KILL; longer than the worker's own soft shutdown
STOP_SECONDS = 35
START_SECONDS = 60
CELERY = ("celery", "--quiet", "-A", "config")
PARTS = {
    "web": ("gunicorn", "--config", "python:config.web_server", "config.wsgi"),
    "worker": (
        *(*CELERY, "worker", "--concurrency", str(settings.WORKER_CHILDREN)),
        *("--without-gossip", "--without-mingle", "--without-heartbeat"),
    ),
    "beat": (*CELERY, "beat", "--pidfile="),
}
HANDLED = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


class Command(BaseCommand):
    help = "Prepare the installation, then run web server, worker and beat until INT or TERM."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument(
            "--no-prepare", action="store_true", help="neither migrate nor load anything"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        started_at = time.monotonic()
        refuse_taken_port(settings.LISTEN_HOST, settings.LISTEN_PORT)
        if not options["no_prepare"]:
            call_command("prepare", stdout=self.stdout)
        if settings.IN_PRODUCTION:
            call_command("collectstatic", interactive=False, verbosity=0)
        family = Family()
        previous = {number: signal.signal(number, family.ask_to_stop) for number in HANDLED}
        try:
            family.start()
            if family.wait_until_healthy():
                seconds = time.monotonic() - started_at
                self.stdout.write(f"{settings.SITE_NAME} runs at {settings.SITE_URL}")
                self.stdout.write(f"Started in {seconds:.1f} s. Ctrl-C stops it.")
                self.stdout.flush()
            ended = family.wait_until_one_ends()
        finally:
            family.stop()
            for number, handler in previous.items():
                signal.signal(number, handler)
        if ended:
            raise CommandError(f"The {ended} ended by itself, so everything was stopped.")


class Family:
    """Three process groups that live and end together."""

    def __init__(self) -> None:
        self.members: dict[str, subprocess.Popen[bytes]] = {}
        self.stopping = threading.Event()

    def ask_to_stop(self, number: int, frame: object) -> None:
        self.stopping.set()

    def start(self) -> None:
        for name, words in PARTS.items():
            self.members[name] = subprocess.Popen(
                [sys.executable, "-m", *words],
                cwd=settings.BASE_DIR,
                stdin=subprocess.DEVNULL,
                process_group=0,  # Ctrl-C reaches this command only, which asks each part once
            )

    def ended(self) -> str:
        for name, process in self.members.items():
            if process.poll() is not None:
                return name
        return ""

    def wait_until_healthy(self) -> bool:
        """True once the site answers; false if asked to stop or a part ended meanwhile."""
        deadline = time.monotonic() + START_SECONDS
        while not self.stopping.wait(0.2) and not self.ended():
            if answers():
                return True
            if time.monotonic() > deadline:
                raise CommandError(
                    f"The site did not answer within {START_SECONDS} s; the lines above say why."
                )
        return False

    def wait_until_one_ends(self) -> str:
        """The name of the part that ended by itself, "" if a signal came first."""
        while not self.stopping.wait(0.2):
            if name := self.ended():
                return name
        return ""

    def stop(self) -> None:
        """One TERM to each part (it tells its own children); KILL to the group when late."""
        for process in self.members.values():
            if process.poll() is None:
                process.terminate()
        deadline = time.monotonic() + STOP_SECONDS
        for process in self.members.values():
            try:
                process.wait(max(deadline - time.monotonic(), 0))
            except subprocess.TimeoutExpired:
                end_group(process)
                process.wait()
            else:
                end_group(process)  # children that outlived their parent


def end_group(process: subprocess.Popen[bytes]) -> None:
    try:
        os.killpg(process.pid, signal.SIGKILL)
    except ProcessLookupError:
        return


def refuse_taken_port(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        socket.create_server((host.strip("[]"), port), family=family).close()
    except OSError as error:
        raise CommandError(
            f"Cannot listen on {host}:{port} ({error.strerror}). Stop the program that uses it, "
            f"or choose another with LISTEN={host}:{port + 1}."
        ) from error


def answers() -> bool:
    """Asks /healthz on this machine under the site's own name."""
    request = urllib.request.Request(
        f"http://{settings.LISTEN_HOST}:{settings.LISTEN_PORT}/healthz",
        headers={"Host": urlsplit(settings.SITE_URL).netloc},
    )
    try:
        with urllib.request.urlopen(request, timeout=5) as answer:
            return bool(answer.status == 200)
    except urllib.error.HTTPError as error:
        # mail that waits for its server is told by /healthz and is no reason to end everything
        return b'"worker": "ok"' in error.read()
    except (urllib.error.URLError, OSError):
        return False
