"""Late promises: every day to the office, and to the owner once they have grown old."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.contrib.auth.models import User

from jobs.access import has_role
from jobs.mail import links
from jobs.mail.kind import Content, Kind
from jobs.mail.recipients import office, staff_with
from jobs.mail.writing import Letter, to_staff
from jobs.models import Company, FollowUp, OutboxMail
from jobs.models.follow_ups import FollowUpQuerySet, past_window
from jobs.models.visits import day_start
from jobs.schedule.hours import day_words, hour_of_day, zone_of

ROWS_SHOWN = 50


def write(*, user: User, day: date, now: datetime) -> OutboxMail | None:
    """For a dispatcher or the owner, before the working day."""
    begin = hour_of_day(day, Company.load().work_from_hour, zone=zone_of(None))
    letter = Letter(
        f"overdue:{day.isoformat()}",
        KIND,
        {"day": day.isoformat()},
        not_before=max(now, begin),
        useful_until=day_start(day + timedelta(days=1)),
    )
    return to_staff(letter, user=user, now=now)


def readers() -> list[User]:
    """Everybody who may get a list, each once."""
    people = {user.pk: user for user in [*office(), *staff_with("owner")]}
    return list(people.values())


def has_late_promises(user: User, *, on: date) -> bool:
    if _reads_daily_list(user):
        return _late_promises(on=on).exists() or _due_not_booked(on=on).exists()
    late = FollowUp.objects.overdue_on(on)
    return has_role(user, "owner") and _grown_old(late, on=on).exists()


def _reads_daily_list(user: User) -> bool:
    """Dispatchers read the whole list; the owner too where nobody else minds the office."""
    return user in office()


def _late_promises(*, on: date) -> FollowUpQuerySet:
    """Late and to be worked on, booked ones too: those the worklist shows as past their window."""
    return FollowUp.objects.to_do_on(on).overdue_on(on)


def _late_and_put_off(*, on: date) -> FollowUpQuerySet:
    """Late, and put off beyond the day: the worklist counts and shows them apart."""
    return FollowUp.objects.put_off_on(on).overdue_on(on)


def _grown_old(promises: FollowUpQuerySet, *, on: date) -> FollowUpQuerySet:
    """Those made as long ago as the owner wants to be told of."""
    days = Company.load().owner_told_after_days
    return promises.filter(made_at__lt=day_start(on - timedelta(days=days - 1)))


def _due_not_booked(*, on: date) -> FollowUpQuerySet:
    """Their day has passed, their window has not, and no visit is booked."""
    return FollowUp.objects.due_by(on).filter(due_on__lt=on).exclude(past_window(on))


def _objection(mail: OutboxMail, now: datetime) -> str:
    user = User.objects.get(pk=mail.context["user"])
    day = date.fromisoformat(mail.context["day"])
    return "" if has_late_promises(user, on=day) else "Nothing is late any more."


def _content(mail: OutboxMail, company: Company) -> Content:
    user = User.objects.get(pk=mail.context["user"])
    on = date.fromisoformat(mail.context["day"])
    whole = _reads_daily_list(user)
    late, put_off = _late_promises(on=on), _late_and_put_off(on=on)
    if not whole:
        late, put_off = _grown_old(late, on=on), _grown_old(put_off, on=on)
    due = _due_not_booked(on=on) if whole else FollowUp.objects.none()
    return Content(
        {
            "user": user,
            "day": day_words(on),
            "whole": whole,
            "days": company.owner_told_after_days,
            "late": _rows(late, on),
            "late_count": late.count(),
            "put_off": _rows(put_off, on),
            "put_off_count": put_off.count(),
            "due": _rows(due, on),
            "due_count": due.count(),
            "worklist_url": links.page_url("worklist"),
        }
    )


def _rows(promises: FollowUpQuerySet, on: date) -> list[dict[str, object]]:
    return [
        {
            "what": row.terms.name,
            "where": str(row.site),
            "due": day_words(row.first_due_on),
            "days_late": row.days_late(on),
            "booked": "booked" if row.status == FollowUp.Status.BOOKED else "not booked",
            "put_off_until": day_words(row.snoozed_until) if row.snoozed_until else "",
            "url": links.page_url("follow-up-detail", pk=row.pk),
        }
        for row in promises.with_site()[:ROWS_SHOWN]
    ]


KIND = Kind(__name__, _content, _objection)
