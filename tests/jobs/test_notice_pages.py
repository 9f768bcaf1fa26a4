"""Notices are opened and lifted by name; a fill keeps its promise and makes the next."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from equipment.models import Fill
from jobs.models import DoNotUse, FollowUp
from jobs.workflows.timers import start_timer, stop_timer
from tests.acts import cleared, poured
from tests.conftest import NOW, signed_in
from tests.factories import (
    make_follow_up,
    make_notice,
    make_rule,
    make_sample,
    make_site,
    make_startup_train,
    make_well,
)
from tests.record_scenes import answer, make_house

pytestmark = pytest.mark.django_db


def lift(client, notice, **typed):
    return client.post(reverse("notice-lift", args=[notice.pk]), {"once": str(typed), **typed})


def test_the_office_opens_a_notice(dispatcher, dispatcher_client):
    site = make_site()
    dispatcher_client.post(
        reverse("notice-new", args=[site.pk]),
        {"level": "no_drinking", "cause": "flood", "reason": "well flooded"},
    )
    notice = DoNotUse.objects.get(site=site)
    assert (notice.level, notice.opened_by) == ("no_drinking", dispatcher)


@pytest.mark.parametrize(
    ("level", "cause", "chosen", "opened"),
    [
        ("no_drinking", "flood", True, {"no_drinking": "the well"}),
        ("no_drinking", "flood", False, {}),
        ("no_use", "flood", True, {"no_use": None, "no_drinking": "the well"}),
        ("no_use", "flood", False, {}),
        ("no_use", "oxidant", False, {"no_use": None}),
    ],
)
def test_of_two_wells_the_one_with_bacteria_is_named(
    dispatcher_client, level, cause, chosen, opened
):
    well = make_well()
    make_well(site=well.site)
    sent = {"level": level, "cause": cause, "reason": "well flooded"}
    sent |= {"well": well.pk} if chosen else {}
    page = dispatcher_client.post(reverse("notice-new", args=[well.site_id]), sent)
    assert page.status_code == (302 if opened else 422)
    assert ("Choose the well: bacteria belong to it." in page.content.decode()) == (not opened)
    notices = dict(DoNotUse.objects.values_list("level", "well"))
    assert notices == {of: named and well.pk for of, named in opened.items()}


def test_bacteria_of_the_only_well_stand_at_every_house_on_it(dispatcher_client):
    well, neighbour = make_well(), make_site()
    well.also_serves.add(neighbour)
    sent = {"level": "no_drinking", "cause": "coliform", "reason": "the laboratory called"}
    dispatcher_client.post(reverse("notice-new", args=[well.site_id]), sent)
    page = dispatcher_client.get(reverse("site-detail", args=[neighbour.pk])).content.decode()
    assert "The laboratory called." in page


def test_bacteria_are_lifted_on_samples_and_no_reading_is_asked(dispatcher_client, clock):
    site = make_well().site
    sent = {"level": "no_drinking", "cause": "coliform", "reason": "the laboratory called"}
    dispatcher_client.post(reverse("notice-new", args=[site.pk]), sent)
    notice = DoNotUse.objects.get()
    clock(cleared(site))
    page = dispatcher_client.get(reverse("notice-lift", args=[notice.pk])).content.decode()
    assert 'name="cold"' not in page
    assert lift(dispatcher_client, notice).status_code == 302
    notice.refresh_from_db()
    assert notice.lifted_at


def test_a_result_is_not_older_than_its_sample(dispatcher_client):
    sample = make_sample(site=make_site(), taken_at=timezone.now())
    day = timezone.localdate() - timedelta(days=1)
    sent = {"outcome": "negative", "result_on": day.isoformat()}
    page = dispatcher_client.post(reverse("sample-result", args=[sample.pk]), sent)
    assert page.status_code == 422
    assert "older than the sample" in page.content.decode()
    sample.refresh_from_db()
    assert sample.outcome == "waiting"


def test_no_use_is_lifted_on_a_reading(dispatcher_client):
    notice = make_notice(site=make_site(), level="no_use", now=timezone.now())
    assert lift(dispatcher_client, notice).status_code == 422
    assert lift(dispatcher_client, notice, high="0", cold="0.1").status_code == 422
    assert lift(dispatcher_client, notice, high="10", cold="0.1", hot="0.1").status_code == 422
    assert lift(dispatcher_client, notice, high="0", cold="0.1", hot="0.3").status_code == 422
    assert lift(dispatcher_client, notice, high="0", cold="0.2", hot="0.1").status_code == 302
    notice.refresh_from_db()
    said = "free chlorine, mg/L: high range 0, cold tap 0.2, hot tap 0.1"
    assert notice.lifted_on_reading == said


def filled(client, stage, **typed):
    typed.setdefault("at", timezone.localtime().strftime("%Y-%m-%dT%H:%M"))
    typed.setdefault("filled_by", "customer")
    return client.post(reverse("fill-new", args=[stage.pk]), typed)


def test_a_fill_told_by_the_customer_keeps_the_refill_promise(dispatcher_client):
    call_command("load_rules", verbosity=0)
    feeder = make_startup_train().stages.get(kind="feeder")
    promise = make_follow_up(train=feeder.train, stage=feeder, rule=make_rule("f3"))
    assert (
        filled(dispatcher_client, feeder, product_gal="5", level_after_gal="14").status_code == 302
    )
    assert Fill.objects.get().filled_by == "customer"
    promise.refresh_from_db()
    assert promise.status == "done"
    assert FollowUp.objects.alive().filter(rule__code="f3", stage=feeder).exists()


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({}, "how much"),
        ({"product_gal": "-1"}, "0"),
        ({"level_after_gal": "99"}, "holds 15 gal"),
        ({"level_before_gal": "9", "level_after_gal": "3"}, "not below"),
    ],
)
def test_an_impossible_fill_is_refused(dispatcher_client, typed, said):
    feeder = make_startup_train().stages.get(kind="feeder")
    page = filled(dispatcher_client, feeder, **typed)
    assert page.status_code == 422
    assert said in page.content.decode()
    assert not Fill.objects.exists()


def test_salt_is_asked_for_a_softener(dispatcher_client):
    softener = make_startup_train().stages.get(kind="softener")
    page = dispatcher_client.get(reverse("fill-new", args=[softener.pk])).content.decode()
    assert 'name="salt_lb"' in page
    assert 'name="product_gal"' not in page
    assert filled(dispatcher_client, softener, salt_lb="40").status_code == 302


# --- chlorine in the pipes --------------------------------------------------------------------


@pytest.fixture
def disinfecting():
    """A technician has poured and started the contact time; the notice stands by itself."""
    record, _, lead = make_house()
    answer(record, lead, "disinfect-scope", "here")
    poured(record, lead, at=NOW)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    return record, lead, DoNotUse.objects.get(site=record.site, level="no_use")


def lifted_at(client, notice, moment, monkeypatch):
    """What the office gets that lifts it at that moment, and whether the notice still stands."""
    monkeypatch.setattr("django.utils.timezone.now", lambda: moment)
    page = lift(client, notice, high="0", cold="0.1", no_hot="on")
    notice.refresh_from_db()
    return page, notice.lifted_at


def test_nobody_lifts_no_use_while_the_chlorine_works(disinfecting, dispatcher_client, monkeypatch):
    _, _, notice = disinfecting
    page, lifted = lifted_at(dispatcher_client, notice, NOW + timedelta(minutes=2), monkeypatch)
    assert (page.status_code, lifted) == (422, None)
    assert "Flushing is always allowed" in page.content.decode()


def test_stopping_the_wait_does_not_lift_it(disinfecting, dispatcher_client, monkeypatch):
    record, lead, notice = disinfecting
    stop_timer(record=record, line_key="contact", by=lead, now=NOW + timedelta(hours=1))
    _, lifted = lifted_at(dispatcher_client, notice, NOW + timedelta(hours=2), monkeypatch)
    assert lifted is None


def test_flushed_after_the_contact_it_is_lifted(disinfecting, dispatcher_client, monkeypatch):
    record, lead, notice = disinfecting
    before, after = NOW + timedelta(hours=11), NOW + timedelta(hours=13)
    answer(record, lead, "flush-high", "0", now=before)
    answer(record, lead, "flush-low", "0.1", now=before)
    _, lifted = lifted_at(dispatcher_client, notice, after, monkeypatch)
    assert lifted is None, "read while the chlorine was working"
    answer(record, lead, "flush-high", "1", now=after)
    answer(record, lead, "flush-low", "0.05", now=after)
    _, lifted = lifted_at(dispatcher_client, notice, after, monkeypatch)
    assert lifted == after


def test_the_button_of_the_record_says_so_too(disinfecting, monkeypatch):
    record, lead, notice = disinfecting
    early = NOW + timedelta(hours=1)
    answer(record, lead, "flush-high", "0", now=early)
    answer(record, lead, "flush-low", "0.1", now=early)
    monkeypatch.setattr("django.utils.timezone.now", lambda: early)
    sent = signed_in(lead).post(reverse("record-lift", args=[record.pk]), follow=True)
    assert "Chlorine is working in this water" in sent.content.decode()
    notice.refresh_from_db()
    assert notice.lifted_at is None
