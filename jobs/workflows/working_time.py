"""Hours of people, days of the company, and what work asks for."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime, time

from django.contrib.auth.models import User
from django.db import transaction

from jobs.errors import BadEntry, EditedMeanwhile
from jobs.models import Company, CompanyDay, StaffProfile, WorkHours, WorkNeed

from .log import log

Span = tuple[time, time] | None
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True)
class Week:
    """Hours of each weekday, None where not at work; lunch, None where it is the company's."""

    days: tuple[Span, ...]
    lunch: Span = None

    def said(self) -> dict[str, str]:
        shown = {name: _span_said(span) for name, span in zip(WEEKDAYS, self.days, strict=True)}
        return {**shown, "Lunch": _span_said(self.lunch)}

    @property
    def stamp(self) -> str:
        """What a page that shows it was opened at."""
        return hashlib.sha256(repr(self.said()).encode()).hexdigest()[:16]


def _span_said(span: Span) -> str:
    return f"{span[0]:%H:%M} to {span[1]:%H:%M}" if span else ""


def usual_week(company: Company) -> tuple[Span, ...]:
    """The company's hours; a day that ends at midnight ends a minute before."""
    until = time(company.work_until_hour) if company.work_until_hour < 24 else time(23, 59)
    return (*((time(company.work_from_hour), until),) * 5, None, None)


def week_of(person: User) -> Week:
    """As it is kept now, the company's hours where nothing else is."""
    days = list(usual_week(Company.load()))
    for row in WorkHours.objects.filter(person=person):
        begins, ends = row.works_from, row.works_until
        days[row.weekday] = (begins, ends) if begins and ends else None
    profile = StaffProfile.objects.filter(user=person).first()
    begins, ends = (profile.lunch_from, profile.lunch_until) if profile else (None, None)
    return Week(tuple(days), (begins, ends) if begins and ends else None)


@transaction.atomic
def keep_week(*, person: User, week: Week, seen: str, by: User, now: datetime) -> None:
    """Hours as typed. A day as the company has it keeps no row: it changes with the company."""
    row = User.objects.select_for_update(no_key=True).get(pk=person.pk)
    _refuse_if_changed(week, week_of(row), seen)
    for place, (name, span) in enumerate(zip(WEEKDAYS, week.days, strict=True)):
        if span and span[0] >= span[1]:
            raise BadEntry(
                f"{name}: the end must come after the beginning.", field=f"until_{place}"
            )
    if week.lunch and week.lunch[0] >= week.lunch[1]:
        raise BadEntry("Lunch must end after it begins.", field="lunch_until")
    for weekday, (span, usual) in enumerate(
        zip(week.days, usual_week(Company.load()), strict=True)
    ):
        _keep_day(row, weekday, span, is_usual=span == usual, by=by, now=now)
    _keep_lunch(row, week.lunch, by=by, now=now)
    log(verb="hours_kept", subject=row, by=by, now=now)


def _refuse_if_changed(ours: Week, kept: Week, seen: str) -> None:
    if kept.stamp == seen:
        return
    theirs = kept.said()
    raise EditedMeanwhile(
        "Somebody else saved this meanwhile. Look at both, then save again.",
        differences=[
            (name, typed, theirs[name])
            for name, typed in ours.said().items()
            if typed != theirs[name]
        ],
    )


def _keep_day(
    person: User, weekday: int, span: Span, *, is_usual: bool, by: User, now: datetime
) -> None:
    row = WorkHours.objects.filter(person=person, weekday=weekday).first()
    begins, ends = span or (None, None)
    if is_usual:
        if row:
            _by(row, by, now)
            row.delete()
        return
    row = row or WorkHours(person=person, weekday=weekday)
    if row.pk is None or (row.works_from, row.works_until) != (begins, ends):
        row.works_from, row.works_until = begins, ends
        _by(row, by, now)
        row.save()


def _keep_lunch(person: User, lunch: Span, *, by: User, now: datetime) -> None:
    profile, _ = StaffProfile.objects.get_or_create(user=person)
    begins, ends = lunch or (None, None)
    if (profile.lunch_from, profile.lunch_until) != (begins, ends):
        profile.lunch_from, profile.lunch_until = begins, ends
        _by(profile, by, now)
        profile.save()


def _by(row: WorkHours | StaffProfile | CompanyDay | WorkNeed, by: User, now: datetime) -> None:
    """Who and when, in the history of the row."""
    row._history_user, row._history_date = by, now  # type: ignore[union-attr]


@transaction.atomic
def keep_day(*, day: date, name: str, is_worked: bool, by: User, now: datetime) -> CompanyDay:
    """Closed on a day besides the holidays, or at work on one; said again, it is changed."""
    if not name.strip():
        raise BadEntry("Say what day it is.", field="name")
    row = CompanyDay.objects.select_for_update().filter(day=day).first() or CompanyDay(day=day)
    row.name, row.is_worked = name.strip()[:80], is_worked
    _by(row, by, now)
    row.save()
    log(verb="company_day_kept", subject=row, by=by, now=now)
    return row


@transaction.atomic
def drop_day(*, row: CompanyDay, by: User, now: datetime) -> None:
    """The calendar holds again; the history stays."""
    log(verb="company_day_dropped", subject=row, by=by, now=now)
    _by(row, by, now)
    row.delete()


@transaction.atomic
def keep_needs(*, wanted: Mapping[str, tuple[str, int]], by: User, now: datetime) -> None:
    """By kind of work: the licence, "" for none, and how many come. What is booked stays."""
    rows = {row.kind: row for row in WorkNeed.objects.select_for_update()}
    for kind, (licence, people) in wanted.items():
        row = rows.get(kind) or WorkNeed(kind=kind)
        if (row.licence, row.people) != (licence.strip(), people):
            row.licence, row.people = licence.strip()[:80], people
            _by(row, by, now)
            row.save()
            log(verb="work_need_kept", subject=row, by=by, now=now)
