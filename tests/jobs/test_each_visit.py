"""What is asked again on the next visit, and what is not passed over while the dosing pump runs."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.errors import BadEntry
from jobs.fieldwork.cautions import CAUTIONS, GRAVEST_FIRST, is_red
from jobs.models import DoNotUse
from jobs.records.loading import load_sheet
from jobs.workflows.answers import acknowledge_caution, override_gate, take_back_override
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.way_out import WayOut
from tests.acts import arrived, booked
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
LEFT = WayOut(unplugged=True, bypass="bypassed")


@pytest.fixture
def house():
    record, visit, lead = make_house()
    arrived(visit, at=NOW)
    return record, visit, lead


def next_day(record, visit, lead):
    """The first visit ends; another person comes the day after."""
    ending = Ending("incomplete_time", "unplugged", "bypassed")
    close_visit(visit=visit, ending=ending, by=lead, now=NOW + timedelta(hours=3))
    other = make_staff("technician", first_name="Rob", last_name="Finch")
    second = booked(record.job, other, at=NOW + DAY, now=NOW)
    arrived(second, at=NOW + DAY)
    return second, other


# --- one visit ----------------------------------------------------------------------------------


def test_ticks_of_isolation_are_asked_again_of_the_next_person(house):
    record, visit, lead = house
    answer(record, lead, "isolated", "yes", now=NOW)
    answer(record, lead, "scope", "new", now=NOW)
    assert load_sheet(record, now=NOW).item("isolated").state == "passed"
    _, other = next_day(record, visit, lead)
    sheet = load_sheet(record, now=NOW + DAY)
    assert sheet.item("isolated").state == "open"
    assert sheet.item("scope").state == "answered", "only isolation is of one visit"
    html = signed_in(other).get(reverse("record-block", args=[record.pk, "isolate"]))
    assert 'name="isolated" value="yes" checked' not in " ".join(html.content.decode().split())
    kept = answer(record, other, "isolated", "yes", now=NOW + DAY)
    assert kept.by == other
    assert load_sheet(record, now=NOW + DAY).item("isolated").state == "passed"


def test_a_stop_is_read_by_name_on_each_visit(house):
    record, visit, lead = house
    acknowledge_caution(record=record, caution="pressure", by=lead, now=NOW)
    acknowledge_caution(record=record, caution="pressure", by=lead, now=NOW)
    assert record.acknowledgements.count() == 1
    assert "pressure" in load_sheet(record, now=NOW).acknowledged()
    _, other = next_day(record, visit, lead)
    sheet = load_sheet(record, now=NOW + DAY)
    assert "pressure" not in sheet.acknowledged()
    assert "caution-pressure" in [row.key for row in sheet.missing()]
    acknowledge_caution(record=record, caution="pressure", by=other, now=NOW + DAY)
    assert load_sheet(record, now=NOW + DAY).acknowledged()["pressure"].by == "Rob Finch"


def test_three_stops_at_most_are_read_by_name(house):
    record, _, lead = house
    record.train.wells.update(head_in_pit=True)
    answer(record, lead, "disinfect-scope", "here")
    sheet = load_sheet(record, now=NOW)
    assert set(sheet.red_cautions()) == {"pit", "no-use", "oxidant"}
    shown = {key for block in sheet.blocks for key in sheet.cautions_of(block)}
    assert "pressure" in shown, "it is shown all the same"


def test_every_stop_has_its_rank():
    assert sorted(GRAVEST_FIRST) == sorted(filter(is_red, CAUTIONS))


def test_cautions_stand_before_the_box_whose_act_they_change(house):
    record, _, lead = house
    answer(record, lead, "disinfect-scope", "here")
    client = signed_in(lead)
    for block, words, box in (
        ("isolate", "where its current comes from", 'name="switching"'),
        ("isolate", "drain water must not come back", 'name="air-gap"'),
        ("disinfect", "hypochlorite with anything else", 'name="chlorine-product"'),
        ("disinfect", "the way the chlorine goes in", 'name="chlorine-poured"'),
        ("flush", "where the water goes", 'name="flush-place"'),
    ):
        html = client.get(reverse("record-block", args=[record.pk, block])).content.decode()
        assert html.index(words) < html.index(box) < html.index("Next: ")


def page_of(lead, record, block):
    where = reverse("record-block", args=[record.pk, block])
    return signed_in(lead).get(where).content.decode()


def test_a_start_up_asks_who_must_not_get_the_water_before_it_feeds(house):
    """Also where nothing is disinfected; it does not close before that was asked."""
    record, _, lead = house
    answer(record, lead, "disinfect-scope", "not_needed")
    answer(record, lead, "uses-asked", "")
    assert "home dialysis, aquarium or pond, animals" in page_of(lead, record, "isolate")
    assert "uses-asked" in [row.key for row in load_sheet(record, now=NOW).missing()]
    answer(record, lead, "uses-asked", "yes")
    assert "uses-asked" not in [row.key for row in load_sheet(record, now=NOW).missing()]


def test_a_bypass_and_the_ground_are_named_so_that_nobody_reads_them_otherwise(house):
    record, _, lead = house
    html = page_of(lead, record, "handover")
    assert "SERVICE (treated)" in html
    assert "BYPASS (untreated, unplug the dosing pump)" in html
    answer(record, lead, "disinfect-scope", "here")
    assert "away from well, septic system, plants, ditch and stream" in page_of(
        lead, record, "flush"
    )


# --- not while it runs --------------------------------------------------------------------------


@pytest.mark.parametrize("key", ["stop-first", "flush-low", "peroxide-after", "bypass-left"])
@pytest.mark.parametrize(
    "way_out", [None, WayOut(unplugged=True), WayOut(bypass="bypassed"), WayOut(True, "none")]
)
def test_it_is_not_passed_over_while_the_dosing_pump_runs(house, key, way_out):
    record, _, lead = house
    said = {"record": record, "line_key": key, "reason": "later", "by": lead, "now": NOW}
    with pytest.raises(BadEntry, match="while the dosing pump runs"):
        override_gate(**said, way_out=way_out)
    assert not DoNotUse.objects.exists()
    assert override_gate(**said, way_out=LEFT).reason.startswith("later (dosing pump unplugged")
    assert DoNotUse.objects.standing().get().level == "no_use"


def test_the_page_offers_the_way_out_and_says_it(house):
    record, _, lead = house
    client, where = signed_in(lead), reverse("record-block", args=[record.pk, "stop-test"])
    sent = {"over": "stop-first", "stop-first~over": "relay ordered"}
    refused = client.post(where, sent)
    assert refused.status_code == 422
    assert "Unplug it, say how the bypass is left" in refused.content.decode()
    sent |= {"stop-first~unplugged": "yes", "stop-first~bypass": "bypassed"}
    assert client.post(where, sent).status_code == 302
    office = signed_in(make_staff("dispatcher"))
    house_page = office.get(reverse("site-detail", args=[record.site_id])).content.decode()
    assert "Passed over: stops with the water: seconds, first time" in house_page


def test_the_visit_does_not_end_with_the_dosing_pump_on(house):
    record, visit, lead = house
    said = {"record": record, "line_key": "stop-first", "reason": "relay ordered"}
    override_gate(**said, way_out=LEFT, by=lead, now=NOW)
    on = Ending("incomplete_parts", "on", "service")
    with pytest.raises(BadEntry, match="The dosing pump stays unplugged") as refused:
        close_visit(visit=visit, ending=on, by=lead, now=NOW + timedelta(hours=1))
    assert refused.value.field == "feeder_left"
    take_back_override(record=record, line_key="stop-first", by=lead, now=NOW)
    assert close_visit(visit=visit, ending=on, by=lead, now=NOW + timedelta(hours=1)).left_at
