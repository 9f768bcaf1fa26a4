"""The Celery application; it only says "wake up and scan", the database is the schedule.

Without a broker on the network the messages stay in the memory of the one worker, and the worker's
own timer writes them: no file, no second process, nothing that can be damaged.
"""

import os
from datetime import timedelta
from typing import Any

from celery import Celery, bootsteps
from celery.signals import (
    beat_init,
    setup_logging,
    task_postrun,
    task_prerun,
    worker_init,
)
from django.conf import settings

from . import leash
from .schedule import beat_schedule, expires_after

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "config.settings")

app = Celery("config")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.conf.beat_schedule = beat_schedule(settings.TICK_SECONDS)
app.autodiscover_tasks(["jobs"])
tied = leash.from_environment()


class OwnTick(bootsteps.StartStopStep):
    """The worker wakes itself, at its start and then every TICK_SECONDS."""

    requires = ("celery.worker.components:Timer",)

    def include_if(self, worker: Any) -> bool:
        return bool(settings.OWN_BROKER)

    def start(self, worker: Any) -> None:
        wake(worker.app)
        self.entry = worker.timer.call_repeatedly(settings.TICK_SECONDS, wake, (worker.app,))

    def stop(self, worker: Any) -> None:
        self.entry.cancel()


def wake(application: Celery) -> None:
    application.send_task("jobs.tasks.tick", expires=expires_after(settings.TICK_SECONDS))


app.steps["worker"].add(OwnTick)


@setup_logging.connect
def keep_our_logging(**kwargs: object) -> None:
    """Someone listens, so Celery leaves the logging of the settings in place."""


@beat_init.connect
def tick_at_once(sender: Any, **kwargs: object) -> None:
    """A start need not wait a whole tick for its first sign of life."""
    tick = sender.scheduler.schedule["tick"]
    tick.last_run_at = tick.default_now() - tick.schedule.run_every - timedelta(seconds=1)


@worker_init.connect
@beat_init.connect
def end_with_the_family(**kwargs: object) -> None:
    if tied:
        tied.end_with_the_other()


@task_prerun.connect
@task_postrun.connect
def say_that_work_goes_on(**kwargs: object) -> None:
    if tied:
        tied.beat()
