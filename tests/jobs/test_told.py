"""Bacteria found: on top of the worklist until a name says who at the house knows."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from equipment.models import Sample
from jobs.errors import BadEntry
from jobs.models import FollowUp, SiteTenure
from jobs.models.water_told import untold_samples
from jobs.workflows.samples import send_sample, tell_result
from jobs.workflows.telling import Adult
from tests.conftest import NOW
from tests.factories import make_customer, make_sample, make_site, make_tenure, make_well

pytestmark = pytest.mark.django_db
CALLED = {"how": "telephone", "number": "607-555-0142", "read_back": "on"}


@pytest.fixture
def sample():
    site = make_site(customer=make_customer(name="C. Prudhomme", phone="+16075550142"))
    return make_sample(site=site, taken_at=timezone.now() - timedelta(days=2))


def result(client, sample, outcome):
    sent = {"outcome": outcome, "result_on": timezone.localdate().isoformat()}
    return client.post(reverse("sample-result", args=[sample.pk]), sent)


def of(sample):
    """The only one of the house, as the page names them."""
    tenure = SiteTenure.objects.get(site=sample.site_id)
    return f"{sample.site_id}-{tenure.customer_id}"


def worklist(client):
    return client.get(reverse("worklist")).content.decode()


def test_a_positive_result_leads_to_the_call_and_stands_on_the_worklist(dispatcher_client, sample):
    page = result(dispatcher_client, sample, "positive")
    told = reverse("sample-told", args=[sample.pk])
    assert page.url == told
    html = dispatcher_client.get(told).content.decode()
    assert 'href="tel:+1-607-555-0142"' in html
    assert "do not use it for teeth, ice, infant formula or cooking" in html
    assert told in worklist(dispatcher_client)


def test_it_goes_when_a_name_says_who_knows(dispatcher, dispatcher_client, sample):
    result(dispatcher_client, sample, "positive")
    told = reverse("sample-told", args=[sample.pk])
    sent = {"person": of(sample), "whom": "C. Prudhomme", **CALLED}
    assert dispatcher_client.post(told, sent).status_code == 302
    known = sample.told.get()
    assert (known.whom, known.by, known.site) == ("C. Prudhomme", dispatcher, sample.site)
    assert (known.number, known.read_back) == ("607-555-0142", True)
    assert "by telephone 607-555-0142" in dispatcher_client.get(told).content.decode()
    assert told not in worklist(dispatcher_client)
    site = dispatcher_client.get(reverse("site-detail", args=[sample.site_id])).content.decode()
    assert "told C. Prudhomme" in site


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"whom": " "}, "whom"),
        ({"how": ""}, "how"),
        ({"number": " "}, "number"),
        ({"read_back": ""}, "read_back"),
        ({"how": "door", "read_back": ""}, "read_back"),
    ],
)
def test_told_is_an_adult_by_name_on_a_number_who_said_it_back(
    dispatcher_client, sample, wrong, field
):
    result(dispatcher_client, sample, "positive")
    sent = {"person": of(sample), "whom": "C. Prudhomme", **CALLED, **wrong}
    page = dispatcher_client.post(reverse("sample-told", args=[sample.pk]), sent)
    assert page.status_code == 422
    assert list(page.context["form"].errors) == [field]
    assert untold_samples().get() == sample


def test_the_first_telling_stands(dispatcher_client, sample):
    result(dispatcher_client, sample, "positive")
    told = reverse("sample-told", args=[sample.pk])
    for whom in ("C. Prudhomme", "somebody else"):
        sent = {
            "person": of(sample),
            "whom": whom,
            "how": "door",
            "read_back": "on",
            "once": whom,
        }
        dispatcher_client.post(told, sent)
    assert sample.told.get().whom == "C. Prudhomme"


def test_owner_and_tenant_are_each_told(dispatcher, dispatcher_client, sample):
    owner = SiteTenure.objects.get(site=sample.site_id).customer
    who = (("A. Weir", "tenant"), ("K. Lumb", "neighbour"), ("T. Aske", "caretaker"))
    tenant, neighbour, manager = (
        make_tenure(
            site=sample.site, customer=make_customer(name=name), part=part, is_contact=False
        )
        for name, part in who
    )
    manager.told_water = True
    manager.save()
    result(dispatcher_client, sample, "positive")
    told = reverse("sample-told", args=[sample.pk])
    html = " ".join(dispatcher_client.get(told).content.decode().split())
    assert "Call 3 people: bacteria were found" in html
    assert "need not be told:</span> K. Lumb" in html
    said = {"adult": Adult("x", "door", "", True), "by": dispatcher, "now": NOW}
    with pytest.raises(BadEntry, match="Choose who of the house") as refused:
        tell_result(sample=sample, site=sample.site, **said)
    assert refused.value.field == "person"
    for customer in (owner, tenant.customer, manager.customer):
        assert "not everybody told" in worklist(dispatcher_client)
        sent = {"person": f"{sample.site_id}-{customer.pk}", "whom": customer.name, **CALLED}
        dispatcher_client.post(told, {**sent, "once": customer.name})
    assert "Call now" not in worklist(dispatcher_client)
    html = " ".join(dispatcher_client.get(told).content.decode().split())
    assert "A. Weir, tenant: A. Weir was told by telephone 607-555-0142 by" in html
    # somebody who moves in while the notice stands is told as well
    tenant.until_on = tenant.from_on
    tenant.save()
    make_tenure(
        site=sample.site, customer=make_customer(name="New"), part="tenant", is_contact=False
    )
    assert "not everybody told" in worklist(dispatcher_client)


def test_a_landlord_of_two_houses_on_one_well_is_told_once(dispatcher, dispatcher_client):
    owner, well = make_customer(name="Rentals"), make_well()
    first, second = (make_site(customer=owner) for _ in range(2))
    well.site = first
    well.save()
    well.also_serves.add(second)
    sample = make_sample(site=first, well=well, taken_at=timezone.now() - timedelta(days=2))
    result(dispatcher_client, sample, "ecoli")
    assert untold_samples().get() == sample
    said = {"adult": Adult("Rentals", "door", "", True), "by": dispatcher, "now": NOW}
    tell_result(sample=sample, site=first, **said)
    assert not untold_samples().exists()


def test_a_house_without_contacts_is_told_by_going_there(dispatcher_client):
    site = make_site(with_holder=False)
    sample = make_sample(site=site, taken_at=timezone.now() - timedelta(days=2))
    result(dispatcher_client, sample, "positive")
    assert untold_samples().get() == sample
    sent = {"person": f"{site.pk}-0", "whom": "a lodger", "how": "door", "read_back": "on"}
    dispatcher_client.post(reverse("sample-told", args=[sample.pk]), sent)
    assert not untold_samples().exists()


def test_a_telling_of_before_each_was_asked_for_counts_for_the_house(
    dispatcher, dispatcher_client, sample
):
    result(dispatcher_client, sample, "positive")
    make_tenure(
        site=sample.site, customer=make_customer(name="A. Weir"), part="tenant", is_contact=False
    )
    sample.told.create(site=sample.site, whom="C. Prudhomme", at=NOW, by=dispatcher)
    assert not untold_samples().exists()
    html = dispatcher_client.get(reverse("sample-told", args=[sample.pk])).content.decode()
    assert "for the whole house" in html
    assert "not told yet" not in html


def test_a_negative_result_asks_for_no_call(dispatcher_client, sample):
    page = result(dispatcher_client, sample, "negative")
    assert page.url == reverse("site-detail", args=[sample.site_id])
    assert "Call now" not in worklist(dispatcher_client)


def test_a_caller_in_danger_is_told_first_what_keeps_him_alive(dispatcher_client):
    """From the worklist to the words. A flood begins with the pump: US EPA, private wells."""
    where = reverse("urgent-calls")
    assert f'href="{where}"' in worklist(dispatcher_client)
    html = " ".join(dispatcher_client.get(where).content.decode().split())
    first = {
        "under water": "Do not turn the well pump on",
        "smells of gas": "Everybody out now",
        "No water comes": "Switch the water heater off",
        "weak immunity in the house": "For the baby&#x27;s bottle",
        "does not stop": "Unplug the dosing pump",
    }
    for heading, words in first.items():
        begins = html[html.index(f"{heading}</h2>") :]
        assert begins.split("<li>")[1].removeprefix("<strong>").startswith(words)
    assert "1-800-222-1222" in html


def test_a_voice_mail_is_not_told(dispatcher, dispatcher_client, sample):
    result(dispatcher_client, sample, "positive")
    with pytest.raises(BadEntry, match="voice mail"):
        tell_result(
            sample=sample,
            site=sample.site,
            adult=Adult("C. Prudhomme", "voice mail", "607-555-0142", True),
            by=dispatcher,
            now=NOW,
        )
    assert untold_samples().get() == sample


def test_a_result_is_promised_from_the_day_the_bottle_was_filled(dispatcher):
    """One is written down on its day, the other three days later."""
    call_command("load_rules", verbosity=0)
    filled = NOW - timedelta(days=3)
    for told in (filled, NOW):
        sample = Sample(site=make_site(), kind="bacteria", place="raw", residual_free=True)
        sample.taken_at, sample.taken_by = filled, dispatcher
        send_sample(sample=sample, by=dispatcher, now=told)
    first, second = FollowUp.objects.alive()
    assert first.due_on == second.due_on
