"""The day, a house and a visit at their fullest ask the database a fixed, small number of times.

Everything on them was done through a workflow or a page; twice as much of it asks no more often.
"""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from equipment.models import SpecialUse
from jobs.models import SiteTenure, VisitRequest
from jobs.models.company import company_day
from jobs.workflows.contacts import add_contact
from jobs.workflows.held import Held
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.requests import ask
from jobs.workflows.sites import note_special_use
from jobs.workflows.telling import Call, tell_by_telephone
from jobs.workflows.waits import WaitsFor, book_waiting
from tests import factories as make
from tests.acts import booked, bottled, opened, sampled, worked
from tests.calls import taken
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
TOMORROW = company_day(NOW) + DAY


@pytest.fixture(autouse=True)
def _clock(clock):
    clock(NOW)
    call_command("load_rules", verbosity=0)


@pytest.fixture
def lead():
    return make.make_staff("technician", first_name="Tess", last_name="Alder")


def lived_in(desk, lead, weeks):
    """A house with owner and tenant, work of so many weeks behind it, and visits ahead."""
    owner = make.make_customer(name="C. Prudhomme", phone="+16075550142", email="c@example.com")
    train = make.make_startup_train(site=make.make_site(customer=owner))
    site, by = train.site, make.make_staff("dispatcher")
    tenant = make.make_customer(name="A. Weir", phone="+16075550143", email="")
    row = SiteTenure(
        site=site,
        customer=tenant,
        part="tenant",
        from_on=company_day(NOW) - 90 * DAY,
        told_visits=True,
        is_contact=False,
    )
    add_contact(tenure=row, by=by, now=NOW - 90 * DAY)
    worked(train, lead, "startup", at=NOW - 80 * DAY)
    for week in range(weeks):
        at = NOW - (70 - week) * DAY
        worked(train, lead, at=at, outcome_note="Strips are on the shelf.")
        reading = Reading("iron", "0.2 mg/L", origin="measured", place="raw")
        record_measurement(about=site, reading=reading, measured_at=at, by=lead, now=at)
        sampled(site, at=at + HOUR)
        taken(desk, site, symptom="Asks for the hours.", do="keep", caller="A. Weir")
    note_special_use(
        use=SpecialUse(site=site, kind="dialysis", noted_on=company_day(NOW)), by=by, now=NOW
    )
    return train, by


def waiting(train, by, lead, at, **what):
    job = opened(train, "sample", at=NOW)
    return book_waiting(
        what=WaitsFor(**what), job=job, held=Held(lead, at, at + HOUR), by=by, now=NOW
    )


def ahead(train, by, lead, number):
    """One visit that is told and asked about; another waits for it, a third for a bottle."""
    at = NOW + DAY
    visit = booked(opened(train, at=NOW), lead, at=at + 2 * number * HOUR, now=NOW)
    call = Call("A. Weir", "607-555-0143", read_back=True)
    tell_by_telephone(visit=visit, sequence=visit.sequence, call=call, by=by, now=NOW)
    ask(visit=visit, kind=VisitRequest.Kind.MOVE, note="after four", now=NOW)
    bottle = bottled(train.site, at=NOW - HOUR)
    waiting(train, by, lead, at + (2 * number + 1) * HOUR, sample=bottle)
    waiting(train, by, lead, at + (7 + number) * DAY, after=visit, days=3)
    return visit


def filled(desk, lead, weeks):
    train, by = lived_in(desk, lead, weeks)
    return [ahead(train, by, lead, number) for number in range(2)]


@pytest.mark.parametrize("weeks", [1, 6])
def test_a_visit(dispatcher_client, lead, django_assert_max_num_queries, weeks):
    visit, _ = filled(dispatcher_client, lead, weeks)
    with django_assert_max_num_queries(20):
        page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    for said in ("after four", "told by telephone", "Waits for this visit", "no result yet"):
        assert said in page


@pytest.mark.parametrize("weeks", [1, 6])
def test_a_house(dispatcher_client, lead, django_assert_max_num_queries, weeks):
    visit, _ = filled(dispatcher_client, lead, weeks)
    with django_assert_max_num_queries(20):
        answer = dispatcher_client.get(reverse("site-detail", args=[visit.job.site_id]))
    page = answer.content.decode()
    for said in ("A. Weir", "Asks for the hours.", "no result yet", "dialysis"):
        assert said in page


@pytest.mark.parametrize("weeks", [1, 6])
def test_a_day(dispatcher_client, owner_client, lead, django_assert_max_num_queries, weeks):
    for name in ("Ivo", "Ada")[: 1 + weeks // 6]:
        filled(dispatcher_client, make.make_staff("technician", first_name=name), weeks)
    with django_assert_max_num_queries(12):
        page = dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()})
    text = page.content.decode()
    for said in ("after four", "no result yet"):
        assert said in text
