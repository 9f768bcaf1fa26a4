"""One command for all processes of a machine; the same run as services in production."""

import os
import socket
import sys
import time
from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.db import connections

#: starts the processes and keeps them; knows no Django, and so takes a third of the memory
FAMILY = "config.family"


class Command(BaseCommand):
    help = "Prepare the installation, then run web server and worker until INT or TERM."

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
        become_the_family(started_at)


def become_the_family(started_at: float) -> None:
    """The same process goes on as another program: what preparing took is given back."""
    connections.close_all()
    sys.stdout.flush()
    os.chdir(settings.BASE_DIR)
    os.execv(sys.executable, [sys.executable, "-m", FAMILY, str(started_at)])


def refuse_taken_port(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    try:
        socket.create_server((host.strip("[]"), port), family=family).close()
    except OSError as error:
        raise CommandError(
            f"Cannot listen on {host}:{port} ({error.strerror}). Stop the program that uses it, "
            f"or choose another with LISTEN={host}:{port + 1}."
        ) from error
