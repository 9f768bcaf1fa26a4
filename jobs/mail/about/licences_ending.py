"""What ends: once a week to the owner and to whoever holds it, until it is renewed."""

from __future__ import annotations

from datetime import date, datetime, timedelta

from django.contrib.auth.models import User

from jobs.access import has_role
from jobs.mail import links
from jobs.mail.kind import Content, Kind
from jobs.mail.recipients import staff_with
from jobs.mail.writing import Letter, to_staff
from jobs.models import Company, OutboxMail, Skill
from jobs.models.company import company_day
from jobs.models.staff import SkillQuerySet
from jobs.models.visits import day_start
from jobs.schedule.hours import day_words, hour_of_day, zone_of
from jobs.schedule.needs import Needs, visits_lacking
from jobs.wording.licences import COMPANY_ITSELF, standing
from jobs.wording.names import person as name_of


def write(*, user: User, day: date, now: datetime) -> OutboxMail | None:
    """Once in the week of that day, before the working day."""
    begin = hour_of_day(day, Company.load().work_from_hour, zone=zone_of(None))
    year, week, weekday = day.isocalendar()
    letter = Letter(
        f"licences:{year}-{week:02}",
        KIND,
        {"day": day.isoformat()},
        not_before=max(now, begin),
        useful_until=day_start(day + timedelta(days=8 - weekday)),
    )
    return to_staff(letter, user=user, now=now)


def readers(*, on: date) -> list[User]:
    """The owners, and everybody of whom something ends, each once."""
    ending = list(_ending(on).select_related("person"))
    if not ending:
        return []
    people = {row.person.pk: row.person for row in ending if row.person}
    return list((people | {owner.pk: owner for owner in staff_with("owner")}).values())


def _ending(on: date) -> SkillQuerySet:
    return Skill.objects.to_renew(on, timedelta(days=Company.load().licence_lead_days))


def _of(user: User, on: date) -> list[Skill]:
    """All of it to the owner, to others their own; what ends first stands first."""
    rows = _ending(on) if has_role(user, "owner") else _ending(on).filter(person=user)
    return list(rows.select_related("person").order_by("expires_on", "name", "pk"))


def _objection(mail: OutboxMail, now: datetime) -> str:
    user = User.objects.get(pk=mail.context["user"])
    return "" if _of(user, company_day(now)) else "Nothing of it ends soon any more."


def _content(mail: OutboxMail, company: Company) -> Content:
    user = User.objects.get(pk=mail.context["user"])
    on, is_owner = date.fromisoformat(mail.context["day"]), has_role(user, "owner")
    rows = _of(user, on)
    return Content(
        {
            "user": user,
            "rows": [_row(row, on, company, is_owner=is_owner) for row in rows],
            "is_owner": is_owner,
            "days": company.licence_lead_days,
            "visits": len(visits_lacking(Needs.load(), mail.created_at)) if is_owner else 0,
            "url": links.page_url("licences" if is_owner else "account"),
        }
    )


def _row(row: Skill, on: date, company: Company, *, is_owner: bool) -> dict[str, object]:
    assert row.expires_on
    whose = (name_of(row.person) or COMPANY_ITSELF) if is_owner else ""
    stands = standing(row.expires_on, None, on=on, lead_days=company.licence_lead_days)
    return {
        "what": ", ".join(filter(None, (row.name, row.number, whose))),
        "said": stands.said,
        "day": f"{day_words(row.expires_on)}, {row.expires_on.year}",
    }


KIND = Kind(__name__, _content, _objection)
