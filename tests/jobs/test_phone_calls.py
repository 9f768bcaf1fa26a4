"""A call as it is taken: from the first word to a visit, a notice, or a note somebody answers."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import Site
from jobs.forms.call_desk import words_of
from jobs.models import (
    Customer,
    Job,
    OutboxMail,
    PhoneCall,
    SiteTenure,
    Visit,
    VisitTold,
)
from jobs.models.company import company_day
from jobs.schedule.proposals import Wish, proposals
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


# --- the caller nobody knows -----------------------------------------------------------------


def test_an_unknown_caller_gets_house_customer_survey_and_letter_by_one_press(
    dispatcher_client, dispatcher, lead
):
    typed = opened(dispatcher_client) | {
        "q": "518-555-0142",
        "house": "new",
        "customer-name": "Wilmot Fescue",
        "customer-phone": "518-555-0142",
        "customer-email": "wilmot.fescue@example.com",
        "house-street": "41 Plover Bank",
        "house-town": "Tarn Hollow",
        "symptom": "Brown stains in the sink, bought the house in May.",
        "asked": "on",
    }
    answer = sent(
        dispatcher_client, **{**shown(dispatcher_client, **typed), **typed, "do": "visit"}
    )
    visit = Visit.objects.get()
    assert answer.url == reverse("visit-detail", args=[visit.pk])
    assert (visit.job.kind, visit.lead, visit.status) == ("survey", lead, "confirmed")
    holder = SiteTenure.objects.get()
    assert (holder.site.street, holder.customer.name) == ("41 Plover Bank", "Wilmot Fescue")
    call = PhoneCall.objects.get()
    assert (call.visit, call.by, call.customer) == (visit, dispatcher, holder.customer)
    assert (call.caller, call.number) == ("Wilmot Fescue", "518-555-0142")
    told = VisitTold.objects.get()
    assert (told.how, told.whom, told.read_back) == ("telephone", "Wilmot Fescue", True)
    letter = OutboxMail.objects.get(mail_class="customer")
    assert (letter.recipient, letter.visit) == ("wilmot.fescue@example.com", visit)


@pytest.mark.parametrize(
    ("typed", "carried"),
    [
        ("518 555 0142", {"customer-phone": "518 555 0142"}),
        ("Wilmot Fescue", {"customer-name": "Wilmot Fescue"}),
        ("41 Plover Bank", {"house-street": "41 Plover Bank"}),
        (
            "Fescue (518) 555-0142",
            {"customer-phone": "(518) 555-0142", "customer-name": "Fescue"},
        ),
        ("", {}),
    ],
)
def test_what_was_looked_for_is_what_is_typed_of_a_new_house(typed, carried):
    assert words_of(typed) == carried


def test_words_carry_over_only_where_nothing_is_typed_yet(dispatcher_client):
    typed = {"q": "Fescue", "house": "new", "call": ""}
    page = dispatcher_client.post(reverse("call-house"), typed).content.decode()
    assert 'id="new-house" hx-swap-oob' in page
    assert 'value="Fescue"' in page
    again = {**typed, "customer-name": "Wilmot"}
    page = dispatcher_client.post(reverse("call-house"), again).content.decode()
    assert "hx-swap-oob" not in page


def test_a_house_like_it_is_offered_and_taken_without_losing_a_word(dispatcher_client, lead):
    site = make.make_site(street="41 Plover Bank", town="Tarn Hollow")
    typed = opened(dispatcher_client) | {
        "house": "new",
        "customer-name": "Wilmot Fescue",
        "house-street": "41 Plover Bnk",
        "house-town": "Tarn Hollow",
        "symptom": "Brown stains",
        "asked": "on",
    }
    typed = {**shown(dispatcher_client, **typed), **typed}
    refused = sent(dispatcher_client, **typed, do="visit")
    assert refused.status_code == 422
    assert f'value="house-{site.pk}"' in refused.content.decode()
    page = sent(dispatcher_client, **typed, do=f"house-{site.pk}")
    html = page.content.decode()
    assert page.context["desk"].site == site
    assert "Brown stains" in html
    assert Site.objects.count() == 1


def test_a_customer_without_a_house_is_offered_a_new_one(dispatcher_client, lead):
    known = make.make_customer(name="Wilmot Fescue")
    page = dispatcher_client.post(reverse("call-found"), {"q": "Fescue"}).content.decode()
    assert f'value="for-{known.pk}"' in page
    typed = opened(dispatcher_client) | {
        "house": f"for-{known.pk}",
        "house-street": "41 Plover Bank",
        "house-town": "Tarn Hollow",
        "asked": "on",
    }
    sent(dispatcher_client, **{**shown(dispatcher_client, **typed), **typed, "do": "visit"})
    assert SiteTenure.objects.get().customer == known
    assert Customer.objects.count() == 1


# --- a house we know -------------------------------------------------------------------------


def test_a_visit_is_not_booked_before_what_can_hurt_is_asked(dispatcher_client, lead):
    answer = taken(dispatcher_client, make.make_site(), symptom="Low pressure", do="visit")
    page = answer.content.decode()
    assert answer.status_code == 422
    assert "Ask what can hurt first" in page
    assert "Low pressure" in page
    assert not Visit.objects.exists()
    assert not PhoneCall.objects.exists()


def test_pressed_twice_is_one_visit(dispatcher_client, lead):
    site = make.make_site()
    typed = {"house": site.pk, "asked": "on", **opened(dispatcher_client)}
    typed = {**shown(dispatcher_client, **typed), **typed, "do": "visit"}
    first, second = (sent(dispatcher_client, **typed) for _ in range(2))
    assert first.url == second.url
    assert (Visit.objects.count(), PhoneCall.objects.count()) == (1, 1)


def test_the_same_call_sent_from_a_second_window_books_no_second_visit(dispatcher_client, lead):
    site = make.make_site()
    typed = {"house": site.pk, "asked": "on", **opened(dispatcher_client)}
    typed = {**shown(dispatcher_client, **typed), **typed, "do": "visit"}
    sent(dispatcher_client, **typed)
    later = sent(dispatcher_client, **typed | {"once": "another", "sure": "x"} | _other_time(lead))
    assert later.status_code == 422
    assert Visit.objects.count() == 1


def _other_time(lead):
    day = TODAY + timedelta(days=7)
    return {"when": "other", "lead": lead.pk, "day": day.isoformat(), "start": "13:00"}


def test_two_dispatchers_on_one_house_ask_before_a_second_visit_that_day(dispatcher_client, lead):
    site = make.make_site()
    taken(dispatcher_client, site, asked="on", do="visit")
    make.make_staff("technician", first_name="Udo", last_name="Birch")
    other = signed_in(make.make_staff("dispatcher"))
    answer = taken(other, site, asked="on", do="visit")
    html = answer.content.decode()
    assert answer.status_code == 422
    assert "This house has a visit that day already" in html
    codes = re.search(r'name="sure" value="([^"]+)"', html)[1]
    typed = answer.wsgi_request.POST.dict() | {"sure": codes}
    assert sent(other, **typed).status_code == 302
    assert Visit.objects.count() == 2


def test_another_time_is_said_in_the_same_form(dispatcher_client, lead):
    answer = taken(dispatcher_client, make.make_site(), asked="on", when="other", do="visit")
    html = answer.content.decode()
    assert answer.status_code == 422
    for said in ("Say who comes.", "Say which day.", "Say from when."):
        assert said in html
    taken(dispatcher_client, make.make_site(), asked="on", do="visit", **_other_time(lead))
    assert Visit.objects.get().lead == lead


@pytest.mark.parametrize(
    ("told", "telephone", "letters"),
    [("call", 1, 0), ("mail", 0, 1), ("both", 1, 1), ("later", 0, 0)],
)
def test_a_letter_goes_only_where_it_was_said_so(dispatcher_client, lead, told, telephone, letters):
    taken(dispatcher_client, make.make_site(), asked="on", told=told, do="visit")
    assert VisitTold.objects.filter(how="telephone").count() == telephone
    assert OutboxMail.objects.filter(mail_class="customer").count() == letters
    assert ("Not told yet" in worklist(dispatcher_client)) == (told == "later")


def test_a_customer_without_mail_is_told_on_the_call_by_name_and_number(dispatcher_client, lead):
    site = make.make_site(customer=make.make_customer(email="", phone=""))
    typed = shown(dispatcher_client, house=site.pk)
    assert typed["told"] == "call"
    answer = taken(dispatcher_client, site, asked="on", do="visit")
    assert "Told is an adult on a number" in answer.content.decode()
    taken(dispatcher_client, site, asked="on", number="518-555-0142", caller="Her son", do="visit")
    assert VisitTold.objects.get().number == "518-555-0142"


def test_the_callback_question_is_asked_and_not_sure_is_an_answer(dispatcher_client, lead):
    train = make.make_train()
    earlier = make.make_job(train=train, kind="startup")
    Job.objects.filter(pk=earlier.pk).update(index_on=TODAY - timedelta(days=10))
    answer = taken(dispatcher_client, train.site, asked="on", do="visit")
    assert "not sure" in answer.content.decode()
    assert answer.status_code == 422
    taken(dispatcher_client, train.site, asked="on", callback="not_sure", do="visit")
    job = Visit.objects.latest("pk").job
    assert (job.callback_answer, job.origin) == ("not_sure", earlier)


def test_what_is_due_is_offered_and_taken_along(dispatcher_client, lead):
    train = make.make_train()
    rule = make.make_rule(job_kind="recheck")
    due, far = (
        make.make_follow_up(train=train, rule=rule, due_on=TODAY + timedelta(days=days))
        for days in (0, 200)
    )
    page = dispatcher_client.post(reverse("call-house"), {"house": train.site_id})
    assert page.context["desk"].along == [due]
    taken(dispatcher_client, train.site, asked="on", along=due.pk, kind="repair", do="visit")
    due.refresh_from_db()
    far.refresh_from_db()
    assert (due.status, due.visit) == ("booked", Visit.objects.get())
    assert far.status == "open"


def test_standing_notices_and_the_visit_to_come_are_seen_while_booking(dispatcher_client, lead):
    visit = make.make_visit(lead=lead, starts_at=NOW + timedelta(days=1))
    site = visit.job.site
    make.make_notice(site=site, by=lead)
    html = dispatcher_client.post(reverse("call-house"), {"house": site.pk}).content.decode()
    assert "Do not " in html
    assert reverse("visit-detail", args=[visit.pk]) in html


# --- when we could come ----------------------------------------------------------------------


def test_a_proposal_says_why(lead):
    other = make.make_staff("technician", first_name="Udo", last_name="Birch")
    before = make.make_visit(lead=lead, starts_at=NOW - timedelta(days=20))
    Visit.objects.filter(pk=before.pk).update(
        status="closed", outcome="completed", closed_at=NOW - timedelta(days=20)
    )
    site = before.job.site
    offered = proposals(Wish(site, "service", 75), now=NOW)
    assert len(offered) == 3
    own = [each for each in offered if each.time.person == lead]
    assert own
    assert all(any(why.startswith("was there ") for why in each.reasons) for each in own)
    assert any(each.time.person == other for each in offered)
    assert all(each.reasons for each in offered)


def test_a_call_does_not_wait_for_a_visit_that_stands_at_the_house(lead):
    standing = make.make_visit(lead=lead, starts_at=NOW + timedelta(days=15))
    (soon, *_) = proposals(Wish(standing.job.site, "repair", 60), now=NOW)
    assert company_day(soon.time.starts_at) < company_day(standing.starts_at)


def test_a_house_that_is_not_on_file_is_offered_times_too(lead):
    assert len(proposals(Wish(None, "survey", 60), now=NOW)) == 3


def test_where_somebody_may_be_hurt_the_first_time_is_today(lead):
    offered = proposals(Wish(make.make_site(), "repair", 60, is_urgent=True), now=NOW)
    assert company_day(offered[0].time.starts_at) == TODAY
    assert "because of what was told" in "; ".join(offered[0].reasons)
    (soonest,) = proposals(Wish(make.make_site(), "repair", 60, is_urgent=True), now=NOW, count=1)
    (calm,) = proposals(Wish(make.make_site(), "repair", 60), now=NOW, count=1)
    assert company_day(soonest.time.starts_at) == TODAY < company_day(calm.time.starts_at)
    assert "because of what was told" not in "; ".join(calm.reasons)
