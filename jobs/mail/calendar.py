"""The calendar file of a visit: one UID for its whole life, a higher SEQUENCE for each change."""

from __future__ import annotations

from datetime import datetime
from email.mime.text import MIMEText
from typing import Literal

from icalendar import Calendar, Event, vCalAddress, vText

from jobs.models import Company, Visit
from jobs.schedule.hours import clock_of

Method = Literal["REQUEST", "CANCEL"]
PRODUCT = "-//Visits//EN"


def visit_calendar(
    visit: Visit,
    *,
    method: Method,
    company: Company,
    sender: str,
    attendee: str,
    purpose: str,
    written_at: datetime,
) -> Calendar:
    """RFC 5545 and 5546: times in the zone of the house, the window the customer was told."""
    zone = clock_of(visit)
    event = Event()
    event.add("uid", f"visit-{visit.uuid}")
    event.add("sequence", visit.sequence)
    event.add("dtstamp", written_at)
    event.add("dtstart", visit.arrive_from.astimezone(zone))
    end = visit.arrive_until if visit.arrive_until > visit.arrive_from else visit.ends_at
    event.add("dtend", end.astimezone(zone))
    event.add("summary", f"{company.name}: visit")
    event.add("description", f"We come {purpose}. Arrival within this time.")
    event.add("location", f"{visit.job.site.street}, {visit.job.site.town}")
    event.add("status", "CANCELLED" if method == "CANCEL" else _firm(visit))
    event.add("organizer", _person(sender, company.name))
    guest = _person(attendee)
    guest.params["RSVP"] = vText("FALSE")  # the answer is the link in the mail
    event.add("attendee", guest)
    calendar = Calendar()
    calendar.add("prodid", PRODUCT)
    calendar.add("version", "2.0")
    calendar.add("method", method)
    calendar.add_component(event)
    calendar.add_missing_timezones()
    return calendar


def _firm(visit: Visit) -> str:
    return "TENTATIVE" if visit.is_only_held else "CONFIRMED"


def calendar_part(calendar: Calendar) -> MIMEText:
    """The method of the content type is the METHOD of the file (RFC 6047)."""
    part = MIMEText(calendar.to_ical().decode(), "calendar", "utf-8")
    part.set_param("method", str(calendar["METHOD"]))
    part.add_header("Content-Disposition", "attachment", filename="visit.ics")
    return part


def _person(address: str, name: str = "") -> vCalAddress:
    person = vCalAddress(f"mailto:{address}")
    if name:
        person.params["CN"] = vText(name)
    return person
