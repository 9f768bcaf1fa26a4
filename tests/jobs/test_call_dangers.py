"""What a caller tells of danger, and calls that end as a note."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import SpecialUse
from jobs.fieldwork.dangers import RED, Told
from jobs.models import (
    DoNotUse,
    FollowUp,
    PhoneCall,
)
from jobs.models.company import company_day
from tests import factories as make
from tests.calls import opened, sent, shown, taken, worklist
from tests.conftest import NOW, signed_in

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)


@pytest.fixture(autouse=True)
def _at_noon(clock):
    return clock


@pytest.fixture
def lead():
    return make.make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def rules(db):
    call_command("load_rules", verbosity=0)


# --- what can hurt ---------------------------------------------------------------------------


def test_a_flooded_well_opens_the_notice_and_promises_what_follows(dispatcher_client, lead, rules):
    well = make.make_well()
    answer = taken(
        dispatcher_client,
        well.site,
        dangers="flood",
        read_out="on",
        asked="on",
        symptom="The creek is over the well.",
        do="visit",
    )
    assert answer.status_code == 302
    notice = DoNotUse.objects.get()
    call = PhoneCall.objects.get()
    assert (notice.level, notice.cause, notice.well) == ("no_drinking", "flood", well)
    assert notice.occasion == call.uuid
    promised = FollowUp.objects.open().values_list("terms__job_kind", flat=True)
    assert sorted(promised) == ["disinfect", "sample"]
    assert call.read_out_by == call.by


def test_the_notice_opens_although_the_visit_is_refused(dispatcher_client, lead, rules):
    well = make.make_well()
    answer = taken(dispatcher_client, well.site, dangers="flood", do="visit", symptom="Flooded")
    assert answer.status_code == 422
    assert DoNotUse.objects.standing().get().well == well
    call = PhoneCall.objects.get()
    assert (call.end, call.words, call.must_be_read_out) == ("", "Flooded", True)
    assert "The well was or is under water" in worklist(dispatcher_client)


@pytest.mark.parametrize("key", list(Told))
def test_each_danger_does_what_it_says_and_once(dispatcher_client, rules, key):
    site = make.make_site()
    typed = {"house": site.pk, "dangers": key.value, **opened(dispatcher_client), "do": "keep"}
    for _ in range(2):
        sent(dispatcher_client, **typed | {"once": str(make.next_number())})
    level = RED[key].level
    assert list(DoNotUse.objects.values_list("level", flat=True)) == ([level] if level else [])
    assert SpecialUse.objects.count() == (key == Told.DIALYSIS)
    codes = FollowUp.objects.values_list("rule__code", flat=True)
    assert sorted(codes) == {
        Told.FLOOD: ["f26", "f27"],
        Told.ILL: ["f27"],
        Told.SEWAGE: ["f27"],
        Told.STINGS: ["f28"],
    }.get(key, [])


def test_each_of_several_wells_is_meant_until_one_is_named(dispatcher_client, rules):
    site = make.make_site()
    wells = [make.make_well(site=site) for _ in range(2)]
    taken(dispatcher_client, site, dangers="flood", well=wells[1].pk, do="keep")
    assert [row.well for row in DoNotUse.objects.all()] == [wells[1]]
    taken(dispatcher_client, site, dangers="flood", do="keep")
    assert {row.well for row in DoNotUse.objects.all()} == set(wells)


def test_every_yes_has_words_to_read_out(dispatcher_client):
    html = dispatcher_client.get(reverse("call-new")).content.decode()
    assert html.count("Stop: read this out") == len(RED)
    assert "Do not turn the well pump on" in html


def test_a_caution_that_nobody_read_out_waits_whatever_came_of_the_call(
    dispatcher_client, lead, rules
):
    site = make.make_site()
    taken(dispatcher_client, site, dangers="ill", asked="on", symptom="Two ill", do="visit")
    call = PhoneCall.objects.get()
    assert (call.end, call.is_waiting) == ("visit", True)
    assert "not read out yet" in worklist(dispatcher_client)
    dispatcher_client.post(
        reverse("call-answer", args=[call.pk]), {"answer": "Read out to her, said back."}
    )
    call.refresh_from_db()
    assert not call.is_waiting
    assert call.read_out_at
    assert "not read out yet" not in worklist(dispatcher_client)


# --- a note ----------------------------------------------------------------------------------


def test_a_note_waits_on_the_worklist_is_late_and_closes_with_what_was_said(
    dispatcher, dispatcher_client, clock
):
    site = make.make_site()
    taken(dispatcher_client, site, symptom="Which salt?", answer_by=TODAY.isoformat(), do="note")
    call = PhoneCall.objects.get()
    assert (call.end, call.answer_by, call.site) == ("note", TODAY, site)
    assert "Which salt?" in worklist(dispatcher_client)
    assert "late" not in re.search(r"<b>caller</b>.*?</tr>", worklist(dispatcher_client))[0]
    clock(NOW + timedelta(days=1))
    dispatcher_client = signed_in(dispatcher)
    assert ", late" in re.search(r"<b>caller</b>.*?</tr>", worklist(dispatcher_client))[0]
    where = reverse("call-answer", args=[call.pk])
    dispatcher_client.post(where, {"answer": "Plain evaporated salt."})
    call.refresh_from_db()
    assert (call.answer, call.answered_by) == ("Plain evaporated salt.", call.by)
    assert "Which salt?" not in worklist(dispatcher_client)
    for address in (
        reverse("site-detail", args=[site.pk]),
        reverse("customer-detail", args=[call.customer_id]),
        reverse("call-list"),
    ):
        assert "Plain evaporated salt." in dispatcher_client.get(address).content.decode()
    again = dispatcher_client.post(where, {"answer": "Something else"})
    assert again.status_code == 422


def test_a_note_needs_no_house_but_words_a_caller_and_a_day(dispatcher_client):
    typed = opened(dispatcher_client) | {"do": "note"}
    for more, said in (
        ({}, "Write what the caller says"),
        ({"symptom": "Do you drill wells?"}, "who called"),
        ({"symptom": "?", "caller": "A man", "answer_by": "2020-01-01"}, "This day is over"),
    ):
        assert said in sent(dispatcher_client, **typed | more).content.decode()
    assert not PhoneCall.objects.exists()
    done = {"symptom": "Do you drill wells?", "number": "518-555-0142", "said": "We do not."}
    sent(dispatcher_client, **typed | done | {"once": "x"})
    call = PhoneCall.objects.get()
    assert (call.is_waiting, call.answer, call.site) == (False, "We do not.", None)


def test_a_call_kept_open_goes_on_as_it_was_typed(dispatcher_client, lead):
    site = make.make_site()
    answer = taken(
        dispatcher_client, site, symptom="Asks about the lamp", note="Ring first", do="keep"
    )
    page = dispatcher_client.get(answer.url)
    html = page.content.decode()
    assert page.context["desk"].site == site
    assert "Asks about the lamp" in html
    assert "Ring first" in html
    assert "not finished" in worklist(dispatcher_client)
    other = signed_in(make.make_staff("dispatcher"))
    call = PhoneCall.objects.get()
    typed = {"house": site.pk, "symptom": call.words, "call": call.uuid, "asked": "on"}
    sent(other, **{**shown(other, **typed), **typed, "once": "y", "do": "visit"})
    call.refresh_from_db()
    assert (call.end, call.typed, PhoneCall.objects.count()) == ("visit", {}, 1)


def test_a_call_is_taken_back_with_a_reason_unless_something_came_of_it(
    dispatcher_client, lead, rules
):
    site = make.make_site()
    taken(dispatcher_client, site, symptom="Wrong number", do="note")
    call = PhoneCall.objects.latest("pk")
    where = reverse("call-take-back", args=[call.pk])
    assert dispatcher_client.post(where, {"reason": "no"}).status_code == 422
    dispatcher_client.post(where, {"reason": "Wrong house"})
    call.refresh_from_db()
    assert call.taken_back_by
    assert "Wrong number" not in worklist(dispatcher_client)
    for more, said in (
        ({"asked": "on", "do": "visit"}, "cancel the visit"),
        ({"dangers": "stings", "symptom": "Stings", "do": "note"}, "opened a notice"),
    ):
        taken(dispatcher_client, make.make_site(), **more)
        call = PhoneCall.objects.latest("pk")
        answer = dispatcher_client.post(
            reverse("call-take-back", args=[call.pk]), {"reason": "by mistake"}
        )
        assert said in answer.content.decode()
        call.refresh_from_db()
        assert call.taken_back_at is None


def test_without_script_find_and_show_lose_nothing_that_was_typed(dispatcher_client):
    site = make.make_site(street="9 Heron Way")
    typed = opened(dispatcher_client) | {
        "q": "Heron Way",
        "symptom": "Rotten eggs",
        "dangers": "weak",
        "caller": "A neighbour",
    }
    for more in ({"do": "find"}, {"do": "look", "house": site.pk}):
        page = sent(dispatcher_client, **typed | more)
        html = page.content.decode()
        assert page.status_code == 200
        assert f'value="{site.pk}"' in html
        assert "Rotten eggs" in html
        assert "A neighbour" in html
        assert re.search(r'value="weak"[^>]*checked', html)
    assert "When we could come" in html
    assert not PhoneCall.objects.exists()


@pytest.mark.parametrize(
    "odd",
    [
        {"house": "x" * 50},
        {"call": "no uuid"},
        {"when": "1|yesterday"},
        {"when": "999999|2026-06-11T12:00:00+00:00"},
        {"minutes": "9" * 40},
        {"train": "no"},
        {"along": "77"},
        {"dangers": "dragon"},
        {"q": "--"},
        {"day": "9999-12-31", "when": "other"},
    ],
)
@pytest.mark.parametrize("do", ["visit", "note", "keep", "find", "look"])
def test_odd_boxes_are_refused_in_words(dispatcher_client, lead, odd, do):
    site = make.make_site()
    typed = {"house": site.pk, "asked": "on", "do": do, **opened(dispatcher_client), **odd}
    assert sent(dispatcher_client, **typed).status_code in (200, 302, 422)
