"""Put a copy of the database back, with its mail held."""

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.models import OutboxMail
from jobs.workflows import restore

from .serve import refuse_taken_port


class Command(BaseCommand):
    help = "Put a copy of the database back; no mail leaves until the owner releases it."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", nargs="?", type=Path, help="a copy made by `manage.py backup`")
        parser.add_argument(
            "--in-place", action="store_true", help="the database was put back already (PostgreSQL)"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        file, in_place = options["file"], options["in_place"]
        if (file is None) == (not in_place):
            raise CommandError("Name the copy, or say --in-place if it was put back already.")
        refuse_taken_port(settings.LISTEN_HOST, settings.LISTEN_PORT)
        try:
            kept = self._put_back(file)
        except restore.RestoreFailed as error:
            raise CommandError(error.message) from error
        call_command("rebuild_search", missing=True, stdout=self.stdout)
        waiting = OutboxMail.objects.filter(state=OutboxMail.State.QUEUED).count()
        if kept:
            self.stdout.write(f"The former database is kept as {kept}.")
        self.stdout.write(
            f"Restored. {waiting} messages wait: the owner decides on the page of messages what "
            "goes out. Everybody signs in anew."
        )

    def _put_back(self, file: Path | None) -> Path | None:
        def migrate() -> None:
            call_command("migrate", interactive=False, verbosity=0)

        if file:
            return restore.restore_database(file, migrate=migrate, now=timezone.now())
        restore.make_safe(migrate=migrate, now=timezone.now())
        return None
