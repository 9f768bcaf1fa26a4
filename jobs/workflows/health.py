"""Whether the work is being done, judged by work that was done."""

from __future__ import annotations

import shutil
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.conf import settings

from jobs.models import ChannelStop, MailHold, OutboxMail, WorkerPass

from . import restarts

#: the parts of a scan that run at every tick
WATCHED = ("reminders", "outbox")
LONGEST_SILENCE = timedelta(minutes=3)
LONGEST_WAIT = timedelta(minutes=15)
#: clocks of two machines differ by so much; a pass that ended later than that from now is no pass
SKEW = timedelta(seconds=10)
#: a part that was started again more often within an hour does not recover by that
MOST_RESTARTS = 5
#: what must be free beside the data; a full disk may go unseen for long while old pages are reused
LEAST_ROOM = 32 * 2**20


@dataclass(frozen=True)
class Health:
    """Numbers only: nothing here is about a person."""

    pass_age: float | None  # seconds since the worst of the watched parts ended, None: never
    oldest_due: float  # seconds that the oldest due row has waited
    dead: int
    unknown: int
    mail_stopped: bool
    mail_held: str = ""  # why mail waits for a person, "" if it does not
    restarts: Mapping[str, int] = field(default_factory=Counter)  # of processes, within the hour
    room: int = LEAST_ROOM  # bytes free beside the data

    @property
    def works(self) -> bool:
        """Neither long ago nor in the future, which only a clock that was set can show."""
        silence = max(LONGEST_SILENCE.total_seconds(), 3 * settings.TICK_SECONDS)
        return self.pass_age is not None and -SKEW.total_seconds() <= self.pass_age <= silence

    @property
    def keeps_falling(self) -> bool:
        return any(times > MOST_RESTARTS for times in self.restarts.values())

    @property
    def has_room(self) -> bool:
        return self.room >= LEAST_ROOM

    @property
    def is_good(self) -> bool:
        in_time = self.oldest_due <= LONGEST_WAIT.total_seconds()
        held = self.keeps_falling or self.mail_held
        return self.works and in_time and not held and self.has_room


def health(*, now: datetime) -> Health:
    ended = WorkerPass.objects.filter(name__in=WATCHED).values_list("finished_at", flat=True)
    ages = [(now - at).total_seconds() for at in ended]
    oldest = OutboxMail.objects.due(now).values_list("not_before", flat=True).first()
    doubtful = OutboxMail.objects.needs_someone()
    return Health(
        pass_age=_worst(ages) if len(ages) == len(WATCHED) else None,
        oldest_due=(now - oldest).total_seconds() if oldest else 0,
        dead=doubtful.filter(state=OutboxMail.State.DEAD).count(),
        unknown=doubtful.filter(state=OutboxMail.State.UNKNOWN).count(),
        mail_stopped=ChannelStop.objects.exists(),
        mail_held=", ".join(MailHold.objects.holding().values_list("kind", flat=True)),
        restarts=restarts.recent(settings.RESTARTS_FILE, now=now),
        room=free_room(),
    )


def free_room() -> int:
    """Bytes free beside the data; asked without the database, which may be what has no room."""
    return shutil.disk_usage(settings.DATA_DIR).free


def _worst(ages: list[float]) -> float:
    return min(ages) if min(ages) < -SKEW.total_seconds() else max(ages)
