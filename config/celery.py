"""The Celery application; it only says "wake up and scan", the database is the schedule."""

import os
from typing import Any

from celery import Celery
from celery.signals import beat_init, setup_logging

from .file_broker import register

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

register()
app = Celery("config")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks(["jobs"])


@setup_logging.connect
def keep_our_logging(**kwargs: object) -> None:
    """Someone listens, so Celery leaves the logging of the settings in place."""


@beat_init.connect
def tick_at_once(sender: Any, **kwargs: object) -> None:
    """A start need not wait a whole tick for its first sign of life."""
    tick = sender.scheduler.schedule["tick"]
    tick.last_run_at -= tick.schedule.run_every
