"""What a technician's phone works figures out with, and the pages that may start it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Any

from django.conf import settings
from django.contrib.auth.models import User
from django.http import HttpResponse

from jobs.access import has_role
from jobs.http import StaffRequest
from jobs.models import ChecklistRecord
from jobs.phone import runtime
from jobs.phone.building import FIELD_ZIP, STANDARD_ZIP, TEMPLATES_ZIP, packed_in

#: all other pages keep the stricter rule
MAY_START = {"script-src": ["'self'", "'wasm-unsafe-eval'"], "worker-src": ["'self'"]}


@dataclass(frozen=True)
class Served:
    """Addresses of what a phone fetches once."""

    runtime: str
    standard: str
    field: str
    templates: str


def served() -> Served | None:
    """None where the runtime could not be had, or nothing was packed yet."""
    packed = packed_in(settings.PHONE_DIR)
    if not packed or not runtime.is_whole():
        return None
    from_npm = f"{settings.STATIC_URL}runtime/{runtime.VERSION}/"
    ours = {name: f"{settings.STATIC_URL}phone/{called}" for name, called in packed.items()}
    return Served(
        runtime=from_npm,
        standard=ours.get(STANDARD_ZIP, f"{from_npm}{runtime.STANDARD}"),
        field=ours[FIELD_ZIP],
        templates=ours[TEMPLATES_ZIP],
    )


def served_for(user: User, record: ChecklistRecord) -> Served | None:
    """For who fills the record; a closed one does not change."""
    if record.is_closed or not has_role(user, "technician"):
        return None
    return served()


def starts_python(view: Callable[..., HttpResponse]) -> Callable[..., HttpResponse]:
    """A technician's page from which the browser's Python may be started."""

    @wraps(view)
    def answered(request: StaffRequest, *args: Any, **kwargs: Any) -> HttpResponse:
        response = view(request, *args, **kwargs)
        if has_role(request.user, "technician") and served():
            response._csp_update = MAY_START  # type: ignore[attr-defined]
        return response

    return answered
