"""Each notice is lifted on evidence of its own cause, and says for good what lifted it.

Boiling takes out neither nitrate nor fuel: US EPA, emergency disinfection of drinking water. That
words by name end what neither bottles nor strips tell of: common practice, no source.
"""

from datetime import timedelta
from importlib import import_module
from uuid import uuid4

import pytest
from django.apps import apps
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.timezone import localtime

from jobs.fieldwork.kinds import NoticeCause, NoticeLevel, lifted_on
from jobs.mail.standing import notices_of
from jobs.models import DoNotUse
from jobs.models.notices import ENDED_BY
from jobs.workflows.phone_calls import Said, keep_call
from tests.acts import cleared
from tests.conftest import NOW
from tests.factories import make_notice, make_site, make_staff, make_startup_train, make_well

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
FUEL = {
    "what": "Benzene not found at the raw tap, paper of the laboratory",
    "said_by": "Owen County laboratory",
}
READ = {"oxidant": "chlorine", "high": "0", "cold": "0.1", "hot": "0.1"}


@pytest.fixture
def house(clock):
    clock(NOW)
    return make_well(tag="KF-1").site


def words(page):
    return " ".join(page.content.decode().split())


def told(client, site, **sent):
    """Somebody opens a notice on the page of the house."""
    sent = {"level": "no_drinking", "cause": "other", "reason": "the tap smells of fuel"} | sent
    assert client.post(reverse("notice-new", args=[site.pk]), sent).status_code == 302
    standing = DoNotUse.objects.standing().at_site(site)
    return standing.get(level=sent["level"], cause=sent["cause"])


def lift(client, notice, at=NOW + DAY, **sent):
    found = {"found_at": f"{localtime(at):%Y-%m-%dT%H:%M}"} if "what" in sent else {}
    page = client.post(reverse("notice-lift", args=[notice.pk]), sent | found)
    notice.refresh_from_db()
    return page


def of_house(client, site):
    return words(client.get(reverse("site-detail", args=[site.pk])))


# --- something else ---------------------------------------------------------------------------


def test_fuel_is_not_lifted_by_bottles_but_by_what_was_found_out(dispatcher_client, house, clock):
    notice = told(dispatcher_client, house)
    clock(cleared(house))
    page = of_house(dispatcher_client, house)
    assert "A negative bacteria sample does not lift it." in page
    assert "a named person may lift it now" not in page
    refused = lift(dispatcher_client, notice)
    assert (refused.status_code, notice.lifted_at) == (422, None)
    assert "Say what was found out and shows that it is over." in words(refused)
    assert lift(dispatcher_client, notice, **FUEL).status_code == 302
    page = of_house(dispatcher_client, house)
    assert "Do not drink the water: since" not in page
    assert f"{FUEL['said_by']}, " in page
    assert FUEL["what"] in page
    assert notice.lifted_on_sample is None


@pytest.mark.parametrize(
    ("sent", "said"),
    [
        ({"what": " "}, "Say what was found out"),
        ({"said_by": ""}, "Say who read or said it."),
        ({"at": NOW - DAY}, "That was before the notice was opened."),
        ({"at": NOW + 3 * DAY}, "lies ahead"),
    ],
)
def test_words_that_say_nothing_are_refused_and_stay_in_the_boxes(
    dispatcher_client, house, clock, sent, said
):
    notice = told(dispatcher_client, house)
    clock(NOW + 2 * DAY)
    page = lift(dispatcher_client, notice, **(FUEL | sent))
    assert (page.status_code, notice.lifted_at) == (422, None)
    assert said in words(page)
    assert sent.get("what", FUEL["what"]).strip() in words(page)


def test_beside_bacteria_it_stands_by_itself_and_each_is_lifted_by_its_own(
    dispatcher_client, house, clock
):
    bacteria = told(dispatcher_client, house, cause="coliform", reason="the laboratory called")
    fuel = told(dispatcher_client, house)
    assert fuel != bacteria
    listed = words(dispatcher_client.get(reverse("worklist")))
    assert "open at 1 house." in listed, "two notices, and one house to call"
    assert listed.count("since 10 June 2026") == 2
    done = cleared(house)
    clock(done)
    assert lift(dispatcher_client, bacteria).status_code == 302
    page = of_house(dispatcher_client, house)
    assert "The tap smells of fuel." in page
    assert "The laboratory called." not in page
    assert "On samples, the last of" in page
    assert lift(dispatcher_client, fuel, at=done, **FUEL).status_code == 302
    assert not DoNotUse.objects.standing().exists()


def test_what_is_found_beside_it_is_in_the_same_notice_once(dispatcher_client, house):
    notice = told(dispatcher_client, house)
    for _ in range(2):
        assert told(dispatcher_client, house, reason="nitrate 14 mg/L") == notice
    notice.refresh_from_db()
    assert notice.reason == "the tap smells of fuel; nitrate 14 mg/L"
    sent = {"level": "no_drinking", "cause": "other", "reason": "x" * 190}
    page = dispatcher_client.post(reverse("notice-new", args=[house.pk]), sent)
    assert page.status_code == 422
    assert "Say what is new in fewer words." in words(page)


def test_the_household_reads_bottled_water_and_no_word_of_samples(dispatcher_client, house):
    told(dispatcher_client, house)
    (said,) = notices_of(house.pk)
    lines = " ".join(said.lines)
    assert "boiling does not take out nitrate, fuel or chemicals" in lines
    assert "what caused it is gone" in lines
    assert "sample" not in lines
    assert "bottle was filled" not in lines


def test_no_use_for_something_else_asks_for_words_and_for_the_taps(dispatcher_client, house, clock):
    notice = told(dispatcher_client, house, level="no_use")
    clock(NOW + 2 * DAY)
    assert lift(dispatcher_client, notice, **READ).status_code == 422
    assert lift(dispatcher_client, notice, **FUEL).status_code == 422
    assert lift(dispatcher_client, notice, **READ, **FUEL).status_code == 302
    assert "Read at the taps: free chlorine" in of_house(dispatcher_client, house)


# --- an oxidant --------------------------------------------------------------------------------


def test_an_oxidant_not_to_be_drunk_is_lifted_by_cold_and_hot_readings(
    dispatcher_client, house, clock
):
    notice = told(dispatcher_client, house, cause="oxidant", reason="peroxide at the tap")
    assert notice.well is None, "it is in the pipes of this house"
    clock(cleared(house))
    assert "a named person may lift it now" not in of_house(dispatcher_client, house)
    assert lift(dispatcher_client, notice).status_code == 422
    read = {"oxidant": "peroxide", "cold": "0.4"}
    assert "Read the hot tap too" in words(lift(dispatcher_client, notice, **read))
    too_much = lift(dispatcher_client, notice, **read, hot="0.6")
    assert "Flush on: at most 0.5 mg/L." in words(too_much)
    assert lift(dispatcher_client, notice, **read, hot="0.5").status_code == 302
    assert notice.lifted_on_reading == "peroxide, mg/L: cold tap 0.4, hot tap 0.5"
    assert notice.lifted_on_reading in of_house(dispatcher_client, house)


@pytest.mark.parametrize(
    ("read", "said"),
    [
        ({"oxidant": "permanganate", "cold": "0.1", "hot": "0"}, "at most 0 mg/L"),
        ({"oxidant": "chlorine", "cold": "0.1", "hot": "0"}, "Read the high-range strip first."),
        ({"oxidant": "chlorine", "high": "0", "cold": "0.4", "hot": "0"}, "at most 0.2 mg/L"),
    ],
)
def test_each_oxidant_is_read_by_its_own_limit(dispatcher_client, house, read, said):
    notice = told(dispatcher_client, house, level="no_use", cause="oxidant")
    assert said in words(lift(dispatcher_client, notice, **read))
    assert notice.lifted_at is None


# --- one rule ----------------------------------------------------------------------------------


def test_the_database_and_the_rule_say_the_same_of_every_notice(house):
    with transaction.atomic():
        for level in NoticeLevel:
            for cause in NoticeCause:
                make_notice(
                    site=house,
                    level=level,
                    cause=cause,
                    well=None,
                    lifted_at=NOW,
                    lifted_by=make_staff("owner"),
                )
    for row in DoNotUse.objects.annotate(ends=ENDED_BY):
        assert row.ends == lifted_on(row.level, row.cause)
        assert row.is_about_bacteria or row.is_ended_in_words or row.is_read_at_taps


@pytest.mark.parametrize("cause", ["other", "oxidant", "coliform"])
def test_two_at_once_open_one_notice(house, cause):
    make_notice(site=house, cause=cause, well=None)
    with pytest.raises(IntegrityError), transaction.atomic():
        make_notice(site=house, cause=cause, well=None)


# --- the telephone, and what stood before -----------------------------------------------------


def called(site, by, *dangers):
    said = Said(caller="C. Prudhomme", number="607-555-0142", words="bad water", dangers=dangers)
    return keep_call(name=uuid4(), site=site, said=said, by=by, now=NOW)


@pytest.mark.parametrize("danger", ["ill", "sewage"])
def test_what_may_be_bacteria_on_the_telephone_waits_for_samples(
    dispatcher, dispatcher_client, house, clock, danger
):
    called(house, dispatcher, danger)
    notice = DoNotUse.objects.get()
    page = words(dispatcher_client.get(reverse("notice-lift", args=[notice.pk])))
    assert "Raw tap: 0 of 2 negative" in page
    assert 'name="what"' not in page
    clock(cleared(house))
    assert lift(dispatcher_client, notice).status_code == 302


def test_the_update_lets_the_telephone_wait_for_samples_and_the_others_for_words(
    dispatcher, dispatcher_client, house
):
    called(house, dispatcher, "ill")
    DoNotUse.objects.update(cause="other")
    elsewhere = make_startup_train().site
    told(dispatcher_client, elsewhere)
    step = import_module("jobs.migrations.0072_suspected_on_the_telephone")
    for _ in range(2):
        step.suspect(apps, None)
        causes = dict(DoNotUse.objects.values_list("site", "cause"))
        assert causes == {house.pk: "suspected", elsewhere.pk: "other"}


def test_taken_back_they_are_one_notice_and_nothing_is_lost(dispatcher_client, house):
    bacteria = told(dispatcher_client, house, cause="coliform", reason="the laboratory called")
    told(dispatcher_client, house)
    step = import_module("jobs.migrations.0072_suspected_on_the_telephone")
    step.as_one(apps, None)
    (left,) = DoNotUse.objects.standing()
    assert (left, left.reason) == (bacteria, "the laboratory called; the tap smells of fuel")


def test_a_house_elsewhere_is_not_touched(dispatcher_client, house):
    told(dispatcher_client, house)
    assert "Lifted notices" not in of_house(dispatcher_client, make_site())
