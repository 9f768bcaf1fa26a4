"""The door for phones: one act, one effect, one answer, whatever happens on the way."""

from concurrent.futures import ThreadPoolExecutor
from datetime import timedelta
from threading import Barrier
from uuid import uuid4

import pytest
from django.db import connection
from django.test import Client
from django.urls import reverse

from equipment.models import Stage
from jobs.models import Act, ActAnswer, DialStep, DoNotUse, Visit
from jobs.workflows.people import close_account
from jobs.workflows.records import close_record
from jobs.workflows.trains import replace_stage
from tests.acts import moved
from tests.conftest import NOW, signed_in
from tests.factories import make_special_use, make_staff
from tests.record_scenes import answer, make_house, make_ready

from .phone import LATER, MINUTE, Phone, kept

pytestmark = pytest.mark.django_db


# --- hello ------------------------------------------------------------------------------------


def test_hello_says_the_time_who_is_there_and_what_is_taken(phone):
    said = phone.client.get(reverse("field-hello")).json()
    assert (said["user"], said["oldest_act"]) == (phone.user.pk, 1)
    assert said["now"].startswith("2026-06-10T16:00:00")
    assert said["csrf"]
    assert said["app"]


def test_without_a_session_no_page_is_shown(phone):
    hello = Client().get(reverse("field-hello"))
    sent = Client().post(reverse("field-acts"), {}, content_type="application/json")
    assert hello.json() == sent.json() == {"error": "session"}
    assert hello.status_code == sent.status_code == 401


def test_a_closed_account_is_told_so(phone, owner):
    close_account(user=phone.user, by=owner, now=LATER)
    answer = phone.client.get(reverse("field-hello"))
    assert (answer.status_code, answer.json()) == (401, {"error": "closed"})


def test_who_is_no_technician_has_no_phone(dispatcher_client):
    answer = dispatcher_client.get(reverse("field-hello"))
    assert (answer.status_code, answer.json()) == (403, {"error": "role"})


def test_a_wrong_token_is_said_in_a_word_and_hello_gives_the_next(phone):
    client = Client(enforce_csrf_checks=True)
    client.force_login(phone.user, backend="django.contrib.auth.backends.ModelBackend")
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    refused = client.post(reverse("field-acts"), act, content_type="application/json")
    assert (refused.status_code, refused.json()) == (403, {"error": "csrf"})
    token = client.get(reverse("field-hello")).json()["csrf"]
    again = client.post(
        reverse("field-acts"), act, content_type="application/json", headers={"X-CSRFToken": token}
    )
    assert again.json()["state"] == "kept"


# --- once -------------------------------------------------------------------------------------


def test_an_act_is_kept_with_its_moment_and_told_again_has_one_effect(phone):
    act = phone.act("answer", line="raw-iron", text="3", unit="mg/L", version=0, at=NOW + MINUTE)
    first, second = phone.send(act), phone.send(act)
    assert first.json() == {"state": "kept", "version": 1}
    assert second.json() == {"state": "kept", "version": 1, "again": True}
    assert first["X-Act"] == second["X-Act"] == f"{act['uuid']} kept 1"
    row = phone.record.answers.get(line_key="raw-iron")
    assert (row.text, row.read_at, row.saved_at) == ("3", NOW + MINUTE, LATER)
    assert (Act.objects.count(), ActAnswer.objects.count()) == (1, 1)


def test_the_order_of_its_words_makes_no_other_act(phone):
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    phone.send(act)
    assert phone.send(dict(reversed(act.items()))).json()["again"]


def test_the_same_name_with_another_content_is_set_aside(phone):
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    phone.send(act)
    other = phone.send({**act, "payload": {**act["payload"], "text": "4"}})
    assert (other.status_code, other.json()["error"]) == (422, "other")
    assert kept(phone.record) == [("3", 1)]


def test_the_name_of_somebody_elses_act_tells_nothing(phone):
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    phone.send(act)
    other = Phone(make_staff("technician"))
    answer = other.send({**act, "user": other.user.pk})
    assert (answer.status_code, answer.json()) == (404, {"error": "unknown"})


def test_acts_of_another_person_are_not_taken(phone):
    """The phone of two: the second signs in while acts of the first wait."""
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    other = Phone(make_staff("technician"))
    assert (other.send(act).status_code, other.send(act).json()) == (403, {"error": "person"})
    assert not Act.objects.exists()
    assert phone.send(act).json()["state"] == "kept"


def at_the_same_moment(user, act, barrier):
    client = signed_in(user)
    try:
        barrier.wait(20)
        answer = client.post(reverse("field-acts"), act, content_type="application/json")
        return answer.status_code, answer.json()
    finally:
        connection.close()


@pytest.mark.django_db(transaction=True)
def test_two_tabs_at_the_same_moment_have_one_effect():
    record, visit, lead = make_house()
    phone = Phone(lead, record, visit)
    for number in range(8):
        act = phone.act("answer", line="raw-iron", text=f"{number + 1}", version=number)
        barrier = Barrier(2)
        with ThreadPoolExecutor(2) as tabs:
            both = [tabs.submit(at_the_same_moment, lead, act, barrier) for _ in range(2)]
            answers = [tab.result(60) for tab in both]
        assert sorted(said.pop("again", False) for _, said in answers) == [False, True]
        assert answers[0] == answers[1] == (200, {"state": "kept", "version": number + 1})
    assert kept(record) == [("8", 8)]


@pytest.mark.parametrize(
    "said",
    [
        b"",
        b"[]",
        b"{",
        b"{}",
        b"NaN",
        b'{"uuid": 7}',
        b"[" * 5000,
        b'{"uuid": "' + b"9" * 6000 + b'"}',
        b"\xff\xfe3",
    ],
)
def test_what_is_no_act_is_said_so(phone, said):
    answer = phone.client.post(reverse("field-acts"), said, content_type="application/json")
    assert (answer.status_code, answer.json()["error"]) == (422, "unreadable")


@pytest.mark.parametrize(
    "wrong",
    [
        {"uuid": "no name"},
        {"uuid": None},
        {"at": "yesterday"},
        {"at": "2026-06-10T14:00:00"},
        {"at": None},
        {"payload": "text"},
        {"payload": {"text": "a\0b"}},
        {"payload": {"text": "\ud800"}},
        {"payload": {"version": 10**40}},
        {"act": 2},
        {"user": "7"},
        {"kind": 7},
        {"record": "no uuid"},
    ],
)
def test_an_act_with_a_word_that_cannot_be_kept_is_none(phone, wrong):
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    answer = phone.send({**act, **wrong})
    assert (answer.status_code, answer.json()["error"]) == (422, "unreadable")
    assert not Act.objects.exists()


def test_an_act_is_small(phone):
    answer = phone.send(phone.act("answer", line="raw-iron", text="3" * 70000, version=0))
    assert answer.status_code == 422


def test_a_shape_that_is_not_taken_any_more_renews_the_phone(phone):
    answer = phone.send({**phone.act("answer", line="raw-iron", text="3"), "act": 0})
    assert (answer.status_code, answer.json()["oldest_act"]) == (426, 1)


@pytest.mark.parametrize(
    ("kind", "payload"),
    [
        ("answer", {"line": 7, "text": "3"}),
        ("answer", {"line": "raw-iron", "text": 3}),
        ("answer", {"line": "raw-iron", "text": "3", "dilution": "two"}),
        ("answer", {"line": "raw-iron", "text": "3", "stage": -1}),
        ("answer", {"line": "wash-hour", "text": "4", "stage": 999999}),
        ("skip", {"line": "raw-iron", "stage": 999999, "reason": "x"}),
        ("skip", {}),
        ("step-set", {"setting_percent": "much"}),
        ("step-read", {"number": 9, "look": "clear", "band": "5-10"}),
        ("timer-start", {"line": "nowhere", "sure": True}),
        ("fill", {"part": "x"}),
        ("notice", {"site": 0}),
        ("lift", {}),
    ],
)
def test_what_cannot_be_read_is_refused_with_a_sentence(phone, kind, payload):
    said = phone.tell(kind, **payload)
    assert said["state"] == "refused"
    assert said["sentence"]


# --- one after another ------------------------------------------------------------------------


def test_two_acts_in_one_box_do_not_conflict_with_each_other(phone):
    first = phone.act("answer", line="raw-iron", text="3", version=0)
    second = phone.act("answer", line="raw-iron", text="4", version=0, after=first["uuid"])
    early = phone.send(second)
    assert (early.status_code, early.json()) == (409, {"error": "earlier", "uuid": first["uuid"]})
    assert not Act.objects.exists()
    assert phone.send(first).json()["version"] == 1
    assert phone.send(second).json() == {"state": "kept", "version": 2}
    assert kept(phone.record) == [("4", 2)]


def test_also_where_the_first_was_refused(phone):
    first = phone.answer("raw-ph", "71")
    assert (first["state"], first["version"]) == ("refused", 0)
    assert phone.answer("raw-ph", "7.1", after=first["uuid"]) | {"uuid": 0} == {
        "state": "kept",
        "version": 1,
        "uuid": 0,
    }


def test_somebody_else_put_another_value(phone):
    helper = make_staff("technician", first_name="Ray", last_name="Elder")
    Visit.objects.filter(pk=phone.visit.pk).update(helper=helper)
    Phone(helper, phone.record, phone.visit).answer("raw-iron", "3", unit="mg/L")
    said = phone.answer("raw-iron", "5", unit="mg/L")
    assert (said["state"], said["version"], said["standing"]) == ("look", 0, 1)
    assert (said["by"], said["theirs"]["text"], said["mine"]["text"]) == ("Ray Elder", "3", "5")
    assert kept(phone.record) == [("3", 1)]
    mine = phone.answer("raw-iron", "5", unit="mg/L", version=said["standing"])
    assert (mine["state"], kept(phone.record)) == ("kept", [("5", 2)])


def test_the_same_value_of_two_people_is_one_answer(phone):
    helper = make_staff("technician")
    Visit.objects.filter(pk=phone.visit.pk).update(helper=helper)
    Phone(helper, phone.record, phone.visit).answer("raw-iron", "3")
    assert phone.answer("raw-iron", "3")["state"] == "kept"
    assert kept(phone.record) == [("3", 1)]


def test_a_step_is_named_by_the_act_that_set_it(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    made = phone.tell("step-set", setting_percent=20)
    assert made["step"] == 1
    seen = {"look": "clear", "band": "5-10"}
    read = phone.tell("step-read", needs=made["uuid"], at=NOW + 60 * MINUTE, **seen)
    assert (read["state"], DialStep.objects.get().residual_low_mg_l) == ("kept", 5)
    unknown = phone.send(phone.act("step-keep", needs=uuid4()))
    assert unknown.status_code == 409


def test_what_needs_an_act_that_was_refused_is_refused_with_it(phone):
    made = phone.tell("step-set", setting_percent=200)
    assert made["state"] == "refused"
    said = phone.tell("step-read", needs=made["uuid"], look="clear", band="5-10")
    assert said["sentence"] == "What this act needs was not kept."


def test_not_a_number_among_good_ones_and_the_rest_goes_on(phone):
    states = [
        phone.answer(line, text)["state"]
        for line, text in (("raw-iron", "3"), ("raw-sulfide", "much"), ("raw-ph", "7"))
    ]
    assert states == ["kept", "refused", "kept"]


# --- what meets what --------------------------------------------------------------------------


def test_the_record_was_closed_meanwhile():
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=6))
    phone = Phone(lead, record, visit)
    said = phone.answer("raw-iron", "9", version=1)
    assert said["state"] == "refused"
    assert "closed" in said["sentence"]
    row = Act.objects.waiting().get()
    assert (row.body["payload"]["text"], row.answer.record) == ("9", record)


def test_the_visit_went_to_a_colleague(phone):
    other = make_staff("technician")
    moved(phone.visit, at=NOW + timedelta(hours=4), lead=other, now=LATER)
    said = phone.answer("raw-iron", "3")
    assert said["state"] == "refused"
    assert "Only who leads or helps" in said["sentence"]
    gone = phone.tell("arrive")
    assert "not yours any more" in gone["sentence"]
    assert Act.objects.waiting().count() == 2


def test_dialysis_was_noted_meanwhile_what_was_set_is_kept_against_the_rule(phone):
    answer(phone.record, phone.user, "disinfect-scope", "not_needed")
    make_special_use(site=phone.record.site)
    said = phone.tell("step-set", setting_percent=20)
    assert said["state"] == "kept"
    assert "dialysis" in said["against"]
    assert "Unplug" in said["sentence"]
    assert Act.objects.waiting().get().answer.against == said["against"]
    assert phone.answer("raw-iron", "3")["state"] == "kept"
    ahead = phone.answer("disinfect-scope", "here", version=1)
    assert ahead["state"] == "refused"


def test_chlorine_that_is_in_is_kept_against_the_rule(phone):
    answer(phone.record, phone.user, "disinfect-scope", "here")
    make_special_use(site=phone.record.site)
    house = phone.record.site_id
    told = {f"told-{house}": "C. Prudhomme", f"asked-{house}": True}
    said = phone.tell("pour", at=NOW + 5 * MINUTE, **told)
    assert "dialysis" in said["against"]
    row = phone.record.poured.get()
    assert (row.at, row.whom, row.how) == (NOW + 5 * MINUTE, "C. Prudhomme", "")
    assert DoNotUse.objects.get().opened_at == NOW + 5 * MINUTE


def test_a_telling_that_is_not_whole_is_kept_where_the_chlorine_is_in(phone):
    """Told later from a phone: the notice stands, the office hears who does not know."""
    answer(phone.record, phone.user, "disinfect-scope", "here")
    house = phone.record.site_id
    told = {f"told-{house}": "C. Prudhomme", f"how-{house}": "telephone", f"number-{house}": ""}
    said = phone.tell("pour", at=NOW + 5 * MINUTE, **told)
    assert said["state"] == "kept"
    for words in ("Say which number you called", "Ask before anything", "call the office at once"):
        assert words in said["against"]
    row = phone.record.poured.get()
    assert (row.whom, row.is_told) == ("C. Prudhomme", False)
    assert "nobody here was told" in DoNotUse.objects.get().reason


def test_who_was_told_by_a_page_that_asked_for_the_name_alone_is_kept_by_name(phone):
    """Kept on a phone before the way was asked."""
    answer(phone.record, phone.user, "disinfect-scope", "here")
    house = phone.record.site_id
    told = {f"told-{house}": "C. Prudhomme", f"asked-{house}": "on"}
    said = phone.tell("pour", at=NOW + 5 * MINUTE, **told)
    assert (said["state"], said.get("against")) == ("kept", None)
    row = phone.record.poured.get()
    assert (row.whom, row.how, row.told_at, row.is_told) == ("C. Prudhomme", "", None, True)
    assert "nobody here was told" not in DoNotUse.objects.get().reason
    client = signed_in(phone.user)
    shown = client.get(reverse("record-block", args=[phone.record.pk, "disinfect"]))
    assert "C. Prudhomme told, way not noted" in " ".join(shown.content.decode().split())


def test_contact_time_is_refused_where_nobody_was_told_and_readings_are_kept(phone):
    answer(phone.record, phone.user, "disinfect-scope", "here")
    said = phone.tell("timer-start", line="contact", sure=True)
    assert (said["state"], phone.answer("raw-iron", "3")["state"]) == ("refused", "kept")


def test_the_part_was_replaced_meanwhile(phone):
    old = phone.record.train.stages.get(kind="softener")
    new = Stage.objects.with_catalog().get(pk=old.pk).like_it()
    new.fitted_on = NOW.date()
    new = replace_stage(old=old, new=new, by=phone.user, now=NOW)
    said = phone.answer("wash-hour", "5", stage=old.pk, side="left")
    assert (said["state"], said["instead"]) == ("refused", new.pk)
    assert "was taken out" in said["sentence"]
    assert phone.answer("wash-hour", "5", stage=new.pk, side="left")["state"] == "kept"


@pytest.mark.parametrize("at", [NOW - timedelta(hours=3), LATER + 6 * MINUTE])
def test_a_moment_that_cannot_be_is_asked_about(phone, at):
    said = phone.answer("raw-iron", "3", at=at)
    assert (said["state"], said["asks"]) == ("look", "at")
    assert kept(phone.record) == []


def test_a_session_that_ended_keeps_nothing_until_the_person_is_back(phone):
    act = phone.act("answer", line="raw-iron", text="3", version=0)
    phone.client.logout()
    assert phone.send(act).status_code == 401
    phone.client = signed_in(phone.user)
    assert phone.send(act).json()["state"] == "kept"
