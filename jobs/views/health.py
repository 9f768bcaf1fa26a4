from __future__ import annotations

from django.db import DatabaseError
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

from jobs.access import open_to_all
from jobs.workflows import health


@open_to_all
@require_safe
def healthz(request: HttpRequest) -> HttpResponse:
    """200 while the work is done in time, else 503; figures about work, none about people."""
    try:
        found = health.health(now=timezone.now())
    except DatabaseError:
        full = health.free_room() < health.LEAST_ROOM
        return _answer({"status": "disk full" if full else "no database"}, 503)
    body: dict[str, object] = {
        "status": _status(found),
        "worker": "ok" if found.works else "silent",
        "last_pass_seconds": None if found.pass_age is None else round(found.pass_age),
        "oldest_due_seconds": round(found.oldest_due),
        "dead": found.dead,
        "unknown": found.unknown,
        "mail": _way_of_mail(found),
        "disk_free_mib": found.room // 2**20,
    }
    return _answer(body | {"restarts": dict(found.restarts)}, 200 if found.is_good else 503)


def _way_of_mail(found: health.Health) -> str:
    if found.mail_held:
        return f"held: {found.mail_held}"
    return "stopped" if found.mail_stopped else "open"


def _status(found: health.Health) -> str:
    if not found.has_room:
        return "disk full"
    if found.keeps_falling:
        return "falling"
    return "ok" if found.is_good else "late"


def _answer(body: dict[str, object], status: int) -> JsonResponse:
    return JsonResponse(body, status=status, headers={"Cache-Control": "no-store"})
