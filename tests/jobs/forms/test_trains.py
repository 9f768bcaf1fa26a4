"""What the forms of a system and its parts offer, and what they do not take."""

import pytest
from django.urls import reverse

from equipment.models import Stage
from jobs.workflows.people import close_account
from tests.factories import (
    make_medium,
    make_product,
    make_staff,
    make_startup_train,
    make_train,
    make_vessel,
    make_well,
)

pytestmark = pytest.mark.django_db


def form_of(client, train, kind):
    return client.get(reverse("stage-new", args=[train.pk]), {"kind": kind}).content.decode()


def test_what_is_out_of_use_and_what_is_not_fed_is_not_offered(dispatcher_client):
    make_product("fed", name="Fed from the tank")
    make_product("shock", name="Poured into wells", for_feeding=False)
    make_product("old", name="No longer bought", is_active=False)
    page = form_of(dispatcher_client, make_train(), "feeder")
    assert "Fed from the tank" in page
    assert "Poured into wells" not in page
    assert "No longer bought" not in page


@pytest.mark.parametrize(("without", "status"), [("", 302), ("medium", 422), ("vessel", 422)])
def test_a_part_that_could_not_be_computed_with_is_refused(dispatcher_client, without, status):
    train = make_train()
    sent = {"kind": "filter", "position": 1, "parallel_count": 1, "fitted_on": "2026-06-01"}
    sent |= {"vessel": make_vessel().pk, "medium": make_medium().pk}
    sent.pop(without, None)
    where = f"{reverse('stage-new', args=[train.pk])}?kind=filter"
    assert dispatcher_client.post(where, sent).status_code == status
    assert Stage.objects.filter(train=train).count() == (status == 302)


def test_who_left_the_company_fits_nothing_any_more(dispatcher_client, dispatcher, now):
    gone = make_staff("technician", first_name="Gus", last_name="Left")
    make_staff("technician", first_name="Tess", last_name="Stays")
    close_account(user=gone, by=dispatcher, now=now)
    page = form_of(dispatcher_client, make_train(), "retention")
    assert "Tess Stays" in page
    assert "Gus Left" not in page


@pytest.mark.parametrize(("well", "status"), [("switched", 302), ("driven", 422)])
def test_the_wells_that_are_ticked_are_those_it_is_judged_by(dispatcher_client, well, status):
    train = make_startup_train()
    driven = make_well(site=train.site, control="constant")
    wells = {"switched": train.wells.get().pk, "driven": driven.pk}
    sent = {"name": "House system", "injection": "before", "switching": "switch_load"}
    sent |= {"circuit_voltage": "120", "version": 1, "wells": [wells[well]]}
    page = dispatcher_client.post(reverse("train-edit", args=[train.pk]), sent)
    assert page.status_code == status
    assert ("leads of a variable-speed drive" in page.content.decode()) == (status == 422)
