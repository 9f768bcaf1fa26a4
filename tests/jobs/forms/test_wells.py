"""A well as it is entered: its day, its tag, its neighbours, and who says what."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import Measurement, Well
from jobs.models.company import company_day
from tests.conftest import NOW
from tests.factories import make_site, make_well

pytestmark = pytest.mark.django_db


def entered(client, site, **typed):
    sent = {"tag": "LK-20417", "kind": "drilled", "status": "active", "control": "switch", **typed}
    return client.post(reverse("well-new", args=[site.pk]), sent)


@pytest.mark.parametrize(("days", "status"), [(0, 302), (1, 422)])
def test_a_well_was_drilled_today_at_the_latest(dispatcher_client, clock, days, status):
    day = company_day(NOW) + timedelta(days=days)
    answer = entered(dispatcher_client, make_site(), drilled_on=day.isoformat())
    assert answer.status_code == status
    assert ("The day of drilling lies ahead." in answer.content.decode()) == (status == 422)
    assert Well.objects.count() == (status == 302)


def test_one_tag_is_one_well_whatever_its_letters(dispatcher_client):
    known = make_well(tag="lk-20417")
    answer = entered(dispatcher_client, make_site())
    assert answer.status_code == 422
    assert f"The well at {known.site} has this tag." in answer.content.decode()


def test_a_well_keeps_its_own_tag_when_it_is_corrected(dispatcher_client):
    well = make_well(tag="LK-20417")
    sent = {"tag": "LK-20417", "kind": "dug", "status": "active", "control": "switch", "version": 1}
    where = reverse("well-edit", args=[well.pk])
    assert dispatcher_client.post(where, sent).status_code == 302
    assert Well.objects.get().kind == "dug"


def test_houses_of_the_town_may_share_the_well_but_not_the_house_itself(dispatcher_client):
    site = make_site(town="Larkmoor")
    neighbour = make_site(town="Larkmoor", street="1 Ferry Stage")
    make_site(town="Kestrel Ford", street="2 Far Away")
    page = dispatcher_client.get(reverse("well-new", args=[site.pk])).content.decode()
    offered = page.split('name="also_serves"', 1)[1].split("</select>")[0]
    assert "1 Ferry Stage" in offered
    assert "2 Far Away" not in offered
    assert f'value="{site.pk}"' not in offered
    assert entered(dispatcher_client, site, also_serves=[neighbour.pk]).status_code == 302
    assert list(Well.objects.get().also_serves.all()) == [neighbour]


def test_a_told_figure_is_the_owners_word_unless_somebody_else_is_named(dispatcher_client):
    figures = {"figure-total_depth": "240", "figure-people": "3"}
    site = make_site()
    assert entered(dispatcher_client, site, **figures).status_code == 302
    rows = {row.quantity_key: row for row in Measurement.objects.all()}
    assert {row.origin for row in rows.values()} == {"owner_says"}
    assert (rows["total_depth"].well, rows["total_depth"].site) == (Well.objects.get(), None)
    assert (rows["people"].well, rows["people"].site) == (None, site)
