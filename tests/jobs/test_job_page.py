"""The page of one job, from what people did."""

import pytest
from django.urls import reverse

from tests.acts import HOUR, booked, called_back, opened, visited, worked
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_staff, make_train

pytestmark = pytest.mark.django_db
#: of the section that only the owner reads
DECIDES = "What decides about it in the report"


@pytest.fixture
def lead(db):
    return make_staff("technician", first_name="Robin", last_name="Elm")


@pytest.fixture
def origin(lead):
    train = make_train(site=make_site(customer=make_customer(name="Nell Exempel")))
    return worked(train, lead, at=NOW - 200 * HOUR)


def page(client, job):
    answer = client.get(reverse("job-detail", args=[job.pk]))
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_a_callback_shows_its_visit_its_cause_and_where_it_came_from(owner_client, origin, lead):
    back = called_back(origin, at=NOW - 50 * HOUR)
    back = visited(back, lead, at=NOW - 48 * HOUR, cause="A_leak", outcome_note="New washer")
    text = page(owner_client, back)
    assert f"Job {back.pk}: Callback" in text
    assert "Nell Exempel" in text
    assert f'because of <a href="{reverse("job-detail", args=[origin.pk])}">' in text
    assert reverse("visit-detail", args=[back.visits.get().pk]) in text
    assert "New washer" in text
    assert "Robin Elm" in text
    assert DECIDES in text
    assert f"Job {back.pk}</a>" in page(owner_client, origin)


def test_the_office_reads_the_job_and_not_what_the_report_makes_of_it(dispatcher_client, origin):
    text = page(dispatcher_client, origin)
    assert "Nell Exempel" in text
    assert DECIDES not in text
    assert "handover" not in text.lower().replace("handed over", "")


def test_letters_of_its_visits_stand_there(dispatcher_client, lead):
    customer = make_customer(email="nell@example.com", mail_wanted=True)
    train = make_train(site=make_site(customer=customer))
    job = opened(train, at=NOW)
    booked(job, lead, at=NOW + 200 * HOUR, now=NOW)
    text = page(dispatcher_client, job)
    assert "nell@example.com" in text
    assert "None was begun." in text


def test_pages_that_lead_there(dispatcher_client, owner_client, origin):
    link = reverse("job-detail", args=[origin.pk])
    visit = reverse("visit-detail", args=[origin.visits.get().pk])
    assert link in dispatcher_client.get(visit).content.decode()
    assert link not in signed_in(origin.visits.get().lead).get(visit).content.decode()
    assert link in dispatcher_client.get(reverse("charges")).content.decode()
    asked = {"since": "2026-01-01"}
    assert link in owner_client.get(reverse("callbacks-jobs"), asked).content.decode()


def test_a_technician_is_refused(origin, lead):
    assert signed_in(lead).get(reverse("job-detail", args=[origin.pk])).status_code == 403


def test_it_asks_little(owner_client, origin, lead, django_assert_max_num_queries):
    for number in range(5):
        back = called_back(origin, at=NOW - (150 - 20 * number) * HOUR)
        visited(back, lead, at=NOW - (148 - 20 * number) * HOUR, cause="A_leak")
    page(owner_client, origin)
    with django_assert_max_num_queries(20):
        page(owner_client, origin)
