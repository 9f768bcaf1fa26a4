"""What beat wakes. Each task calls one workflow; arguments and results carry nothing."""

from __future__ import annotations

from celery import shared_task
from django.utils import timezone

from jobs.workflows import backup
from jobs.workflows.tick import scan


@shared_task(name="jobs.tasks.tick")
def tick() -> None:
    scan(clock=timezone.now)


@shared_task(name="jobs.tasks.backup_database")
def backup_database() -> None:
    backup.backup_database(now=timezone.now())
