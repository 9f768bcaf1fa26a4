"""Whether the work is being done, judged by work that was done."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.conf import settings

from jobs.models import ChannelStop, OutboxMail, WorkerPass

#: the parts of a scan that run at every tick
WATCHED = ("reminders", "outbox")
LONGEST_SILENCE = timedelta(minutes=3)
LONGEST_WAIT = timedelta(minutes=15)


@dataclass(frozen=True)
class Health:
    """Numbers only: nothing here is about a person."""

    pass_age: float | None  # seconds since the older of the watched parts ended, None: never
    oldest_due: float  # seconds that the oldest due row has waited
    dead: int
    unknown: int
    mail_stopped: bool

    @property
    def works(self) -> bool:
        silence = max(LONGEST_SILENCE.total_seconds(), 3 * settings.TICK_SECONDS)
        return self.pass_age is not None and self.pass_age <= silence

    @property
    def is_good(self) -> bool:
        return self.works and self.oldest_due <= LONGEST_WAIT.total_seconds()


def health(*, now: datetime) -> Health:
    ended = WorkerPass.objects.filter(name__in=WATCHED).values_list("finished_at", flat=True)
    ages = [(now - at).total_seconds() for at in ended]
    oldest = OutboxMail.objects.due(now).values_list("not_before", flat=True).first()
    doubtful = OutboxMail.objects.needs_someone()
    return Health(
        pass_age=max(ages) if len(ages) == len(WATCHED) else None,
        oldest_due=(now - oldest).total_seconds() if oldest else 0,
        dead=doubtful.filter(state=OutboxMail.State.DEAD).count(),
        unknown=doubtful.filter(state=OutboxMail.State.UNKNOWN).count(),
        mail_stopped=ChannelStop.objects.exists(),
    )
