"""What several pages of one request ask again: read once where the request keeps notes."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Any, TypeVar

from django.http import HttpRequest

Found = TypeVar("Found")


def noted(request: HttpRequest, about: Hashable, read: Callable[[], Found]) -> Found:
    notes: dict[Hashable, Any] | None = getattr(request, "notes", None)
    if notes is None:
        return read()
    if about not in notes:
        notes[about] = read()
    found: Found = notes[about]
    return found


def keep_notes(request: HttpRequest) -> dict[Hashable, Any]:
    """For a request that shows many pages; nothing is written while it does."""
    notes: dict[Hashable, Any] = {}
    request.notes = notes  # type: ignore[attr-defined]
    return notes
