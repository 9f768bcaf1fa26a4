"""Pages tell acts through the same door: what the phone has kept, or made here without script."""

import json
from datetime import timedelta
from uuid import uuid4

import pytest
from django.test import override_settings
from django.urls import reverse

from jobs.acts.door import LIVE
from jobs.models import Act, SubmittedForm
from tests.factories import make_staff
from tests.record_scenes import make_ready

from .phone import LATER, Phone, kept

pytestmark = pytest.mark.django_db
SECOND = timedelta(seconds=1)


def typed(phone, act, **boxes):
    """The request of a box that was left, with the act that the phone keeps of it."""
    address = reverse("record-answer", args=[phone.record.pk])
    told = {"item": "raw-iron", **boxes}
    if act:
        told["act"] = json.dumps(act)
    return phone.client.post(address, told, headers={"HX-Request": "true"})


def test_what_a_page_repeats_of_a_kept_act_has_one_effect_with_it(phone):
    act = phone.act("answer", line="raw-iron", text="3", unit="mg/L", version=0, at=LATER)
    by_page = typed(phone, act)
    by_queue = phone.send(act)
    assert (by_page.status_code, by_page["X-Act"]) == (200, f"{act['uuid']} kept 1")
    assert by_queue.json() == {"state": "kept", "version": 1, "again": True}
    assert kept(phone.record) == [("3", 1)]


def test_the_queue_may_be_first(phone):
    act = phone.act("answer", line="raw-iron", text="3", unit="mg/L", version=0, at=LATER)
    phone.send(act)
    assert typed(phone, act)["X-Act"] == f"{act['uuid']} kept 1"
    assert kept(phone.record) == [("3", 1)]


def test_a_refused_act_comes_back_with_its_sentence_and_what_was_typed(phone):
    act = phone.act("answer", line="raw-iron", text="abc", version=0, at=LATER)
    answer = typed(phone, act, **{"raw-iron": "abc"})
    assert (answer.status_code, answer["X-Act"]) == (422, f"{act['uuid']} refused 0")
    assert 'value="abc"' in answer.content.decode()
    assert kept(phone.record) == []


def test_an_act_that_goes_after_one_that_is_on_its_way_waits(phone):
    act = phone.act("answer", line="raw-iron", text="3", after=str(uuid4()), at=LATER)
    assert typed(phone, act).status_code == 425
    assert not Act.objects.exists()


@pytest.mark.parametrize("how", ["other person", "other kind", "other record", "no act"])
def test_an_act_that_belongs_elsewhere_is_not_taken(phone, how):
    act = phone.act("answer", line="raw-iron", text="3", version=0, at=LATER)
    if how == "other person":
        act = {**act, "user": make_staff("technician").pk}
    elif how == "other kind":
        act = {**act, "kind": "skip"}
    elif how == "other record":
        act = {**act, "record": str(uuid4())}
    else:
        act = {"uuid": 7}
    assert typed(phone, act).status_code == 400
    assert not Act.objects.exists()


def test_without_script_a_box_is_an_act_of_its_own(phone):
    answer = typed(phone, None, **{"raw-iron": "3", "raw-iron~unit": "mg/L"})
    assert answer.status_code == 200
    row = Act.objects.get()
    assert (row.kind, row.body["payload"]["text"], row.by_phone) == ("answer", "3", False)
    assert kept(phone.record) == [("3", 1)]


def test_a_form_sent_twice_is_one_act_and_leads_to_the_same_place(phone):
    phone.client.post(reverse("visit-arrive", args=[phone.visit.pk]))
    address = reverse("visit-no-access", args=[phone.visit.pk])
    page = phone.client.get(address).content.decode()
    once = page.split('name="once" value="')[1].split('"')[0]
    posted = {"once": once, "note": "Nobody opened."}
    first, second = phone.client.post(address, posted), phone.client.post(address, posted)
    assert first.status_code == second.status_code == 302
    assert first["Location"] == second["Location"]
    assert list(Act.objects.values_list("kind", flat=True)) == ["arrive", "no-access"]
    assert not SubmittedForm.objects.exists()


def test_a_refusal_that_somebody_waits_for_is_no_news_to_the_office(phone):
    for ago, told in ((LIVE, False), (LIVE + SECOND, True)):
        act = phone.act("answer", line="raw-iron", text="abc", version=0, at=LATER - ago)
        assert phone.send(act).json()["state"] == "refused"
        assert Act.objects.waiting().filter(uuid=act["uuid"]).exists() is told


def test_a_record_closed_by_a_press_says_why_not(phone):
    address = reverse("record-close", args=[phone.record.pk])
    answer = phone.client.post(address)
    assert answer.status_code == 422
    assert Act.objects.get().answer.state == "refused"


def test_a_record_that_is_ready_closes_by_its_act():
    record, visit, lead = make_ready()
    phone = Phone(lead, record, visit)
    assert phone.client.post(reverse("record-close", args=[record.pk])).status_code == 302
    record.refresh_from_db()
    assert record.is_closed
    assert Act.objects.get().kind == "record-close"


def test_technicians_alone_have_a_line_that_says_what_waits(phone, dispatcher_client):
    page = phone.client.get(reverse("my-day")).content.decode()
    assert f'data-user="{phone.user.pk}"' in page
    assert 'data-keeps="yes"' in page
    assert 'id="sent"' not in dispatcher_client.get(reverse("worklist")).content.decode()


@override_settings(FIELD_OFFLINE=False)
def test_switched_off_phones_are_told_to_keep_nothing_new(phone):
    assert phone.client.get(reverse("field-hello")).json()["halt"] is True
    assert 'data-keeps="no"' in phone.client.get(reverse("my-day")).content.decode()
