from __future__ import annotations

from datetime import datetime

from django.contrib.auth.models import User
from django.db import models

from equipment.models import Site
from jobs.models import LogEntry
from jobs.models.history import take_entry


def log(
    *,
    verb: str,
    subject: models.Model,
    by: User | None,
    now: datetime,
    site: Site | None = None,
    reason: str = "",
    **data: object,
) -> LogEntry:
    """One line of the second history: ids and a reason, no personal values."""
    return LogEntry.objects.create(
        at=now,
        by=by,
        verb=verb,
        subject_type=subject._meta.label_lower,
        subject_id=subject.pk,
        site_id_logged=site.pk if site else None,
        reason=reason,
        data=data,
        entry_id_logged=take_entry(subject),
    )
