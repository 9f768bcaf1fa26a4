"""The boxes of a bottle and of its result, up to the notice they lift."""

from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from equipment.models import Sample
from jobs.models import DoNotUse
from tests.acts import HOUR, sampled
from tests.conftest import NOW, signed_in
from tests.factories import make_staff, make_well

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def by():
    return make_staff("dispatcher")


@pytest.fixture
def house():
    site = make_well().site
    sampled(site, outcome="positive", at=NOW - 3 * DAY)
    return site


def test_what_is_typed_on_the_pages_lifts_it(house, by, monkeypatch):
    """The same from the boxes: place, strip, hour of the laboratory, its accreditation."""
    notice, office = DoNotUse.objects.get(), signed_in(by)
    local = "%Y-%m-%dT%H:%M"
    for number in range(4):
        taken = NOW + (1 + 3 * (number // 2)) * DAY
        monkeypatch.setattr("django.utils.timezone.now", lambda at=taken + 2 * DAY: at)
        bottle = {
            "kind": "bacteria",
            "taken_at": timezone.localtime(taken).strftime(local),
            "place": ("raw", "tap")[number % 2],
            "residual_free": "yes",
        }
        assert office.post(reverse("sample-new", args=[house.pk]), bottle).status_code == 302
        sheet = {
            "outcome": "negative",
            "result_on": (taken + 2 * DAY).date().isoformat(),
            "received_at": timezone.localtime(taken + 20 * HOUR).strftime(local),
            "is_accredited": "yes",
        }
        newest = Sample.objects.latest("pk")
        assert office.post(reverse("sample-result", args=[newest.pk]), sheet).status_code == 302
    assert office.post(reverse("notice-lift", args=[notice.pk]), {}).status_code == 302
    notice.refresh_from_db()
    assert notice.lifted_by == by


def test_the_words_of_older_bottles_are_no_tap_to_choose(house, by):
    page = signed_in(by).get(reverse("sample-new", args=[house.pk])).content.decode()
    assert 'value="raw"' in page
    assert 'value="as_written"' not in page


@pytest.mark.parametrize(
    ("place", "named", "field"),
    [
        ("as_written", {}, "place"),
        ("", {}, "place"),
        ("after_stage", {}, "place_stage"),
        ("other_tap", {"tap_name": " "}, "tap_name"),
    ],
)
def test_a_place_is_one_of_the_list_with_what_belongs_to_it(house, by, place, named, field):
    sent = {"kind": "bacteria", "taken_at": "2026-06-01T09:00", "place": place, **named}
    page = signed_in(by).post(reverse("sample-new", args=[house.pk]), sent)
    assert page.status_code == 422
    assert f'href="#id_{field}"' in page.content.decode()
