"""What beat wakes, and how often. Due dates live in the database, never here."""

from __future__ import annotations

from datetime import datetime, timedelta

from celery.schedules import schedule


class Interval(schedule):
    """Every so many seconds. A last run in the future is a clock that was set back: due now."""

    def is_due(self, last_run_at: datetime) -> tuple[bool, float]:
        if self.maybe_make_aware(last_run_at) > self.now():
            return True, self.seconds
        due, seconds = super().is_due(last_run_at)
        return due, seconds


def expires_after(tick_seconds: int) -> float:
    """An old tick is worth nothing: the next one sees the same rows."""
    return max(tick_seconds - 0.1 * tick_seconds, 1)


def beat_schedule(tick_seconds: int) -> dict[str, dict[str, object]]:
    return {
        # looks for due mail, due follow-ups and the work of the night; a lost one costs one tick
        "tick": {
            "task": "jobs.tasks.tick",
            "schedule": Interval(timedelta(seconds=tick_seconds)),
            "options": {"expires": expires_after(tick_seconds)},
        },
    }
