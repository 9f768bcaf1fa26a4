"""Customers and houses that may be known already, and edits of those that are."""

import re

import pytest
from django.urls import reverse

from jobs.models import Customer
from tests.factories import make_customer, make_site

pytestmark = pytest.mark.django_db


def entered(client, **typed):
    sent = {"kind": "person", "name": "Ida Marchetti", "phone": "607-555-0177", **typed}
    return client.post(reverse("customer-new"), sent)


@pytest.mark.parametrize(
    "known",
    [
        {"name": "Ada Marchetti", "phone": "+1 607 555 0177"},
        {"name": "Marchetti Ida", "phone": "+1 607 555 0111"},
    ],
)
def test_somebody_like_one_we_know_is_asked_about_first(dispatcher_client, known):
    make_customer(**known)
    answer = entered(dispatcher_client)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert f"There is somebody like this: {known['name']}" in page
    assert 'type="checkbox" name="is_another"' in page
    assert Customer.objects.count() == 1
    assert entered(dispatcher_client, is_another="on").status_code == 302
    assert Customer.objects.count() == 2


def test_the_same_mail_address_is_the_same_person(dispatcher_client):
    make_customer(name="Ada Quill", phone="+1 607 555 0111", email="ada@example.com")
    answer = entered(dispatcher_client, email="ADA@example.com")
    assert "There is somebody like this: Ada Quill" in answer.content.decode()


def test_correcting_a_customer_asks_nothing_about_himself_or_his_brother(dispatcher_client):
    """The two were looked at when the second was entered."""
    make_customer(name="Ada Marchetti", phone="+1 607 555 0177")
    ida = make_customer(name="Ida Marchetti", phone="+1 607 555 0177")
    sent = {"kind": "person", "name": "Ida Marchetti", "phone": "607-555-0177", "version": 1}
    where = reverse("customer-edit", args=[ida.pk])
    answer = dispatcher_client.post(where, {**sent, "notes": "rings twice"})
    assert answer.status_code == 302
    assert "rings twice" in dispatcher_client.get(answer.url).content.decode()
    refused = dispatcher_client.post(where, {**sent, "version": 2, "phone": "none"})
    assert refused.status_code == 422
    assert "is it one of these" not in refused.content.decode()


def house(site, **typed):
    return {"street": site.street, "town": site.town, "drain": "standpipe", "version": 1, **typed}


def test_a_house_written_otherwise_is_itself_and_no_second_one(dispatcher_client):
    site = make_site(street="9 Quarry Steps Rd", town="Larkmoor")
    sent = house(site, street="9 Quarry Steps Road")
    answer = dispatcher_client.post(reverse("site-edit", args=[site.pk]), sent)
    assert answer.status_code == 302
    assert "9 Quarry Steps Road" in dispatcher_client.get(answer.url).content.decode()


def test_two_houses_of_one_address_are_asked_about_when_the_address_changes_only(
    dispatcher_client,
):
    make_site(street="9 Quarry Steps", town="Larkmoor")
    twin = make_site(street="9 Quarry Steps", town="Larkmoor")
    where = reverse("site-edit", args=[twin.pk])
    assert dispatcher_client.post(where, house(twin)).status_code == 302
    moved = house(twin, street="9 Quarry Steps Road", version=2)
    answer = dispatcher_client.post(where, moved)
    assert answer.status_code == 422
    assert "There is a house like this" in answer.content.decode()


@pytest.mark.parametrize(("zone", "status"), [("America/Denver", 302), ("", 302), ("Denver", 422)])
def test_a_zone_is_one_that_clocks_know(dispatcher_client, zone, status):
    site = make_site()
    answer = dispatcher_client.post(
        reverse("site-edit", args=[site.pk]), house(site, time_zone=zone)
    )
    assert answer.status_code == status
    assert ("such as America/Denver" in answer.content.decode()) == (status == 422)


def test_who_left_before_is_not_asked_whether_he_leaves(dispatcher_client):
    site = make_site(customer=make_customer(name="Ada Quill"))
    where = reverse("tenure-change", args=[site.pk])
    asked = dispatcher_client.get(where).content.decode()
    leaving = re.search(r'name="ending" value="(\d+)"', asked)[1]
    sent = {"on": "2026-06-01", "part": "owner", "ending": [leaving], "customer-kind": "person"}
    sent |= {"customer-name": "Bo Fenn", "customer-phone": "607-555-0188"}
    assert dispatcher_client.post(where, sent).status_code == 302
    asked = dispatcher_client.get(where).content.decode()
    assert "Bo Fenn" in asked
    assert re.findall(r'name="ending" value="(\d+)"', asked) != [leaving]
    assert len(re.findall(r'name="ending"', asked)) == 1


def test_a_use_of_the_water_is_noted_today_unless_told(dispatcher_client, clock):
    page = dispatcher_client.get(reverse("special-use-new", args=[make_site().pk]))
    assert re.search(r'name="noted_on" value="2026-06-10"', page.content.decode())


@pytest.mark.parametrize(("name", "said"), [("", 422), ("--", 302), ("7", 302)])
def test_a_name_without_a_word_is_like_nobody(dispatcher_client, name, said):
    make_customer(name="Ada Quill", phone="+1 607 555 0111")
    assert entered(dispatcher_client, name=name).status_code == said
