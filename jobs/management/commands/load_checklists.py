"""Load the questions of surveys, disinfections, start-ups and rechecks."""

import json
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser

from jobs.workflows.checklist_templates import load_templates


class Command(BaseCommand):
    help = "Add checklist templates of newer versions; running it again changes nothing."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--file", default=str(settings.BASE_DIR / "fixtures/checklists.json"))

    def handle(self, *args: Any, **options: Any) -> None:
        data = json.loads(Path(options["file"]).read_text(encoding="utf-8"))
        added = load_templates(data=data)
        self.stdout.write(f"{len(added)} checklist templates added.")
