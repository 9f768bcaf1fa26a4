"""Houses on one well: dialysis at any of them stops chlorine and oxidant at all of them."""

import pytest
from django.urls import reverse

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import SpecialUse
from jobs.errors import DoNotUseOpen, WrongState
from jobs.models import DialStep
from jobs.workflows.answers import override_gate
from jobs.workflows.dial_back import set_step
from jobs.workflows.notices import clinic_told
from jobs.workflows.records import open_record
from jobs.workflows.way_out import WayOut
from tests.conftest import NOW, signed_in
from tests.factories import make_job, make_site, make_staff, make_visit
from tests.record_scenes import answer, make_house, make_ready

pytestmark = pytest.mark.django_db

TWENTY = PumpSetting(percent=20)


@pytest.fixture
def house(clock):
    """A start-up at a house whose well serves another one."""
    record, visit, lead = make_house(asked=False)
    other = make_site(street="7 Spruce Lane")
    record.train.wells.get().also_serves.add(other)
    return record, other, lead, signed_in(lead)


def note(client, site, kind, *, at):
    """On the page of the house that the technician works at."""
    where = reverse("special-use-new", args=[site.pk]) + f"?house={at.pk}"
    return client.post(where, {"kind": kind, "noted_on": "2026-06-10"}, follow=True)


def fed(record, lead, **how):
    return set_step(record=record, setting=TWENTY, by=lead, now=NOW, **how)


def test_a_technician_notes_a_use_of_the_house_next_door_on_the_page_of_his_own(house):
    record, other, lead, client = house
    page = client.get(reverse("site-detail", args=[record.site_id])).content.decode()
    assert f"{other} gets the same water" in page
    assert "no use noted" in page
    assert client.get(reverse("site-detail", args=[other.pk])).status_code == 404
    shown = note(client, record.site, "dialysis", at=other)
    assert shown.redirect_chain[-1][0] == reverse("site-detail", args=[record.site_id])
    assert "home dialysis." in " ".join(shown.content.decode().split())
    assert SpecialUse.objects.get().site == other


def test_of_a_house_on_another_well_he_notes_nothing(house):
    record, other, lead, client = house
    record.train.wells.get().also_serves.remove(other)
    for at in (other, make_site(street="1 Elm Street")):
        assert note(client, record.site, "dialysis", at=at).status_code == 404
    assert not SpecialUse.objects.exists()


def test_dialysis_next_door_stops_the_oxidant_here_until_its_clinic_knows(house):
    record, other, lead, client = house
    answer(record, lead, "uses-asked", "yes")
    note(client, record.site, "dialysis", at=other)
    with pytest.raises(DoNotUseOpen, match="on this water, at 7 Spruce Lane"):
        fed(record, lead)
    with pytest.raises(DoNotUseOpen, match="7 Spruce Lane"):
        answer(record, lead, "disinfect-scope", "here")
    office = make_staff("dispatcher")
    clinic_told(special_use=SpecialUse.objects.get(), whom="Dr. Fir", by=office, now=NOW)
    assert fed(record, lead).against == ""


def test_dialysis_next_door_stops_a_start_up_before_it_begins(house):
    record, other, lead, client = house
    note(client, record.site, "dialysis", at=other)
    job = make_job(train=record.train, kind="startup")
    make_visit(job=job, lead=make_staff("technician"), starts_at=NOW)
    with pytest.raises(DoNotUseOpen, match="7 Spruce Lane"):
        open_record(job=job, purpose="startup", by=job.visits.get().lead, now=NOW)


def test_what_fed_already_is_kept_against_the_rule(house):
    record, other, lead, client = house
    note(client, record.site, "dialysis", at=other)
    assert "Home dialysis" in fed(record, lead, is_set_already=True).against


def test_no_step_is_set_before_the_uses_of_every_house_were_asked(house):
    record, other, lead, client = house
    with pytest.raises(WrongState, match="Asked at every house this water reaches"):
        fed(record, lead)
    assert not DialStep.objects.exists()
    answer(record, lead, "uses-asked", "yes")
    assert fed(record, lead).number == 1


def test_the_question_is_passed_over_only_with_the_dosing_pump_unplugged(house):
    """And then nothing is fed."""
    record, other, lead, client = house
    told = {"record": record, "line_key": "uses-asked", "reason": "nobody there", "by": lead}
    with pytest.raises(Exception, match="Unplug it"):
        override_gate(**told, now=NOW)
    override_gate(**told, now=NOW, way_out=WayOut(unplugged=True, bypass="bypassed"))
    with pytest.raises(WrongState, match="Asked at every house"):
        fed(record, lead)


def test_other_uses_next_door_are_shown_and_stop_nothing(house):
    record, other, lead, client = house
    answer(record, lead, "uses-asked", "yes")
    shown = note(client, record.site, "aquarium", at=other)
    assert "aquarium or pond." in " ".join(shown.content.decode().split())
    assert fed(record, lead).against == ""


def test_a_house_alone_on_its_well_has_no_neighbours(clock):
    record, _, lead = make_ready()
    page = signed_in(lead).get(reverse("site-detail", args=[record.site_id])).content.decode()
    assert "gets the same water" not in page
