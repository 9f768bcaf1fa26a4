"""Somebody very like the one typed is on file: taking that one keeps all that was typed."""

import pytest
from django.urls import reverse

from equipment.models import Site
from jobs.models import Customer, SiteTenure
from tests.factories import make_customer, make_site

pytestmark = pytest.mark.django_db


@pytest.fixture
def known():
    return make_customer(name="Odile Reedham", phone="+1 518 555 0142", email="o@example.com")


TYPED = {
    "street": "3 Otter Lane",
    "town": "Larkmoor",
    "access_notes": "Gate on the north drive.",
    "drain": "septic",
    "customer-kind": "person",
    "customer-name": "Odile Reedham",
    "customer-phone": "518-555-0142",
    "holding-part": "tenant",
    "holding-from_on": "2026-03-02",
}


def test_the_half_typed_house_stays_when_a_customer_on_file_is_taken(dispatcher_client, known):
    where = reverse("site-new")
    page = dispatcher_client.post(where, TYPED).content.decode()
    assert f'name="take" value="{known.pk}"' in page
    answer = dispatcher_client.post(where, {**TYPED, "take": known.pk})
    page = answer.content.decode()
    assert answer.status_code == 200
    assert 'value="3 Otter Lane"' in page
    assert "Gate on the north drive." in page
    assert 'value="2026-03-02"' in page
    assert answer.context["holding"]["part"].value() == "tenant"
    assert f'name="known" value="{known.pk}"' in page
    assert not Site.objects.exists()
    sent = {name: value for name, value in TYPED.items() if not name.startswith("customer-")}
    answer = dispatcher_client.post(where, {**sent, "known": known.pk})
    assert answer.url == reverse("site-detail", args=[Site.objects.get().pk])
    tenure = SiteTenure.objects.get()
    assert (tenure.customer, tenure.part) == (known, "tenant")
    assert Customer.objects.count() == 1


def test_somebody_else_keeps_it_too(dispatcher_client, known):
    sent = {**TYPED, "known": known.pk, "take": "0"}
    answer = dispatcher_client.post(reverse("site-new"), sent)
    assert 'value="3 Otter Lane"' in answer.content.decode()
    assert answer.context["known"] is None


def test_a_house_that_changes_hands_keeps_day_and_part(dispatcher_client, known):
    site = make_site()
    where = reverse("tenure-change", args=[site.pk])
    holder = SiteTenure.objects.get(site=site)
    sent = {
        "on": "2026-03-02",
        "part": "tenant",
        "ending": [holder.pk],
        "customer-kind": "person",
        "customer-name": "Odile Reedham",
        "customer-phone": "518-555-0142",
    }
    answer = dispatcher_client.post(where, {**sent, "take": known.pk})
    form = answer.context["form"]
    assert (form["on"].value(), form["part"].value()) == ("2026-03-02", "tenant")
    assert [str(pk) for pk in form["ending"].value()] == [str(holder.pk)]
    dispatcher_client.post(where, {**sent, "known": known.pk})
    assert SiteTenure.objects.get(site=site, until_on=None).customer == known
