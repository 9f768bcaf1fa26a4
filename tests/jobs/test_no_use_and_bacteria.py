"""Water that must not be used because of bacteria: readings of chlorine end the half of it.

And chlorine that was poured next door, or whose contact was never begun, counts for the days of
use that come before a sample.
"""

from datetime import timedelta
from importlib import import_module

import pytest
from django.apps import apps
from django.urls import reverse

from equipment.models import Sample
from jobs.errors import WrongState
from jobs.models import DoNotUse
from jobs.workflows.notices import lift_notice
from jobs.workflows.timers import start_timer
from tests.acts import cleared, poured, sampled
from tests.conftest import NOW, signed_in
from tests.factories import make_site, make_staff, make_well
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture
def house(clock):
    clock(NOW)
    site = make_site()
    make_well(site=site, tag="KF-1")
    return site


def raised(client, site, **sent):
    """Somebody opens a notice on the page of the house."""
    sent = {"level": "no_use", "cause": "ecoli", "reason": "brown water after the storm"} | sent
    return client.post(reverse("notice-new", args=[site.pk]), sent)


def levels_at(site):
    return {row.level for row in DoNotUse.objects.standing().at_site(site)}


def reads(client, site):
    return client.get(reverse("site-detail", args=[site.pk])).content.decode()


@pytest.mark.parametrize("cause", ["coliform", "ecoli", "flood", "opened"])
def test_readings_of_chlorine_leave_it_undrinkable(dispatcher_client, house, cause):
    neighbour = make_site()
    house.wells.get().also_serves.add(neighbour)
    assert raised(dispatcher_client, house, cause=cause).status_code == 302
    assert levels_at(house) == {"no_use", "no_drinking"}
    no_use = DoNotUse.objects.get(level="no_use")
    sent = {"high": "0", "cold": "0", "hot": "0"}
    lifting = reverse("notice-lift", args=[no_use.pk])
    assert dispatcher_client.post(lifting, sent).status_code == 302
    assert "Do not use the water" not in reads(dispatcher_client, house)
    assert "Do not drink the water" in reads(dispatcher_client, house)
    assert "Do not drink the water" in reads(dispatcher_client, neighbour)


def test_chlorine_in_the_pipes_is_ended_by_readings_alone(dispatcher_client, house):
    raised(dispatcher_client, house, cause="oxidant")
    assert levels_at(house) == {"no_use"}


def test_of_two_wells_it_is_said_which(dispatcher_client, house):
    other = make_well(site=house, tag="KF-2")
    page = raised(dispatcher_client, house)
    assert "Choose the well: bacteria belong to it." in page.content.decode()
    assert raised(dispatcher_client, house, well=other.pk).status_code == 302
    assert DoNotUse.objects.get(level="no_drinking").well == other
    assert raised(dispatcher_client, house, cause="oxidant").status_code == 302


def test_notices_that_stood_before_the_update_are_undrinkable_after_it(dispatcher_client, house):
    for cause in ("ecoli", "oxidant"):
        site = house if cause == "ecoli" else make_site()
        raised(dispatcher_client, site, cause=cause)
    DoNotUse.objects.filter(level="no_drinking").delete()
    step = import_module("jobs.migrations.0067_no_drinking_beside_no_use")
    for _ in range(2):
        step.open_beside(apps, None)
        notice = DoNotUse.objects.get(level="no_drinking")
        assert (notice.well.tag, notice.cause) == ("KF-1", "ecoli")
    done = cleared(house, apart=8)
    lift_notice(notice=notice, by=make_staff("dispatcher"), now=done)
    step.open_beside(apps, None)
    assert levels_at(house) == {"no_use"}, "what samples have lifted is not opened anew"


# --- days of use after the chlorine ------------------------------------------------------------


@pytest.fixture
def disinfected():
    """Chlorine goes in where a notice stands; nobody presses that its contact begins."""
    record, _, lead = make_house()
    neighbour = make_site()
    record.train.wells.get().also_serves.add(neighbour)
    answer(record, lead, "disinfect-scope", "here")
    return record, lead, neighbour


def test_days_of_use_count_from_the_pouring_where_no_contact_was_begun(disinfected):
    record, lead, _ = disinfected
    site, office = record.site, make_staff("dispatcher")
    sampled(site, outcome="positive", at=NOW - 9 * DAY)
    notice = DoNotUse.objects.get()
    poured(record, lead)
    early = cleared(site, after=NOW - 2 * DAY)
    with pytest.raises(WrongState, match="raw tap: 0 of 2"):
        lift_notice(notice=notice, by=office, now=early)
    page = reads(signed_in(office), site)
    assert "taken 1 day after the chlorine; 5 days of use come first" in page
    done = cleared(site, after=NOW + 3 * DAY)
    assert lift_notice(notice=notice, by=office, now=done).lifted_at == done


def flushed_late(record, lead, *, days):
    """The contact is over after half a day; the chlorine is flushed out days later."""
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    late = NOW + days * DAY
    for key, read in (("flush-high", "0"), ("flush-low", "0.1")):
        answer(record, lead, key, read, now=late)
    return late


def test_days_of_use_count_from_the_flushing_not_from_the_end_of_the_contact(disinfected, clock):
    record, lead, _ = disinfected
    site, office = record.site, make_staff("dispatcher")
    raised(signed_in(office), site, cause="opened", level="no_drinking")
    late = flushed_late(record, lead, days=4)
    clock(cleared(site, after=late, apart=2))
    page = reads(signed_in(office), site)
    assert "taken 2 days after the chlorine; 5 days of use come first" in page
    assert "taken 4 days after the chlorine; 5 days of use come first" in page
    clock(cleared(site, after=late + 3 * DAY))
    assert "a named person may lift it now" in reads(signed_in(office), site)


def test_next_door_they_count_from_when_its_own_taps_were_read(disinfected, clock):
    record, lead, neighbour = disinfected
    office = make_staff("dispatcher")
    well = record.train.wells.get()
    raised(signed_in(office), neighbour, cause="opened", level="no_drinking")
    read_at = flushed_late(record, lead, days=1) + 3 * DAY
    clock(read_at)
    notice = DoNotUse.objects.get(site=neighbour, level="no_use")
    sent = {"high": "0", "cold": "0.1", "hot": "0.1"}
    lifting = reverse("notice-lift", args=[notice.pk])
    assert signed_in(office).post(lifting, sent).status_code == 302
    clock(cleared(neighbour, after=read_at, apart=2, well=well))
    assert "taken 2 days after the chlorine" in reads(signed_in(office), neighbour)


def test_chlorine_of_a_record_next_door_counts_for_the_kitchen_of_this_house(disinfected):
    record, lead, neighbour = disinfected
    well, kitchen = record.train.wells.get(), Sample.Place.KITCHEN
    sampled(neighbour, at=NOW - 9 * DAY, well=well)
    sampled(neighbour, kitchen, "positive", at=NOW - 9 * DAY, well=well)
    notice = DoNotUse.objects.get()
    assert notice.well is None
    poured(record, lead)
    for days in (1, 4):
        sampled(neighbour, kitchen, at=NOW + days * DAY, well=well)
    with pytest.raises(WrongState, match="kitchen tap: 0 of 2"):
        lift_notice(notice=notice, by=lead, now=NOW + 6 * DAY)
