"""All told: pour. Who is asked and told before chlorine goes in, and what stands from then on."""

from datetime import timedelta

import pytest
from django.urls import reverse

from equipment.models import SpecialUse
from jobs.errors import BadEntry, DoNotUseOpen, WrongState
from jobs.models import DoNotUse, Job, PourTold
from jobs.workflows.answers import override_gate
from jobs.workflows.pouring import all_told
from jobs.workflows.records import close_record
from jobs.workflows.timers import start_timer, stop_timer
from jobs.workflows.way_out import WayOut
from tests.acts import HOUR, lifted, poured
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_special_use, make_staff
from tests.record_scenes import acknowledge_all, answer, answer_all, make_house

pytestmark = pytest.mark.django_db


@pytest.fixture
def house():
    record, _, lead = make_house()
    answer(record, lead, "disinfect-scope", "here")
    return record, lead


@pytest.fixture
def neighbour(house):
    record, _ = house
    site = make_site(customer=make_customer(name="M. Okafor", phone="+16075550143"))
    record.train.wells.get().also_serves.add(site)
    return site


def page_of(client, record, **sent):
    where = reverse("record-pour", args=[record.pk])
    return client.post(where, sent) if sent else client.get(where)


def standing(site):
    return list(DoNotUse.objects.standing().at_site(site).values_list("level", "reason"))


def test_no_use_stands_from_the_pouring_on_and_a_stopped_wait_leaves_it(house):
    record, lead = house
    with pytest.raises(WrongState, match="All told: pour"):
        start_timer(record=record, line_key="contact", by=lead, now=NOW)
    assert standing(record.site) == []
    poured(record, lead)
    assert standing(record.site) == [("no_use", "chlorine in well and plumbing")]
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    stop_timer(record=record, line_key="contact", by=lead, now=NOW + HOUR)
    assert standing(record.site) == [("no_use", "chlorine in well and plumbing")]


def test_it_stops_at_every_house_on_the_well_and_each_lifts_by_its_own_taps(house, neighbour):
    record, lead = house
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    notice = DoNotUse.objects.get(site=neighbour)
    with pytest.raises(WrongState, match="working in this water"):
        lifted(notice, lead, at=NOW + 11 * HOUR)
    with pytest.raises(BadEntry, match="Flush on"):
        lifted(notice, lead, at=NOW + 12 * HOUR, hot=1)
    lifted(notice, lead, at=NOW + 12 * HOUR)
    assert standing(neighbour) == []
    assert [level for level, _ in standing(record.site)] == ["no_use"]


def test_next_door_is_not_lifted_before_the_contact_was_begun(house, neighbour):
    """Chlorine that has not reached its taps yet reads as none there."""
    record, lead = house
    poured(record, lead)
    notice = DoNotUse.objects.get(site=neighbour)
    office = signed_in(make_staff("dispatcher"))
    where = reverse("notice-lift", args=[notice.pk])
    page = office.post(where, {"high": "0", "cold": "0", "hot": "0"})
    assert "Chlorine is in this water" in page.content.decode()
    assert [level for level, _ in standing(neighbour)] == ["no_use"]
    late = NOW + HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    lifted(notice, lead, at=late + HOUR)
    assert standing(neighbour) == []


def test_chlorine_flushed_out_before_its_time_is_never_forbidden(house):
    """Stopped after an hour the disinfection is not done; the water may be used again."""
    record, lead = house
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    stop_timer(record=record, line_key="contact", by=lead, now=NOW + HOUR)
    late = NOW + 2 * HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    lifted(DoNotUse.objects.get(site=record.site), lead, at=late + HOUR)
    assert standing(record.site) == []


def test_the_page_asks_each_house_and_keeps_what_it_found(house, neighbour):
    record, lead = house
    client = signed_in(lead)
    html = page_of(client, record).content.decode()
    assert "tel:+1-607-555-0143" in html
    assert "home dialysis" in html
    for words in ("gives off poisonous gas", "never into a tee", "pails of water are drawn"):
        assert html.index(words) < html.index("All told: pour. Tess")
    sent = {f"told-{site.pk}": "an adult" for site in (record.site, neighbour)}
    assert page_of(client, record, **sent).status_code == 422
    sent |= {f"asked-{site.pk}": "on" for site in (record.site, neighbour)}
    sent[f"uses-{neighbour.pk}"] = ["aquarium"]
    assert page_of(client, record, **sent).status_code == 302
    assert SpecialUse.objects.get().site == neighbour
    assert [level for level, _ in standing(neighbour)] == ["no_use"]
    assert (
        "an adult told"
        in client.get(reverse("record-block", args=[record.pk, "disinfect"])).content.decode()
    )


def test_dialysis_next_door_stops_the_pouring_and_is_not_forgotten(house, neighbour):
    record, lead = house
    client = signed_in(lead)
    sent = {}
    for site in (record.site, neighbour):
        sent |= {f"told-{site.pk}": "an adult", f"asked-{site.pk}": "on"}
    sent[f"uses-{neighbour.pk}"] = ["dialysis"]
    page = page_of(client, record, **sent)
    assert page.status_code == 422
    assert "Home dialysis on this water" in page.content.decode()
    assert SpecialUse.objects.get().kind == "dialysis"
    assert not PourTold.objects.exists()
    with pytest.raises(DoNotUseOpen, match="clinic"):
        poured(record, lead)


def test_chlorine_that_is_in_is_kept_and_says_where_nobody_was_told(house, neighbour):
    record, lead = house
    make_special_use(site=neighbour)
    all_told(record=record, told={record.site_id: "C. P."}, is_in_already=True, by=lead, now=NOW)
    assert "nobody here was told" in standing(neighbour)[0][1]
    office = signed_in(make_staff("dispatcher")).get(reverse("worklist")).content.decode()
    assert "nobody here was told before it was poured" in office
    all_told(record=record, told={neighbour.pk: "M. Okafor"}, is_in_already=True, by=lead, now=NOW)
    assert "nobody here was told" not in standing(neighbour)[0][1]
    assert PourTold.objects.filter(record=record).exclude(whom="").count() == 2


def test_nobody_pours_without_a_name_at_each_house(house, neighbour):
    record, lead = house
    with pytest.raises(BadEntry, match="Name the adult"):
        all_told(record=record, told={record.site_id: "C. P."}, by=lead, now=NOW)
    assert standing(record.site) == []


def test_the_hot_tap_is_read_where_the_heater_was_filled_with_chlorine(house):
    record, lead = house
    poured(record, lead)
    answer(record, lead, "heater", "treated")
    late = NOW + 13 * HOUR
    answer(record, lead, "flush-high", "1", now=late)
    answer(record, lead, "flush-low", "0.1", now=late + timedelta(minutes=1))
    client = signed_in(lead)
    lift = reverse("record-lift", args=[record.pk])
    client.post(lift, {"block": "flush"})
    assert [level for level, _ in standing(record.site)] == ["no_use"]
    answer(record, lead, "flush-hot", "0.2", now=late + timedelta(minutes=2))
    client.post(lift, {"block": "flush"})
    assert standing(record.site) == []
    assert DoNotUse.objects.get().lifted_on_reading.endswith("cold tap 0.1, hot tap 0.2")


def test_chlorine_works_on_in_a_record_that_was_closed_over_it():
    """Passed over by name and closed after an hour: typed readings lift nothing before its time."""
    record, visit, lead = make_house(purpose="disinfect", kind=Job.Kind.DISINFECT)
    answer(record, lead, "disinfect-scope", "here")
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    over = ("contact", "flush-high", "flush-low", "flush-hot", "notice-state")
    told, later = {"disinfect-scope": "here", "heater": "treated"}, NOW + HOUR
    answer_all(record, lead, answers=told, without=over, now=later)
    out = WayOut(unplugged=True, bypass="bypassed")
    for key in over:
        said = {"line_key": key, "reason": "called away", "way_out": out}
        override_gate(record=record, by=lead, now=later, **said)
    acknowledge_all(record, lead, now=later)
    close_record(record=record, visit=visit, by=lead, now=later)
    notice = DoNotUse.objects.standing().get(site=record.site, level="no_use")
    for hours in (1, 11.9):
        with pytest.raises(WrongState, match="working in this water"):
            lifted(notice, lead, at=NOW + hours * HOUR)
    lifted(notice, lead, at=NOW + 12 * HOUR)
    assert "no_use" not in [level for level, _ in standing(record.site)]
