from typing import Any

from django.core.management.base import BaseCommand, CommandError
from django.utils import timezone

from jobs.workflows.backup import BackupFailed, backup_database


class Command(BaseCommand):
    help = "Write a checked copy of the SQLite database into the backups folder."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            path = backup_database(now=timezone.now())
        except BackupFailed as error:
            raise CommandError(error.message) from error
        if path is None:
            raise CommandError("The database is PostgreSQL: back it up with pg_dump.")
        self.stdout.write(str(path))
