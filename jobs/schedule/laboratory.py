"""When the laboratory takes samples, and whether a bottle filled at some time reaches it."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from typing import Self

from django.utils import timezone

from jobs.fieldwork.lifting import LABORATORY_HOURS
from jobs.models import Company, Job, LaboratoryDay
from jobs.models.company import company_day

from .working_days import holiday_on
from .working_time import moment_of

#: kinds of work on which a bottle is filled that must go to the laboratory
SAMPLING = (Job.Kind.SAMPLE,)
#: a bottle that is kept longer than this is no use, so no day farther is looked at
DAYS_LOOKED_AT = 2
#: a result usually takes so long; later is late (common practice, no source)
RESULT_WORKING_DAYS = 3
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass
class Laboratory:
    """Its weekdays and hours, the way there, and single days on which it takes none."""

    company: Company
    closed: dict[date, str] = field(default_factory=dict)

    @classmethod
    def load(cls, company: Company, first: date) -> Self:
        """One query."""
        rows = LaboratoryDay.objects.filter(day__gte=first).values_list("day", "name")
        return cls(company, dict(rows))

    def shut(self, day: date) -> str:
        """Why it takes no samples on that day, "" where it does. Holidays are federal."""
        if str(day.weekday()) not in self.company.laboratory_weekdays:
            return f"it takes none on a {WEEKDAYS[day.weekday()]}"
        return self.closed.get(day, "") or holiday_on(day, {})

    def reached(self, filled_at: datetime) -> datetime | None:
        """When it has a bottle that is filled then; None where that is too late."""
        there = filled_at + timedelta(minutes=self.company.laboratory_drive_min)
        for number in range(DAYS_LOOKED_AT):
            day = company_day(there) + timedelta(days=number)
            if self.shut(day):
                continue
            opens, shuts = (moment_of(day, at) for at in self._hours())
            if there <= shuts:
                found = max(there, opens)
                return found if found - filled_at <= timedelta(hours=LABORATORY_HOURS) else None
        return None

    def _hours(self) -> tuple[time, time]:
        return self.company.laboratory_from, self.company.laboratory_until

    def why_not(self, filled_at: datetime) -> str:
        """Why a bottle that is filled then reaches it too late, "" where it does not."""
        if self.reached(filled_at):
            return ""
        day = company_day(filled_at)
        until, way = self.company.laboratory_until, self.company.laboratory_drive_min
        why = self.shut(day) or f"it takes them until {until:%H:%M} and is {way} min away"
        after = day + timedelta(days=1)
        return (
            f"A sample of {day:%A %-d %B} reaches the laboratory too late: {why}, and on "
            f"{after:%A} {self._said_of(after)}. It keeps {LABORATORY_HOURS} hours."
        )

    def _said_of(self, day: date) -> str:
        why = self.shut(day)
        return f"it is closed ({why})" if why else "it opens too late"

    @property
    def said(self) -> str:
        """Its days and hours in a sentence."""
        days = [WEEKDAYS[int(number)] for number in sorted(self.company.laboratory_weekdays)]
        begins, ends = self._hours()
        ahead = "; ".join(f"not {day:%-d %B}: {name}" for day, name in sorted(self.closed.items()))
        said = (
            f"Our laboratory takes samples on {', '.join(days)}, {begins:%H:%M} to {ends:%H:%M}, "
            f"{self.company.laboratory_drive_min} min from the tap"
        )
        return f"{said}; {ahead}." if ahead else f"{said}."


def words_of_sending(filled_at: datetime) -> str:
    """What is said once a bottle is filled: when it is there, or that it will not be in time."""
    laboratory = Laboratory.load(Company.load(), company_day(filled_at))
    if why := laboratory.why_not(filled_at):
        return why
    there = timezone.localtime(laboratory.reached(filled_at))
    return f"The laboratory can have it {there:%A %-d %B, %H:%M}."
