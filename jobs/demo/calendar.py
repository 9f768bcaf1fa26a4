"""Days and hours of the demo: offsets from today, company hours, and who is free when."""

from __future__ import annotations

from datetime import date, datetime, time, timedelta

from django.contrib.auth.models import User
from django.utils import timezone

from jobs.models.company import company_day
from jobs.schedule.working_days import OwnDays, is_working_day

#: where the story puts its work does not hang on what its company decided
NO_DAYS_OF_ITS_OWN: OwnDays = {}
FIRST_HOUR, LAST_HOUR, STEP = 7.5, 17.0, 0.5
#: of an act that says none
USUAL_HOUR = 8.0


class Calendar:
    """Offset 0 is today. Days of work are moved to working days: past ones back, others on."""

    def __init__(self, now: datetime) -> None:
        self.now = now
        self.today = company_day(now)
        self.busy: dict[int, list[tuple[datetime, datetime]]] = {}

    def day(self, offset: int) -> date:
        return self.today + timedelta(days=offset)

    def working_day(self, offset: int) -> date:
        """That day, or the nearest working day farther from today; today is today."""
        day, step = self.day(offset), timedelta(days=-1 if offset < 0 else 1)
        while offset and not is_working_day(day, NO_DAYS_OF_ITS_OWN):
            day += step
        return day

    def at(self, day: date, hour: float) -> datetime:
        whole, part = divmod(round(hour * 60), 60)
        return datetime.combine(day, time(whole, part), tzinfo=timezone.get_current_timezone())

    def hour_now(self) -> float:
        local = self.now.astimezone(timezone.get_current_timezone())
        return local.hour + local.minute / 60

    def moment(self, offset: int, hour: float) -> datetime:
        """For office work: never later than now."""
        return min(self.now, self.at(self.day(offset), hour))

    def place(self, people: list[User], offset: int, hour: float, minutes: int) -> datetime:
        """A start at which all are free: the wanted hour, else another of that day or a next.

        Today only a later one: what lies ahead is not moved to where it would have begun.
        """
        length, beyond = timedelta(minutes=minutes), 0
        while True:
            day = self.working_day(offset + beyond)
            others = (each for each in self._hours() if each > hour or day != self.today)
            for wanted in (hour, *others):
                start = self.at(day, wanted)
                ends = start + length
                if ends <= self.at(day, LAST_HOUR + 1) and self.is_free(people, start, ends):
                    self.hold(people, start, ends)
                    return start
            beyond += -1 if offset < 0 else 1

    def hold(self, people: list[User], start: datetime, end: datetime) -> None:
        for person in people:
            self.busy.setdefault(person.pk, []).append((start, end))

    def is_free(self, people: list[User], start: datetime, end: datetime) -> bool:
        return not any(
            start < until and begin < end
            for person in people
            for begin, until in self.busy.get(person.pk, [])
        )

    @staticmethod
    def _hours() -> list[float]:
        return [FIRST_HOUR + STEP * n for n in range(round((LAST_HOUR - FIRST_HOUR) / STEP))]
