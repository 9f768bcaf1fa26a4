"""Packs what a technician's phone computes and renders with."""

from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand
from django.urls import get_resolver

from jobs.phone import building, runtime
from jobs.phone.compiling import compiled

SLOWER = "Phones are sent sources, and take three times as long to work out their first figure"


class Command(BaseCommand):
    help = "Pack the code and the partials that run on a phone; nothing happens where they stand."

    def handle(self, *args: Any, **options: Any) -> None:
        try:
            building.build(settings.PHONE_DIR, address_of, compiled)
        except runtime.NotHad as error:
            self.stderr.write(f"{SLOWER} ({error}).")
            building.build(settings.PHONE_DIR, address_of)


def address_of(name: str) -> tuple[str, list[str]]:
    """Pattern of a page's address and the names in it: "/records/%(pk)s/", ["pk"]."""
    [(pattern, names), *_] = get_resolver().reverse_dict.getlist(name)[0][0]
    return f"/{pattern}", list(names)
