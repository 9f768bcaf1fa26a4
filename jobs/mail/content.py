"""What each message says, read from the database at the moment it is written."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date

from django.conf import settings
from django.contrib.auth.models import User
from icalendar import Calendar

from jobs.fieldwork.cautions import DEFERS
from jobs.models import (
    ChecklistRecord,
    ChecklistTemplate,
    Company,
    DoNotUse,
    FollowUp,
    FollowUpRule,
    OutboxMail,
    Visit,
)
from jobs.models.follow_ups import FollowUpQuerySet
from jobs.schedule.hours import day_words, window_words, zone_of

from . import links, overdue, words
from .calendar import visit_calendar
from .due_work import due_for_customer

ROWS_SHOWN = 50
#: promises of the near future that a record's letter names
NEXT_SHOWN = 4


@dataclass
class Content:
    context: dict[str, object]
    calendar: Calendar | None = None
    documents: list[tuple[str, bytes]] = field(default_factory=list)


def content_of(mail: OutboxMail) -> Content:
    company = Company.load()
    content = CONTENTS[mail.template](mail, company)
    content.context |= {"company": company, "sender": sender_address(company)}
    if mail.customer:
        content.context |= {
            "customer": mail.customer,
            "stop_url": links.stop_url(mail.customer.pk),
        }
    return content


def sender_address(company: Company) -> str:
    return company.email or settings.DEFAULT_FROM_EMAIL


def _visit(mail: OutboxMail, company: Company) -> Content:
    visit = Visit.objects.with_job().get(pk=mail.context["visit"])
    assert mail.customer is not None
    kind, zone = visit.job.kind, zone_of(visit.job.site)
    claim = links.AnswerClaim(visit.pk, visit.sequence, mail.customer.pk)
    purpose = words.PURPOSES[kind]
    context = {
        "visit": visit,
        "site": visit.job.site,
        "who": visit.lead.get_full_name(),
        "day": day_words(visit.arrive_from, zone),
        "window": window_words(visit.arrive_from, visit.arrive_until, zone),
        "purpose": purpose,
        "prepare": words.PREPARE,
        "water": words.WATER.get(kind, ""),
        "why": words.REASONS.get(kind, ""),
        "notices": _notices(visit.job.site_id),
        "answer_url": links.answer_url(claim),
    }
    if mail.template == "no_access":
        return Content(context)
    calendar = visit_calendar(
        visit,
        method="CANCEL" if mail.template == "visit_cancelled" else "REQUEST",
        company=company,
        sender=sender_address(company),
        attendee=mail.recipient,
        purpose=purpose,
        written_at=mail.created_at,
    )
    return Content(context, calendar)


def _record(mail: OutboxMail, company: Company) -> Content:
    records = ChecklistRecord.objects.select_related("template", "site")
    record = records.get(pk=mail.context["record"])
    document = record.documents.order_by("-made_at", "-pk").first()
    if document is None:
        raise LookupError(f"The record {record.pk} has no printed document.")
    with_pump = record.template.purpose in (
        ChecklistTemplate.Purpose.STARTUP,
        ChecklistTemplate.Purpose.RECHECK,
    )
    context = {
        "record": record,
        "site": record.site,
        "title": document.title,
        "day": day_words(record.closed_at or record.opened_at, zone_of(record.site)),
        "notices": _notices(record.site_id),
        "cautions": words.HOUSEHOLD_CAUTIONS if with_pump else words.HOUSEHOLD_CAUTIONS[-1:],
        "defers": DEFERS,
        "coming": _coming(record.site_id),
    }
    return Content(context, documents=[("record.pdf", bytes(document.content))])


def _due_work(mail: OutboxMail, company: Company) -> Content:
    assert mail.customer is not None
    due = due_for_customer(mail.customer, on=date.fromisoformat(mail.context["day"]))
    houses: dict[str, list[str]] = {}
    for promise in due:
        lines = houses.setdefault(f"{promise.site.street}, {promise.site.town}", [])
        lines.append(f"About {_day(promise.due_on)}: {words.PURPOSES[promise.rule.job_kind]}")
    notices = [text for promise in due for text in _notices(promise.site_id)]
    return Content({"houses": houses, "notices": list(dict.fromkeys(notices))})


def _overdue(mail: OutboxMail, company: Company) -> Content:
    user = User.objects.get(pk=mail.context["user"])
    on = date.fromisoformat(mail.context["day"])
    whole = overdue.reads_daily_list(user)
    late, put_off = overdue.late_promises(on=on), overdue.late_and_put_off(on=on)
    if not whole:
        late, put_off = overdue.grown_old(late, on=on), overdue.grown_old(put_off, on=on)
    due = overdue.due_not_booked(on=on) if whole else FollowUp.objects.none()
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


def _asks(mail: OutboxMail, company: Company) -> Content:
    visit = Visit.objects.with_job().get(pk=mail.context["visit"])
    zone = zone_of(visit.job.site)
    return Content(
        {
            "visit": visit,
            "site": visit.job.site,
            "day": day_words(visit.arrive_from, zone),
            "window": window_words(visit.arrive_from, visit.arrive_until, zone),
            "visit_url": links.page_url("visit-detail", pk=visit.pk),
        }
    )


def _account(mail: OutboxMail, company: Company) -> Content:
    user = User.objects.get(pk=mail.context["user"])
    return Content(
        {
            "user": user,
            "site_name": settings.SITE_NAME,
            "minutes": settings.PASSWORD_RESET_TIMEOUT // 60,
            "password_url": links.password_url(user),
            "ask_url": links.page_url("password-reset"),
        }
    )


CONTENTS: dict[str, Callable[[OutboxMail, Company], Content]] = {
    "visit_confirmation": _visit,
    "visit_moved": _visit,
    "visit_cancelled": _visit,
    "visit_reminder": _visit,
    "no_access": _visit,
    "record_summary": _record,
    "due_work": _due_work,
    "overdue_list": _overdue,
    "customer_asks": _asks,
    "account_invitation": _account,
    "password_reset": _account,
}


def _notices(site_id: int | None) -> list[str]:
    if site_id is None:
        return []
    standing = DoNotUse.objects.standing().at_site(site_id).select_related("site")
    return [words.notice_sentence(notice) for notice in standing]


def _coming(site_id: int) -> list[str]:
    alive = FollowUp.objects.alive().filter(site=site_id).exclude(rule__job_kind="")
    work = alive.exclude(rule__closing=FollowUpRule.Closing.ACKNOWLEDGED)
    soon = work.select_related("rule").order_by("due_on", "pk")[:NEXT_SHOWN]
    return [f"About {_day(row.due_on)}: {words.PURPOSES[row.rule.job_kind]}" for row in soon]


def _rows(promises: FollowUpQuerySet, on: date) -> list[dict[str, object]]:
    return [
        {
            "what": row.rule.name,
            "where": str(row.site),
            "due": day_words(row.first_due_on),
            "days_late": row.days_late(on),
            "booked": "booked" if row.status == FollowUp.Status.BOOKED else "not booked",
            "put_off_until": day_words(row.snoozed_until) if row.snoozed_until else "",
            "url": links.page_url("follow-up-detail", pk=row.pk),
        }
        for row in promises.with_site()[:ROWS_SHOWN]
    ]


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"
