"""Hours of mail to customers, and dates and times as a letter prints them."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.conf import settings

from equipment.models import Site
from jobs.models import Company, Visit


def zone_of(site: Site | None) -> ZoneInfo:
    """The zone in which people at this site read a clock; empty means the company's."""
    name = site.time_zone if site is not None else ""
    return ZoneInfo(name or settings.TIME_ZONE)


def clock_of(visit: Visit) -> ZoneInfo:
    """The clock by which the customer is told the hours of a visit."""
    return ZoneInfo(visit.time_zone) if visit.time_zone else zone_of(visit.job.site)


def next_allowed(moment: datetime, *, zone: ZoneInfo, company: Company) -> datetime:
    """This moment, or the next one within the company's hours of mail in that zone."""
    local = moment.astimezone(zone)
    day = local.date()
    if local.hour >= company.mail_until_hour:
        day += timedelta(days=1)
    return max(moment, hour_of_day(day, company.mail_from_hour, zone=zone))


def hour_of_day(day: date, hour: int, *, zone: ZoneInfo) -> datetime:
    return datetime.combine(day, time(hour), tzinfo=zone).astimezone(UTC)


def day_words(
    moment: datetime | date, zone: ZoneInfo | None = None, *, today: datetime | None = None
) -> str:
    """Friday, October 23, as customers read a day; the year where it is not that of `today`."""
    local = moment.astimezone(zone) if isinstance(moment, datetime) else moment
    far = today is not None and today.astimezone(zone).year != local.year
    return f"{local:%A}, {local:%B} {local.day}{f', {local.year}' if far else ''}"


def date_words(day: date) -> str:
    """October 23, 2026, where the paper is kept for years."""
    return f"{day:%B} {day.day}, {day.year}"


def moment_words(moment: datetime, zone: ZoneInfo) -> str:
    """October 23, 2026, 2:02 pm"""
    return f"{date_words(moment.astimezone(zone).date())}, {clock_words(moment, zone)}"


def clock_words(moment: datetime, zone: ZoneInfo) -> str:
    """9:30 am"""
    local = moment.astimezone(zone)
    half = "am" if local.hour < 12 else "pm"
    return f"{local.hour % 12 or 12}:{local:%M} {half}"


def window_words(start: datetime, end: datetime, zone: ZoneInfo) -> str:
    """between 9:00 am and 10:00 am; or: at 9:00 am"""
    if start == end:
        return f"at {clock_words(start, zone)}"
    return f"between {clock_words(start, zone)} and {clock_words(end, zone)}"
