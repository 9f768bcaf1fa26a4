"""One waking of the worker: write what fell due, then send what is due."""

from __future__ import annotations

import logging
from collections.abc import Callable
from datetime import datetime, timedelta

from jobs.models import WorkerPass

from . import nights, outbox, password_asks, reminders

HOURLY = timedelta(hours=1)
logger = logging.getLogger(__name__)

Clock = Callable[[], datetime]
Asked = Callable[[], bool]


def never() -> bool:
    return False


def scan(*, clock: Clock, asked_to_end: Asked = never) -> int:
    """All parts, each for itself: a fault in one is told and does not stop the others.

    A part that ended well leaves its moment; health is read from there.
    """
    handled = 0
    for name, (part, pause) in PARTS.items():
        try:
            if pause and _is_resting(name, pause, clock()):
                continue
            items = part(clock, asked_to_end)
            WorkerPass.objects.update_or_create(
                name=name, defaults={"finished_at": clock(), "items": items}
            )
        except Exception as error:  # the next part sends mail that is due
            logger.error("the part %s of the scan failed: %s", name, type(error).__name__)
            continue
        handled += items
    return handled


def _is_resting(name: str, pause: timedelta, now: datetime) -> bool:
    """A last time in the future is a clock that was set back: it counts as none."""
    return WorkerPass.objects.filter(
        name=name, finished_at__gt=now - pause, finished_at__lte=now
    ).exists()


def _reminders(clock: Clock, asked_to_end: Asked) -> int:
    return reminders.write_due_reminders(clock())


def _asks(clock: Clock, asked_to_end: Asked) -> int:
    return password_asks.answer_asks(clock())


def _lists(clock: Clock, asked_to_end: Asked) -> int:
    parts = (
        reminders.write_daily_lists,
        reminders.write_weekly_lists,
        reminders.write_due_letters,
    )
    return sum(part(clock()) for part in parts)


def _outbox(clock: Clock, asked_to_end: Asked) -> int:
    return outbox.send_due(clock=clock, asked_to_end=asked_to_end)


def _night(clock: Clock, asked_to_end: Asked) -> int:
    return 0 if asked_to_end() else nights.run_due(clock=clock)


#: name of the pass, what it does, and how long it rests in between
PARTS: dict[str, tuple[Callable[[Clock, Asked], int], timedelta | None]] = {
    "reminders": (_reminders, None),
    "lists": (_lists, HOURLY),
    "asks": (_asks, None),
    "outbox": (_outbox, None),
    "night": (_night, None),
}
