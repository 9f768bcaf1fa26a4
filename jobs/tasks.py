"""What wakes the worker. The task calls one workflow; arguments and results carry nothing."""

from __future__ import annotations

from multiprocessing import RawValue

from celery import shared_task
from celery.signals import worker_shutting_down
from django.utils import timezone

from jobs.workflows.tick import scan

#: shared with the children that were forked: the parent alone hears of the end
_ending = RawValue("b", 0)


@worker_shutting_down.connect
def ask_to_end(**kwargs: object) -> None:
    """The message that is being sent is finished, the next one is left to the next worker."""
    _ending.value = 1


@shared_task(name="jobs.tasks.tick")
def tick() -> None:
    scan(clock=timezone.now, asked_to_end=lambda: bool(_ending.value))
