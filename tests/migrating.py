"""An older state of the tables, and back: what happens to rows that are there."""

from collections.abc import Iterator
from contextlib import contextmanager

from django.core.management import call_command


@contextmanager
def migrated(app: str, name: str) -> Iterator[None]:
    """The tables as they stood after that migration; afterwards as they stand today."""
    call_command("migrate", app, name, verbosity=0)
    try:
        yield
    finally:
        call_command("migrate", verbosity=0)
