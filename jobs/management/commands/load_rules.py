"""Load fixtures/rules.json. Running it again adds what is new and leaves what people edited."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import transaction

from jobs.models import FollowUpRule
from jobs.workflows.rules import check_rule


class Command(BaseCommand):
    help = __doc__

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        path = settings.BASE_DIR / "fixtures" / "rules.json"
        added = 0
        for row in json.loads(path.read_text(encoding="utf-8")):
            rule = FollowUpRule(**row)
            check_rule(rule)
            if not FollowUpRule.objects.filter(code=rule.code).exists():
                rule.full_clean()
                rule.save()
                added += 1
        self.stdout.write(f"rules: {added} added")
