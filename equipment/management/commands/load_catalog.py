"""Load fixtures/catalog.json. Running it again adds what is new and leaves what people edited."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.db import transaction
from django.db.models import Model

from equipment.models import FeedPump, Medium, OxidantProduct, Resin, RetentionTank, Vessel

TABLES: dict[str, type[Model]] = {
    "feed_pumps": FeedPump,
    "products": OxidantProduct,
    "vessels": Vessel,
    "media": Medium,
    "retention_tanks": RetentionTank,
    "resins": Resin,
}


class Command(BaseCommand):
    help = __doc__

    @transaction.atomic
    def handle(self, *args: Any, **options: Any) -> None:
        path = settings.BASE_DIR / "fixtures" / "catalog.json"
        tables = json.loads(path.read_text(encoding="utf-8"))
        added = 0
        for name, model in TABLES.items():
            for row in tables[name]:
                values = dict(row)
                entry, created = model._default_manager.get_or_create(
                    slug=values.pop("slug"), defaults=values
                )
                if created:
                    entry.full_clean()
                added += created
        self.stdout.write(f"catalog: {added} added")
