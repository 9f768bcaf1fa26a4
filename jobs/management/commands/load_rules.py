"""Load fixtures/rules.json: new rules, and newer words and figures of what nobody edited."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand

from jobs.models import FollowUpRule
from jobs.workflows.shipped_rules import bring_up


class Command(BaseCommand):
    help = __doc__

    def handle(self, *args: Any, **options: Any) -> None:
        path = settings.BASE_DIR / "fixtures" / "rules.json"
        rows = json.loads(path.read_text(encoding="utf-8"))
        done = bring_up(FollowUpRule(**row) for row in rows)
        self.stdout.write(f"rules: {done.added} added{_besides(done.renewed, done.kept)}")


def _besides(renewed: int, kept: int) -> str:
    """Said only where there is something to say."""
    newer = f", {renewed} brought up to date" if renewed else ""
    return newer + (f", {kept} left as the company has them" if kept else "")
