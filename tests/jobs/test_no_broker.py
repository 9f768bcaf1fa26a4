"""No page and no action asks the broker for anything, so a broker cannot hold one up."""

from datetime import timedelta

import celery
import kombu
import pytest

from jobs.mail import links
from jobs.models import OutboxMail, PasswordAsk
from jobs.workflows import visits
from tests import factories
from tests.jobs.mail.letters import NOW, customer_mail


class BrokerCalled(AssertionError):
    pass


@pytest.fixture(autouse=True)
def _no_broker(monkeypatch):
    def refuse(*args, **kwargs):
        raise BrokerCalled

    monkeypatch.setattr(celery.Celery, "send_task", refuse)
    monkeypatch.setattr(kombu.Connection, "__init__", refuse)
    monkeypatch.setattr(kombu.Producer, "publish", refuse)
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


def test_this_test_would_notice():
    from jobs.tasks import tick

    with pytest.raises(BrokerCalled):
        tick.delay()


@pytest.mark.django_db(transaction=True)
def test_booking_moving_and_cancelling_write_rows_only(dispatcher):
    lead, job = factories.make_staff("technician"), factories.make_job(now=NOW)
    start = NOW + timedelta(days=3)
    held = visits.Held(lead, start, start + timedelta(hours=1))
    visit = visits.book_visit(job=job, held=held, by=dispatcher, now=NOW)
    later = visits.Held(lead, held.ends_at, held.ends_at + timedelta(hours=1))
    visit = visits.move_visit(
        visit=visit, version=visit.version, held=later, by=dispatcher, now=NOW
    )
    visits.cancel_visit(visit=visit, reason="ill", by=dispatcher, now=NOW)
    assert [row.template for row in OutboxMail.objects.order_by("pk")] == [
        "visit_confirmation",
        "visit_moved",
        "visit_cancelled",
    ]
    assert {row.state for row in OutboxMail.objects.all()} == {"queued"}


@pytest.mark.django_db(transaction=True)
def test_pages_that_cause_mail_write_rows_only(client, dispatcher_client, dispatcher):
    mail = customer_mail()
    claim = links.AnswerClaim(mail.visit_id, 0, mail.customer_id)
    assert client.post(f"/v/{links.answer_token(claim)}/", {"answer": "move"}).status_code == 200
    assert client.post("/password/", {"email": dispatcher.email}).status_code == 302
    OutboxMail.objects.filter(pk=mail.pk).update(state="dead")
    assert dispatcher_client.post(f"/messages/{mail.pk}/send-again/").status_code == 302
    found = set(OutboxMail.objects.values_list("template", flat=True))
    assert found == {"visit_confirmation", "customer_asks"}
    assert PasswordAsk.objects.count() == 1
    assert client.get("/healthz").status_code == 503
