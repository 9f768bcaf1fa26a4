"""Nobody who must be called is left out in silence: contacts, callers, rechecks taken along."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import FollowUp
from jobs.models.coming import coming_after
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.visits import arrive
from tests import calls
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import (
    make_customer,
    make_follow_up,
    make_rule,
    make_site,
    make_staff,
    make_tenure,
    make_train,
)
from tests.jobs.people_at_work import TOMORROW, goes_away

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


def words_of(answer):
    return " ".join(answer.content.decode().split())


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def test_a_tenant_without_mail_needs_a_call_although_the_landlord_is_written_to(
    dispatcher_client, lead
):
    make_staff("technician", first_name="Wren", last_name="Birch")
    site = make_site(customer=make_customer(email="keys@example.com"))
    tenant = make_customer(name="A. Weir", email="", phone="+16075550143")
    booked(opened(make_train(site=site)), lead, at=at_hour(TOMORROW, 9), now=NOW)
    address = goes_away(dispatcher_client, lead, TOMORROW, kind="ill").url
    assert "No call needed for the first" in words_of(dispatcher_client.get(address))
    make_tenure(site=site, customer=tenant, part="tenant", is_contact=False, told_visits=True)
    page = words_of(dispatcher_client.get(address))
    assert "No call needed for the first" not in page
    assert "no letter to A. Weir:" in page
    assert "tel:+1-607-555-0143" in page


def test_the_worklist_says_how_many_callers_it_does_not_show(dispatcher_client):
    for number in range(15):
        typed = {"house": "", "symptom": f"word {number}", "caller": "N. Reed", "do": "keep"}
        calls.sent(dispatcher_client, **calls.opened(dispatcher_client), **typed)
    assert "12 more callers wait: all calls" in calls.worklist(dispatcher_client)
    page = words_of(dispatcher_client.get(reverse("worklist"), {"show": "calls"}))
    assert "12 of 15 callers stand here" in page


@pytest.mark.parametrize("outcome", ["incomplete_parts", "completed"])
def test_a_recheck_taken_along_on_a_repair_is_not_kept_by_it(lead, outcome):
    """It is promised for as long as no recheck is done: open, late, on the paper to come."""
    train = make_train()
    rule = make_rule(closing_parameters={"job_kinds": ["recheck"]}, job_kind="recheck")
    promise = make_follow_up(rule=rule, train=train, due_on=company_day(NOW))
    begins = at_hour(company_day(NOW) + timedelta(days=1), 9)
    visit = booked(opened(train, kind="repair"), lead, at=begins, now=NOW, follow_ups=[promise])
    arrive(visit=visit, by=lead, now=begins)
    assert promise in coming_after(visit, site=train.site_id), "not kept while it goes on"
    late = promise.window_until + timedelta(days=1)
    assert promise in FollowUp.objects.to_do_on(late), "booked, and past its window"
    ending = Ending(outcome=outcome, feeder_left="none", bypass_left="none")
    close_visit(visit=visit, ending=ending, by=lead, now=visit.ends_at)
    promise.refresh_from_db()
    assert (promise.status, promise.visit) == ("open", None)
