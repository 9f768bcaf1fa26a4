"""Makes the words of the search anew, after rows were written past the program."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from jobs.models import SearchWord
from jobs.search.index import rebuild


class Command(BaseCommand):
    help = __doc__

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument(
            "--missing", action="store_true", help="only where there are no words at all"
        )

    def handle(self, *args: Any, **options: Any) -> None:
        if options["missing"] and SearchWord.objects.exists():
            return
        self.stdout.write(f"search: {rebuild()} words")
