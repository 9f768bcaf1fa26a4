"""Whose clock hours on a page are: the office's, and what the house's shows at that time."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import timezone

from equipment.models import Site
from jobs.models import Visit
from jobs.schedule.free_times import at_hour
from jobs.schedule.hours import clock_of, day_words, window_words, zone_of


def clock_of_form(site: Site | None, day: date) -> str:
    """All hours of a form are the office's; a house in another zone reads others."""
    noon, zone = at_hour(day, 12), zone_of(site)
    here = timezone.localtime(noon)
    said = f"All hours here are by the office's clock ({here:%Z})."
    ahead = _ahead(noon, zone)
    if not ahead:
        return said
    there = noon.astimezone(zone)
    return (
        f"{said} The clock of this house is {_hours(ahead)} ({there:%Z}): at {here:%H:%M} here it "
        f"is {there:%H:%M} there, and the customer is told the hours there."
    )


def told_there(visit: Visit) -> str:
    """The hours told as the customer reads them, where their clock is not the office's."""
    zone = clock_of(visit)
    if not _ahead(visit.arrive_from, zone):
        return ""
    return f"{window_words(visit.arrive_from, visit.arrive_until, zone)} by the clock of the house"


def clock_changed(visit: Visit) -> str:
    """What to look at when the house got another time zone after its customer was told."""
    told, now = clock_of(visit), zone_of(visit.job.site)
    if (
        visit.arrive_from.astimezone(told).utcoffset()
        == visit.arrive_from.astimezone(now).utcoffset()
    ):
        return ""
    was = window_words(visit.arrive_from, visit.arrive_until, told)
    is_now = window_words(visit.arrive_from, visit.arrive_until, now)
    return (
        f"The time zone of the house was changed after the visit was booked. The customer is told "
        f"{day_words(visit.arrive_from, told)}, {was}; by the clock of the house we come {is_now}. "
        f"Move the visit, or keep it and telephone."
    )


def visits_by_another_clock(site: Site, now: datetime) -> str:
    """Visits to come whose hours were told before the house got this time zone."""
    ahead = Visit.objects.to_come().filter(job__site=site, starts_at__gt=now).with_job()
    days = [f"{day_words(v.arrive_from, clock_of(v))}" for v in ahead if clock_changed(v)]
    if not days:
        return ""
    return (
        f"The hours told stay as they were told. Look at the visit of {', '.join(days)}: the "
        "customer reads another clock than it was booked by."
    )


def _ahead(at: datetime, zone: ZoneInfo) -> timedelta:
    there, here = at.astimezone(zone).utcoffset(), timezone.localtime(at).utcoffset()
    return (there or timedelta(0)) - (here or timedelta(0))


def _hours(ahead: timedelta) -> str:
    hours = abs(ahead) / timedelta(hours=1)
    return (
        f"{hours:g} hour{'' if hours == 1 else 's'} {'ahead' if ahead > timedelta(0) else 'behind'}"
    )
