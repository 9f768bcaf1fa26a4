"""The customer's link: one visit, one time, one purpose; looking changes nothing."""

import re
from datetime import date, timedelta

import pytest
from django.core import signing
from django.test import Client

from jobs.mail import links
from jobs.mail.about import visit_confirmation
from jobs.mail.recipients import office
from jobs.models import Customer, LogEntry, OutboxMail, Visit, VisitRequest
from jobs.workflows import outbox
from jobs.workflows.tick import never
from tests import factories
from tests.jobs.mail.letters import NOW, a_visit, again, customer_mail, text_of

HOUR = timedelta(hours=1)
pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)


@pytest.fixture
def mail():
    return customer_mail()


def address_of(mail):
    return re.search(r"http://testserver(/v/[^\s#]+)", text_of(mail)).group(1)


def state_of(mail):
    fields = ("customer_confirmed_at", "version", "status")
    return Visit.objects.values_list(*fields).get(pk=mail.visit_id), asked_of(mail)


def asked_of(mail):
    return [request.said for request in VisitRequest.objects.open().filter(visit=mail.visit_id)]


def test_looking_changes_nothing_however_often(client, mail, django_assert_max_num_queries):
    before = state_of(mail), OutboxMail.objects.count(), LogEntry.objects.count()
    for _ in range(5):
        with django_assert_max_num_queries(12):
            assert client.get(address_of(mail)).status_code == 200
        assert client.head(address_of(mail)).status_code == 200
    assert (state_of(mail), OutboxMail.objects.count(), LogEntry.objects.count()) == before


def test_yes_is_kept_and_the_second_yes_changes_nothing(client, mail):
    assert client.post(address_of(mail), {"answer": "confirm"}).status_code == 200
    assert state_of(mail)[0][0] == NOW
    first = state_of(mail), LogEntry.objects.count()
    client.post(address_of(mail), {"answer": "confirm"})
    assert (state_of(mail), LogEntry.objects.count()) == first
    assert Customer.objects.get(pk=mail.customer_id).mail_state == "arrives"


def test_a_wish_is_kept_and_the_office_is_told_once(client, mail):
    dispatcher = factories.make_staff("dispatcher")
    wish = {"answer": "move", "note": "after  four\r\no'clock"}
    for _ in range(3):
        assert client.post(address_of(mail), wish).status_code == 200
    assert asked_of(mail) == ["asks for another time: after four o'clock"]
    told = OutboxMail.objects.get(template="customer_asks", recipient=dispatcher.email)
    assert "after four" in " ".join(text_of(told).replace("&#x27;", "'").split())


def test_the_visit_stands_when_cancelling_is_asked(client, mail):
    client.post(address_of(mail), {"answer": "cancel"})
    assert state_of(mail) == ((None, 1, "confirmed"), ["asks to cancel the visit"])


def test_a_second_request_and_a_yes_leave_the_first_to_the_office(client, mail):
    for given in ({"answer": "move"}, {"answer": "cancel", "note": "sold"}, {"answer": "confirm"}):
        page = client.post(address_of(mail), given).content.decode()
    assert state_of(mail)[0][0] == NOW
    assert asked_of(mail) == ["asks for another time", "asks to cancel the visit: sold"]
    assert "Your yes has arrived" in page
    assert "no visit: sold" in " ".join(page.split())


def test_the_office_is_not_flooded(client, mail):
    factories.make_staff("dispatcher")
    for turn in range(15):
        answer = client.post(address_of(mail), {"answer": "move", "note": f"at {turn}"})
    told = OutboxMail.objects.filter(template="customer_asks")
    assert told.count() == 10 * len(office())
    assert answer.status_code == 422
    assert "Please call us" in answer.content.decode()


@pytest.mark.parametrize(
    "given", [{}, {"answer": "everything"}, {"answer": "move", "note": "x" * 201}]
)
def test_a_wrong_answer_is_refused_in_words_and_nothing_is_lost(client, mail, given):
    before = state_of(mail)
    answer = client.post(address_of(mail), given)
    assert answer.status_code == 422
    assert given.get("note", "") in answer.content.decode()
    assert state_of(mail) == before


def test_the_page_shows_that_visit_and_nothing_else(client, mail):
    job = Visit.objects.get(pk=mail.visit_id).job
    job.site.gate_code, job.site.access_notes = "4711", "key under the pot"
    job.site.save()
    factories.make_visit(job=factories.make_job(site=job.site, now=NOW), now=NOW)
    page = client.get(address_of(mail)).content.decode()
    assert job.site.street in page
    for hidden in ("4711", "under the pot", str(mail.customer.phone), mail.recipient, "sign-in"):
        assert hidden not in page
    assert client.get(address_of(mail)).headers["Cache-Control"].count("no-store") == 1


@pytest.mark.parametrize("turn", range(4))
def test_a_changed_link_opens_nothing(client, mail, turn):
    token = address_of(mail).split("/")[2]
    for position in range(turn, len(token), 4):
        other = "A" if token[position] != "A" else "B"
        changed = token[:position] + other + token[position + 1 :]
        assert links.read_answer_token(changed) is None
    assert client.get(f"/v/{token[:-1]}/").status_code == 404
    assert client.post(f"/v/{token[:-1]}/", {"answer": "confirm"}).status_code == 404
    assert state_of(mail)[0][0] is None


def test_links_of_another_purpose_open_nothing(client, mail):
    stop = links.stop_token(mail.customer_id)
    assert client.get(f"/v/{stop}/").status_code == 404
    answer = address_of(mail).split("/")[2]
    assert client.post(f"/v/stop/{answer}/").status_code == 404
    reset = signing.Signer(salt="password").sign_object([mail.visit_id, 0, mail.customer_id])
    assert client.get(f"/v/{reset}/").status_code == 404


@pytest.mark.parametrize(
    "change",
    [
        {"sequence": 1},
        {"status": "cancelled"},
        {"status": "on_site"},
        {"starts_at": NOW - HOUR, "arrive_from": NOW - HOUR, "arrive_until": NOW},
    ],
    ids=["moved", "cancelled", "under way", "over"],
)
def test_the_link_ends_with_the_time_it_was_sent_for(client, mail, change):
    address = address_of(mail)
    Visit.objects.filter(pk=mail.visit_id).update(**change)
    answer = client.post(address, {"answer": "confirm"})
    assert answer.status_code == 404
    assert state_of(mail)[0][0] is None
    assert mail.visit.job.site.street not in answer.content.decode()


def test_the_link_ends_when_the_house_is_sold(client, mail):
    address, site = address_of(mail), mail.visit.job.site
    mail.customer.tenures.update(until_on=date(2026, 6, 1))
    factories.make_tenure(site=site, customer=factories.make_customer(), from_on=date(2026, 6, 1))
    assert client.get(address).status_code == 404


def test_answers_need_the_token_of_the_page():
    """Another site cannot answer for a customer whose mail it does not have; nor by a form."""
    mail = customer_mail()
    strict = Client(enforce_csrf_checks=True)
    assert strict.post(address_of(mail), {"answer": "confirm"}).status_code == 403


# --- no mail, please: RFC 8058 (IETF, 2017) 3.1 and 3.2: a POST without cookies acts, without
#     redirecting; looking does not


def stop_address(mail):
    return links.stop_url(mail.customer_id).removeprefix("http://testserver")


def test_looking_at_the_stop_page_changes_nothing(client, mail):
    for _ in range(3):
        assert client.get(stop_address(mail)).status_code == 200
    assert Customer.objects.get(pk=mail.customer_id).mail_wanted


def test_one_click_stops_mail_and_what_waits_is_not_sent(mail):
    strict = Client(enforce_csrf_checks=True)
    for _ in range(2):
        answer = strict.post(stop_address(mail), {"List-Unsubscribe": "One-Click"})
        assert answer.status_code == 200
    assert not Customer.objects.get(pk=mail.customer_id).mail_wanted
    assert LogEntry.objects.filter(verb="mail_stopped").count() == 1
    outbox.send_due(clock=lambda: NOW, asked_to_end=never)
    assert again(mail).state == "skipped"
    assert visit_confirmation.write(visit=a_visit(job=mail.visit.job), now=NOW) is None
