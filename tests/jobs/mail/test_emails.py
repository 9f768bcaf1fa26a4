"""Rows are written once, in the caller's transaction, to somebody who can and wants to read."""

from datetime import UTC, date, datetime, timedelta

import pytest
from django.db import transaction

from jobs.mail import writing
from jobs.mail.about import (
    account_invitation,
    password_reset,
    visit_confirmation,
    visit_moved,
    visit_reminder,
)
from jobs.models import Company, Customer, OutboxMail
from tests import factories

from .letters import NOW, a_visit, customer_mail

pytestmark = pytest.mark.django_db


def test_the_second_call_writes_nothing():
    visit = a_visit()
    first = visit_confirmation.write(visit=visit, now=NOW)
    second = visit_confirmation.write(visit=visit, now=NOW + timedelta(hours=1))
    assert first.pk == second.pk
    assert OutboxMail.objects.count() == 1
    assert first.key == f"visit:{visit.pk}:0:confirmation:c{first.customer_id}"


def test_each_time_told_has_a_message_of_its_own():
    visit = a_visit()
    visit_confirmation.write(visit=visit, now=NOW)
    visit.sequence = 1
    moved = visit_moved.write(visit=visit, now=NOW)
    visit.sequence = 2
    again = visit_moved.write(visit=visit, now=NOW)
    assert len({moved.key, again.key}) == 2
    assert OutboxMail.objects.values("message_id").distinct().count() == 3


def test_the_identity_follows_from_the_key_alone():
    """So every attempt carries the same one, whoever makes it (RFC 5322, IETF 2008, 3.6.4)."""
    mail = customer_mail()
    assert mail.message_id == writing.message_id_of(mail.key) == writing.message_id_of(mail.key)
    assert writing.message_id_of("another") != mail.message_id


def test_a_rolled_back_action_leaves_no_message():
    visit = a_visit()
    with transaction.atomic():
        visit_confirmation.write(visit=visit, now=NOW)
        transaction.set_rollback(True)
    assert OutboxMail.objects.count() == 0


@pytest.mark.parametrize(
    "fields",
    [{"email": ""}, {"mail_wanted": False}, {"mail_state": Customer.MailState.REFUSED}],
    ids=["no address", "wants none", "refused before"],
)
def test_nobody_who_cannot_or_will_not_read_is_written_to(fields):
    site = factories.make_site(customer=factories.make_customer(**fields))
    visit = a_visit(job=factories.make_job(site=site, now=NOW))
    assert visit_confirmation.write(visit=visit, now=NOW) is None
    assert OutboxMail.objects.count() == 0


def test_the_contact_of_the_house_on_that_day_is_written_to():
    site = factories.make_site()
    job = factories.make_job(site=site, now=NOW)
    tenure = job.customer.tenures.get()
    tenure.until_on = date(2026, 6, 15)
    tenure.save()
    buyer = factories.make_customer()
    factories.make_tenure(site=site, customer=buyer, from_on=date(2026, 6, 15))
    before, after = a_visit(job=job, days=2), a_visit(job=job, days=10)
    assert visit_confirmation.write(visit=before, now=NOW).customer == job.customer
    assert visit_confirmation.write(visit=after, now=NOW).customer == buyer


def test_mail_to_customers_waits_for_the_morning_at_the_house():
    site = factories.make_site(time_zone="America/Chicago")
    visit = a_visit(job=factories.make_job(site=site, now=NOW))
    evening = datetime(2026, 6, 10, 23, 30, tzinfo=UTC)  # 18:30 in Chicago
    mail = visit_confirmation.write(visit=visit, now=evening)
    assert mail.not_before == datetime(2026, 6, 11, 13, 0, tzinfo=UTC)  # 8:00 in Chicago


def test_hours_are_the_companys():
    Company.objects.update_or_create(pk=1, defaults={"mail_from_hour": 11})
    assert customer_mail().not_before == NOW + timedelta(hours=1)


def test_reminders_come_a_week_and_a_day_before():
    visit = a_visit()  # Saturday 20 June
    week = visit_reminder.write(visit=visit, kind="week", now=NOW)
    day = visit_reminder.write(visit=visit, kind="day", now=NOW)
    assert week.not_before == datetime(2026, 6, 13, 12, 0, tzinfo=UTC)  # 8:00 in New York
    assert day.not_before == datetime(2026, 6, 19, 12, 0, tzinfo=UTC)
    assert week.useful_until < visit.arrive_from
    assert day.useful_until == visit.arrive_from


def test_a_password_is_asked_for_at_most_five_times_a_day():
    user = factories.make_staff("technician")
    asked = [
        password_reset.write(user=user, now=NOW + timedelta(minutes=6 * turn)) for turn in range(8)
    ]
    assert [row is None for row in asked] == [False] * 5 + [True] * 3


def test_asking_twice_within_minutes_is_asking_once():
    user = factories.make_staff("technician")
    first = password_reset.write(user=user, now=NOW)
    assert password_reset.write(user=user, now=NOW + timedelta(seconds=90)).pk == first.pk


def test_a_closed_account_gets_no_mail():
    user = factories.make_staff("technician", is_active=False)
    assert account_invitation.write(user=user, now=NOW) is None


def test_context_holds_ids_and_dates_only():
    mail = customer_mail()
    assert set(mail.context) == {"visit", "sequence", "kind", "from", "until", "lead"}
    assert mail.customer.name not in str(mail.context)
