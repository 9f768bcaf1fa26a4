"""What an address may name beside its path: rows the person may see, and never an error page."""

import pytest
from django.urls import reverse

from equipment.models import Measurement
from tests.conftest import NOW, signed_in
from tests.factories import (
    make_job,
    make_measurement,
    make_site,
    make_staff,
    make_train,
    make_visit,
)

pytestmark = pytest.mark.django_db
NONSENSE = ("abc", "-1", "0", "9" * 30, "\u0664", "1e3", " ", "1;2")
FAR_DAYS = ("0001-01-01", "9999-12-31", "1989-12-31", "2101-01-01", "2026-02-30", "never")


@pytest.fixture
def technician_at_work():
    """A technician with a visit at one house; the iron of another house."""
    lead = make_staff("technician")
    train = make_train()
    make_visit(job=make_job(train=train), lead=lead)
    elsewhere = make_measurement(site=make_site(), quantity_key="iron", value=3)
    return lead, train.site, elsewhere


def test_the_figure_of_another_house_is_not_corrected_from_this_one(
    technician_at_work, monkeypatch
):
    lead, site, elsewhere = technician_at_work
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    address = reverse("measurement-new", args=[site.pk])
    page = signed_in(lead).get(f"{address}?corrects={elsewhere.pk}")
    assert page.status_code == 200
    assert "Correct:" not in page.content.decode()
    sent = {
        "about": "site",
        "quantity_key": "iron",
        "text": "0.1",
        "unit": "mg/L",
        "place": "raw",
        "origin": "measured",
        "measured_at": "2026-06-10 09:00",
    }
    signed_in(lead).post(f"{address}?corrects={elsewhere.pk}", sent)
    assert list(Measurement.objects.filter(corrects=elsewhere)) == []


def test_a_figure_of_this_house_is_corrected(technician_at_work, monkeypatch):
    lead, site, _ = technician_at_work
    monkeypatch.setattr("django.utils.timezone.now", lambda: NOW)
    mine = make_measurement(site=site, quantity_key="iron", value=3)
    page = signed_in(lead).get(f"{reverse('measurement-new', args=[site.pk])}?corrects={mine.pk}")
    assert "Correct:" in page.content.decode()


@pytest.mark.parametrize("said", NONSENSE)
def test_a_number_that_is_none_is_no_error_page(dispatcher_client, said):
    site = make_site()
    asked = [
        (reverse("measurement-new", args=[site.pk]), "corrects"),
        (reverse("site-new"), "customer"),
        (reverse("tenure-change", args=[site.pk]), "customer"),
        (reverse("visit-book"), "job"),
        (reverse("visit-book"), "follow_up"),
        (reverse("visit-book"), "site"),
        (reverse("search"), "q"),
    ]
    for address, name in asked:
        assert dispatcher_client.get(address, {name: said}).status_code in (200, 404), address
    well = reverse("well-panels", args=[site.pk])
    assert dispatcher_client.post(f"{well}?well={said}").status_code == 200


@pytest.mark.parametrize("day", FAR_DAYS)
def test_a_day_beyond_the_calendar_is_today(dispatcher_client, day):
    site = make_site()
    for name in ("day", "week", "day-sheet"):
        assert dispatcher_client.get(reverse(name), {"on": day}).status_code == 200, name
    booking = {"site": site.pk, "on": day}
    assert dispatcher_client.get(reverse("visit-book"), booking).status_code == 200


@pytest.mark.parametrize("typed", ["--", "- -", "...", "'\"", "%%", "\u2019"])
def test_signs_alone_find_nothing(dispatcher_client, typed):
    assert dispatcher_client.get(reverse("search"), {"q": typed}).status_code == 200


def test_a_character_that_cannot_be_kept_is_refused(client, dispatcher_client):
    assert dispatcher_client.get(reverse("search"), {"q": "a\0b"}).status_code == 400
    assert dispatcher_client.get("/find\0/").status_code == 400
    sent = {"username": "a\0b", "password": "x"}
    assert client.post(reverse("sign-in"), sent).status_code == 400


def test_a_name_of_five_thousand_characters_is_no_account(client):
    answer = client.post(reverse("sign-in"), {"username": "a" * 5000, "password": "x"})
    assert answer.status_code == 200
    assert "Not signed in" in answer.content.decode()
