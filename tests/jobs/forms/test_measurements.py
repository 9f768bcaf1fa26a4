"""Readings of office and technician: what is unusual is asked about, what is typed is kept."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.models import Measurement
from tests.factories import make_measurement, make_sample, make_site, make_startup_train, make_well

pytestmark = pytest.mark.django_db


def read(client, site, *, query="", **typed):
    sent = {
        "about": "site",
        "quantity_key": "iron",
        "text": "3.2",
        "unit": "mg/L",
        "place": "raw",
        "origin": "measured",
        "measured_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        **typed,
    }
    return client.post(reverse("measurement-new", args=[site.pk]) + query, sent)


def test_an_unusual_figure_is_kept_after_a_second_look_only(dispatcher_client):
    site = make_site()
    answer = read(dispatcher_client, site, text="80")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Correct the figure, or tick here." in page
    assert 'type="checkbox" name="sure"' in page
    assert not Measurement.objects.exists()
    kept = read(dispatcher_client, site, text="80", sure="on")
    assert "<span>80</span>" in dispatcher_client.get(kept.url).content.decode()


def test_a_usual_figure_is_kept_at_once(dispatcher_client):
    site = make_site()
    kept = read(dispatcher_client, site)
    assert "<span>3</span><span>.2</span>" in dispatcher_client.get(kept.url).content.decode()


def test_water_after_a_part_says_after_which(dispatcher_client):
    train = make_startup_train()
    answer = read(dispatcher_client, train.site, place="after_stage")
    assert "after which part the water was taken" in answer.content.decode()
    part = train.stages.get(kind="filter")
    assert read(dispatcher_client, train.site, place="after_stage", place_stage=part.pk).url
    assert Measurement.objects.get().place_stage == part
    assert read(dispatcher_client, train.site, place="tap").status_code == 302


def test_a_correction_stays_about_what_was_wrong(dispatcher_client):
    """Another well and another figure chosen by a slip change nothing."""
    wrong = make_measurement(
        well=make_well(), quantity_key="static_level", value=60, entered_unit="ft"
    )
    site = wrong.well.site
    other = make_well(site=site)
    answer = read(
        dispatcher_client,
        site,
        query=f"?corrects={wrong.pk}",
        about=f"well-{other.pk}",
        quantity_key="total_depth",
        text="62",
        unit="ft",
        place="",
    )
    assert answer.status_code == 302
    right = Measurement.objects.get(corrects=wrong)
    assert (right.well, right.quantity_key, right.value) == (wrong.well, "static_level", 62)


# --- samples ------------------------------------------------------------------------------------


def result(client, sample, **typed):
    sent = {"outcome": "negative", "result_on": timezone.localdate().isoformat(), **typed}
    return client.post(reverse("sample-result", args=[sample.pk]), sent)


def test_a_result_is_one_that_the_laboratory_gave(dispatcher_client):
    sample = make_sample(taken_at=timezone.now() - timedelta(days=2))
    page = dispatcher_client.get(reverse("sample-result", args=[sample.pk])).content.decode()
    assert 'value="waiting"' not in page
    assert 'name="iron"' not in page
    assert result(dispatcher_client, sample, outcome="waiting").status_code == 422


def test_figures_of_a_laboratory_say_whose_they_are(dispatcher_client):
    sample = make_sample(kind="annual", taken_at=timezone.now() - timedelta(days=2))
    answer = result(dispatcher_client, sample, outcome="results", iron="0.4")
    assert answer.status_code == 302
    history = dispatcher_client.get(reverse("site-history", args=[sample.site_id]))
    assert re.search(r"<td>\s*laboratory, ", history.content.decode())


@pytest.mark.parametrize(("said", "status"), [("yes", 302), ("", 302), ("no", 422)])
def test_water_that_still_has_an_oxidant_is_no_bacteria_sample(dispatcher_client, said, status):
    sent = {
        "kind": "bacteria",
        "taken_at": timezone.localtime().strftime("%Y-%m-%dT%H:%M"),
        "place": "tap",
        "residual_free": said,
    }
    site = make_site()
    answer = dispatcher_client.post(reverse("sample-new", args=[site.pk]), sent)
    assert answer.status_code == status
