"""One search finds a house by whatever a caller says, and near-duplicates are seen."""

from datetime import date

import pytest
from django.urls import reverse

from equipment.models import Site
from jobs.models import Customer
from jobs.search.find import near_customers, near_sites, search
from tests import factories as make

TODAY = date(2026, 6, 10)
pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    """A sold house with a well tag and a serial number."""
    former = make.make_customer(name="Ottilie Vandersteen", phone="+1 518 555 0131")
    holder = make.make_customer(name="Célestine Prudhomme-Okonkwo", phone="+1 518 555 0124")
    site = make.make_site(
        with_holder=False, street="4417 Alder Slough Rd.", town="Kestrel Ford", parcel="LOT-88"
    )
    make.make_tenure(
        site=site, customer=former, from_on=date(2009, 1, 1), until_on=date(2021, 5, 3)
    )
    make.make_tenure(site=site, customer=holder, from_on=date(2021, 5, 3))
    train = make.make_train(site=site, well=make.make_well(site=site, tag="LK-20417"))
    make.make_stage(train=train, serial="SN-7731-B")
    decoy = make.make_customer(name="Wilhelmina Sotomayor", phone="+1 518 555 0199")
    make.make_site(customer=decoy, street="9 Quarry Steps", town="Larkmoor")
    return site


def found(text):
    return search(text, Site.objects.all(), today=TODAY)


@pytest.mark.parametrize(
    ("typed", "why"),
    [
        ("okonkwo", "name of Célestine Prudhomme-Okonkwo"),
        ("Prudhomme", "name of Célestine Prudhomme-Okonkwo"),
        ("518-555-0124", "phone of Célestine Prudhomme-Okonkwo"),
        ("(518) 555 0124", "phone of Célestine Prudhomme-Okonkwo"),
        ("+1 518.555.0124", "phone of Célestine Prudhomme-Okonkwo"),
        ("5550124", "phone of Célestine Prudhomme-Okonkwo"),
        ("555-0131", "phone of Ottilie Vandersteen, former owner until 2021"),
        ("vandersteen", "name of Ottilie Vandersteen, former owner until 2021"),
        ("4417 alder slough road", "address"),
        ("Alder Slough Kestrel Ford", "address"),
        ("LK-20417", "well tag LK-20417"),
        ("20417", "well tag LK-20417"),
        ("sn-7731", "serial SN-7731-B"),
        ("lot-88", "parcel LOT-88"),
        ("okonkwo alder", "name and address"),
        ("okonkow", "similar name of Célestine Prudhomme-Okonkwo"),
        ("Vandersten", "similar name of Ottilie Vandersteen, former owner until 2021"),
        ("4417 adler slogh", "similar address"),
    ],
)
def test_a_house_is_found_by_what_a_caller_says(house, typed, why):
    hits = found(typed)
    assert [hit.site for hit in hits] == [house]
    assert why in hits[0].why_text


def test_a_hit_names_todays_holder_even_when_a_former_one_was_typed(house):
    assert found("Vandersteen")[0].customer.name == "Célestine Prudhomme-Okonkwo"


def test_a_customer_without_a_house_is_found(house):
    lone = make.make_customer(name="Ingeborg Halloran")
    hits = found("halloran")
    assert [(hit.site, hit.customer) for hit in hits] == [(None, lone)]


@pytest.mark.parametrize("typed", ["", "x", "zzyzx", "000-0000"])
def test_nothing_is_found_by_nonsense(house, typed):
    assert found(typed) == []


def test_search_stays_inside_the_houses_a_person_may_read(house):
    assert search("okonkwo", Site.objects.exclude(pk=house.pk), today=TODAY)[0].site is None
    assert search("LK-20417", Site.objects.exclude(pk=house.pk), today=TODAY) == []


@pytest.mark.parametrize(
    ("street", "town", "is_near"),
    [
        ("4417 Alder Slough Road", "Kestrel Ford", True),
        ("4417 Adler Slough Road", "Kestrel Ford", True),
        ("4418 Alder Slough Road", "Kestrel Ford", False),
        ("4417 Beacon Rise", "Fenn Hollow", False),
    ],
)
def test_the_same_address_written_otherwise_is_near(house, street, town, is_near):
    assert near_sites(street, town) == ([house] if is_near else [])


def test_the_same_number_mail_or_name_is_near(house):
    kept = Customer.objects.get(name="Ottilie Vandersteen")
    assert near_customers("Somebody", ["15185550131"], "") == [kept]
    assert near_customers("Somebody", [], kept.email.upper()) == [kept]
    assert near_customers("Vandersteen, Ottilie", [], "") == [kept]
    assert near_customers("Ottilie Brandt", ["15185550198"], "o@example.com") == []


def test_page_shows_why_and_fragment_only_the_list(house, dispatcher_client):
    page = dispatcher_client.get(reverse("search"), {"q": "555-0131"})
    assert "former owner until 2021" in page.content.decode()
    part = dispatcher_client.get(reverse("search"), {"q": "555-0131"}, HTTP_HX_REQUEST="true")
    assert "<html" not in part.content.decode()
    assert "former owner until 2021" in part.content.decode()


@pytest.mark.parametrize("typed", ["Old Mill", "no such word here", "555-01"])
def test_queries_do_not_grow_with_the_houses(
    dispatcher_client, django_assert_max_num_queries, typed
):
    for number in range(60):
        make.make_train(site=make.make_site(street=f"{number} Old Mill Road"))
    with django_assert_max_num_queries(12):
        assert dispatcher_client.get(reverse("search"), {"q": typed}).status_code == 200
