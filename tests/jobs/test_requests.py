"""What a customer asks through the link of a letter, until a name of the office handled it."""

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse

from jobs.errors import BadEntry
from jobs.models import OutboxMail, Visit, VisitRequest
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.requests import handle
from jobs.workflows.visits import set_out
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import make_customer, make_site, make_staff, make_train
from tests.jobs.mail.letters import text_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
TOMORROW = company_day(NOW) + timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def told(name, street):
    site = make_site(customer=make_customer(name=name), street=street)
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    job = opened(make_train(site=site))
    made = booked(job, lead, at=at_hour(TOMORROW, 9), now=NOW)
    send(letter_of(made), Postbox())
    return made


@pytest.fixture
def visit():
    return told("Odile Reedham", "3 Otter Lane")


def letter_of(visit):
    return OutboxMail.objects.get(visit=visit, template="visit_confirmation")


def asks(visit, said, note=""):
    address = re.search(r"http://testserver(/v/[^\s#]+)", text_of(letter_of(visit)))[1]
    return Client().post(address, {"answer": said, "note": note})


def words(client, name, *args):
    return " ".join(client.get(reverse(name, args=args)).content.decode().split())


def handled(client, visit, **typed):
    where = reverse("visit-requests", args=[visit.pk])
    seen = client.get(where).context["form"]["seen"].value()
    return client.post(where, {"seen": seen, "how": "stays at nine", **typed})


def test_each_request_is_on_top_of_the_worklist_with_its_time(dispatcher_client, visit, clock):
    asks(visit, "move", "after four")
    clock(NOW + timedelta(hours=1))
    asks(visit, "cancel", "sold the house")
    page = words(dispatcher_client, "worklist")
    first = page.index(
        'Asks for another time: after four</b> <span class="remark">10 June 2026, 10:00'
    )
    second = page.index(
        'Asks to cancel the visit: sold the house</b> <span class="remark">10 June 2026, 11:00'
    )
    assert page.index("Needs a call<span>") < first < second < page.index("1&ensp;No drinking")
    assert page.count(f'href="{reverse("visit-detail", args=[visit.pk])}"') == 1
    day = dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()}).content.decode()
    assert "Customer asks for another time: after four; asks to cancel the visit:" in day


def test_a_request_is_handled_by_a_name_and_stays_readable(dispatcher_client, visit):
    asks(visit, "move", "after four")
    assert handled(dispatcher_client, visit, how=" ").status_code == 422
    assert handled(dispatcher_client, visit).url == reverse("worklist")
    assert "Needs a call" not in words(dispatcher_client, "worklist")
    page = words(dispatcher_client, "visit-detail", visit.pk)
    assert "asks for another time: after four" in page
    assert "Dana Birch, 10 Jun 2026 10:00: stays at nine" in page
    assert "Look twice" not in page
    asks(visit, "cancel", "sold the house")
    page = words(dispatcher_client, "worklist")
    assert "Asks to cancel the visit: sold the house" in page
    assert "after four" not in page


def test_what_another_house_asks_stays_open(dispatcher_client, visit):
    other = told("Ada Quill", "5 Otter Lane")
    asks(other, "move", "after school")
    asks(visit, "move", "after four")
    handled(dispatcher_client, visit)
    page = words(dispatcher_client, "worklist")
    assert "Asks for another time: after school" in page
    assert "after four" not in page


def test_handled_says_what_was_agreed(dispatcher, visit):
    asks(visit, "move", "after four")
    seen = VisitRequest.objects.get().pk
    with pytest.raises(BadEntry, match="what was agreed"):
        handle(visit=visit, seen=seen, how="  ", by=dispatcher, now=NOW)


def test_who_is_on_the_way_can_still_be_told(dispatcher, visit, clock):
    on_the_way = visit.starts_at - timedelta(minutes=20)
    clock(on_the_way)
    set_out(visit=visit, by=visit.lead, now=on_the_way)
    assert asks(visit, "cancel", "child is ill").status_code == 200
    mail = OutboxMail.objects.get(template="customer_asks")
    assert "Asks to cancel the visit: child is ill." in " ".join(text_of(mail).split())


@pytest.mark.parametrize("act", ["visit-requests", "visit-move", "visit-cancel"])
def test_what_came_after_the_page_was_opened_stays_open(dispatcher_client, visit, act):
    asks(visit, "move", "after four")
    where = reverse(act, args=[visit.pk])
    form = dispatcher_client.get(where).context["form"]
    asks(visit, "cancel")
    typed = {
        "visit-requests": {"how": "moved it"},
        "visit-cancel": {"reason": "asked for"},
        "visit-move": {
            "lead": visit.lead_id,
            "day": TOMORROW.isoformat(),
            "start": "16:00",
            "minutes": 60,
            "version": 1,
        },
    }[act]
    sent = {"seen": form["seen"].value(), **typed}
    assert dispatcher_client.post(where, sent).status_code == 302
    assert [request.kind for request in VisitRequest.objects.open()] == ["cancel"]
    assert "Asks to cancel the visit" in words(dispatcher_client, "worklist")
    first = VisitRequest.objects.get(kind="move")
    assert (first.handled_by.username, first.handled_at) == ("dana", NOW)


def test_a_yes_after_a_request_is_shown_beside_it(dispatcher_client, visit):
    asks(visit, "move")
    asks(visit, "confirm")
    asks(visit, "move")  # the same again, from a page that lay open: changes nothing
    page = words(dispatcher_client, "visit-requests", visit.pk)
    assert "The customer said yes 10 June 2026, 10:00" in page
    assert "Asks for another time" in page


def test_a_long_note_arrives_whole(dispatcher_client, visit):
    """Two hundred characters are what the page promises."""
    note = "gate " * 39 + "shut."
    assert asks(visit, "move", note).status_code == 200
    assert f"Asks for another time: {note}" in words(dispatcher_client, "worklist")


def test_two_at_the_desk_handle_it_once(dispatcher_client, visit):
    asks(visit, "move")
    where = reverse("visit-requests", args=[visit.pk])
    sent = {"seen": VisitRequest.objects.get().pk, "how": "called"}
    dispatcher_client.post(where, sent)
    page = dispatcher_client.post(where, {**sent, "how": "called too"}, follow=True)
    assert "Somebody handled these requests before you." in page.content.decode()
    assert VisitRequest.objects.get().handled_how == "called"


def test_the_office_is_mailed_what_is_asked_and_where_to_handle_it(dispatcher, visit):
    asks(visit, "cancel", "sold")
    mail = OutboxMail.objects.get(template="customer_asks")
    text = " ".join(text_of(mail).split())
    assert "Asks to cancel the visit: sold." in text
    assert reverse("visit-requests", args=[visit.pk]) in text


def test_requests_cost_the_list_no_more_queries(
    dispatcher_client, visit, django_assert_max_num_queries
):
    for note in "abcdef":
        asks(visit, "move", note)
    others = [
        booked(opened(make_train()), make_staff("technician"), at=visit.starts_at, now=NOW)
        for _ in range(4)
    ]
    for other in others:
        asks(other, "move")
    with django_assert_max_num_queries(12):
        assert words(dispatcher_client, "worklist").count("Asks for another time") == 10
    with django_assert_max_num_queries(11):
        dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()})
    assert Visit.objects.filter(status="confirmed").count() == 5
