"""A letter of each kind that has no file of tests here."""

from datetime import date

from jobs.mail import about
from jobs.models import Document, FollowUpRule, Job, VisitRequest
from tests import factories
from tests.jobs.mail.letters import NOW, a_visit

DAY = date(2026, 6, 10)


def visit_confirmation():
    return about.visit_confirmation.write(visit=a_visit(), now=NOW)


def visit_moved():
    return about.visit_moved.write(visit=a_visit(), now=NOW)


def visit_cancelled():
    return about.visit_cancelled.write(visit=a_visit(), now=NOW)


def visit_proposed():
    return about.visit_proposed.write(visit=a_visit(status="tentative"), now=NOW)


def visit_reminder():
    return about.visit_reminder.write(visit=a_visit(), kind="week", now=NOW)


def no_access():
    return about.no_access.write(visit=a_visit(), now=NOW)


def customer_asks():
    asked = VisitRequest(visit=a_visit(), kind="move", note="after four", at=NOW)
    asked.save()
    return about.customer_asks.write(
        request=asked, user=factories.make_staff("dispatcher"), now=NOW
    )


def record_summary():
    return about.record_summary.write(record=a_record(), now=NOW)


def a_record():
    record = factories.make_record(now=NOW)
    Document.objects.create(
        record=record,
        site=record.site,
        title="Start-up",
        made_at=NOW,
        content=b"%PDF-1.7 a",
        sha256="0" * 64,
    )
    return record


def due_work():
    rule = factories.make_rule(
        "f3", name="Refill", harm=FollowUpRule.Harm.REFILL, job_kind=Job.Kind.REFILL
    )
    due = factories.make_follow_up(rule=rule, due_on=date(2026, 6, 20), now=NOW)
    holder = factories.Customer.objects.at_site(due.site, on=DAY).get()
    return about.due_work.write(customer=holder, day=DAY, now=NOW)


def overdue_list():
    factories.make_follow_up(due_on=date(2026, 5, 20), now=NOW)
    return about.overdue_list.write(user=factories.make_staff("dispatcher"), day=DAY, now=NOW)


def account_invitation():
    return about.account_invitation.write(user=factories.make_staff("dispatcher"), now=NOW)


def password_reset():
    return about.password_reset.write(user=factories.make_staff("dispatcher"), now=NOW)
