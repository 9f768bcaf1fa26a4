"""What beat wakes, and how often. Due dates live in the database, never here."""

from datetime import timedelta

from celery.schedules import crontab

#: 08:20 UTC is night or early morning everywhere in North America
BACKUP_HOUR, BACKUP_MINUTE = 8, 20


def beat_schedule(tick_seconds: int) -> dict[str, dict[str, object]]:
    return {
        # looks for due mail and due follow-ups; a lost tick costs one tick of delay
        "tick": {
            "task": "jobs.tasks.tick",
            "schedule": timedelta(seconds=tick_seconds),
            # an old tick is worth nothing: the next one sees the same rows
            "options": {"expires": max(tick_seconds - 0.1 * tick_seconds, 1)},
        },
        # a checked copy of the database file (SQLite only; PostgreSQL is dumped by its own tools)
        "backup": {
            "task": "jobs.tasks.backup_database",
            "schedule": crontab(hour=str(BACKUP_HOUR), minute=str(BACKUP_MINUTE)),
            "options": {"expires": 6 * 3600},
        },
    }
