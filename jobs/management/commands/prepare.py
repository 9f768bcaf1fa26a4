"""Brings an installation up to date; running it again changes nothing."""

import shutil
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand
from django.db import connections

from jobs.phone import runtime

#: what the company's rules and records stand on, in this order
LOADERS = ("load_catalog", "load_rules", "load_checklists")
#: a demo built anew forgets these parts of its data folder
DEMO_PARTS = ("mail", "documents", "media", "run", "backups")


class Command(BaseCommand):
    help = "Migrate the database and load catalog, rules and checklists (and the demo's data)."

    def handle(self, *args: Any, **options: Any) -> None:
        if settings.IN_DEMO and settings.DEMO_FRESH:
            forget_demo()
        call_command("migrate", interactive=False, verbosity=0)
        for name in LOADERS:
            call_command(name, stdout=self.stdout)
        call_command("rebuild_search", missing=True, stdout=self.stdout)
        if runtime.is_whole():
            call_command("build_phone")
        if settings.IN_DEMO:
            call_command("load_demo", stdout=self.stdout)


def forget_demo() -> None:
    """Only ever the demo's own folder: the caller has asked for DEPLOYMENT=demo."""
    connections.close_all()
    for file in settings.DATA_DIR.glob("data.sqlite3*"):
        file.unlink()
    for part in DEMO_PARTS:
        empty(settings.DATA_DIR / part)


def empty(folder: Path) -> None:
    for path in folder.iterdir():
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink()
