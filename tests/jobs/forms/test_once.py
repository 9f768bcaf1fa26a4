"""A form sent twice has one effect, for the person who sent it."""

import re
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier

import pytest
from django.db import connection
from django.urls import reverse

from equipment.models import Site
from jobs.models import SubmittedForm
from tests.conftest import make_person, signed_in

pytestmark = pytest.mark.django_db
TIMES = 10
HOUSE = {
    "street": "12 Ferry Stage",
    "town": "Larkmoor",
    "drain": "unknown",
    "customer-kind": "person",
    "customer-name": "Ida Marchetti",
    "customer-phone": "607-555-0177",
    "holding-part": "owner",
    "holding-from_on": "2024-05-01",
}


def opened(client):
    """What the page carries when it is opened, beside what is typed into it."""
    page = client.get(reverse("site-new")).content.decode()
    return {**HOUSE, "once": re.search(r'name="once" value="([^"]+)"', page)[1]}


def test_a_page_left_open_at_the_desk_is_not_answered_for_the_next_person(
    dispatcher_client, owner_client
):
    """Dana enters a house; Omar signs in at the same desk and sends the page once more."""
    sent = opened(dispatcher_client)
    assert dispatcher_client.post(reverse("site-new"), sent).status_code == 302
    answer = owner_client.post(reverse("site-new"), sent)
    assert answer.status_code == 422
    assert "There is a house like this: 12 Ferry Stage, Larkmoor" in answer.content.decode()
    assert Site.objects.count() == 1


def test_both_may_have_the_page_open_and_each_sending_counts(dispatcher_client, owner_client):
    sent = opened(dispatcher_client)
    dispatcher_client.post(reverse("site-new"), sent)
    ticked = {**sent, "is_another": "on", "customer-is_another": "on"}
    where = owner_client.post(reverse("site-new"), ticked).url
    assert owner_client.post(reverse("site-new"), ticked).url == where
    assert Site.objects.count() == 2
    assert SubmittedForm.objects.count() == 2


def test_a_renewed_sign_in_does_not_make_it_another_form(dispatcher_client):
    """Signing in again changes the hidden token of the page, not what was typed."""
    sent = opened(dispatcher_client)
    answers = [
        dispatcher_client.post(reverse("site-new"), {**sent, "csrfmiddlewaretoken": token})
        for token in ("before", "after")
    ]
    assert answers[0].url == answers[1].url
    assert Site.objects.count() == 1


def at_the_same_moment(user, sent, barrier):
    """In a thread of its own, with a connection of its own: one press of the button."""
    client = signed_in(user)
    try:
        barrier.wait(20)
        answer = client.post(reverse("site-new"), sent)
        return answer.status_code, getattr(answer, "url", "")
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_two_presses_at_the_same_moment_make_one_house_and_lead_to_the_same_page():
    user = make_person("dana", "dispatcher")
    with ThreadPoolExecutor(2) as presses:
        for number in range(TIMES):
            sent = opened(signed_in(user)) | {
                "street": f"{number} Ferry Stage",
                "customer-name": f"Ida Marchetti {number}",
                "is_another": "on",
                "customer-is_another": "on",
            }
            barrier = Barrier(2)
            both = [presses.submit(at_the_same_moment, user, sent, barrier) for _ in range(2)]
            first, second = (press.result(60) for press in both)
            assert first == second
            assert first[0] == 302
            assert Site.objects.count() == number + 1


def test_a_refused_sending_leaves_its_key_for_the_next(dispatcher_client):
    sent = opened(dispatcher_client)
    dispatcher_client.post(reverse("site-new"), sent)
    other = {**opened(dispatcher_client), "customer-phone": "607-555-0178"}
    assert dispatcher_client.post(reverse("site-new"), other).status_code == 422
    ticked = {**other, "is_another": "on", "customer-is_another": "on"}
    assert dispatcher_client.post(reverse("site-new"), ticked).status_code == 302
    assert Site.objects.count() == 2
