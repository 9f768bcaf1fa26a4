"""A visit as it is typed: what cannot be is refused, what is unlikely is asked once."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Job, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import make_site, make_staff, make_train

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)
TOMORROW = TODAY + timedelta(days=1)
SUNDAY = TODAY + timedelta(days=4)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def site():
    return make_train(site=make_site(street="3 Otter Lane")).site


def typed(lead, **changed):
    return {
        "kind": "service",
        "symptom": "smell is back",
        "lead": lead.pk,
        "status": "confirmed",
        "reported_on": TODAY.isoformat(),
        "day": TOMORROW.isoformat(),
        "start": "09:00",
        **changed,
    }


def send(client, site, sent):
    return client.post(f"{reverse('visit-book')}?site={site.pk}", sent)


def agreed(answer):
    return re.search(r'name="sure" value="([^"]+)"', answer.content.decode())[1]


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"day": TODAY.isoformat(), "start": "07:00"}, "start", "07:00 has passed, it is 10:00"),
        ({"day": "2126-06-11"}, "day", "at most two years ahead"),
        ({"start": "21:00", "minutes": 240}, "minutes", "ends on the day it begins"),
        ({"arrive_from": "10:00", "minutes": 45}, "arrive_from", "10:00 lies outside the visit"),
    ],
)
def test_what_cannot_be_is_refused_at_its_field_and_nothing_typed_is_lost(
    dispatcher_client, lead, site, changed, field, said
):
    sent = typed(lead, **changed)
    answer = send(dispatcher_client, site, {**sent, "sure": "day-2126-06-11"})
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in " ".join(answer.context["form"].errors[field])
    assert "smell is back" in page
    assert f'value="{sent["start"]}"' in page
    assert not Job.objects.exists()


@pytest.mark.parametrize(
    ("changed", "said"),
    [
        ({"day": SUNDAY.isoformat()}, "14 June 2026 is a Sunday."),
        ({"day": "2026-07-03"}, "Friday 3 July 2026 is a holiday: Independence Day"),
        ({"start": "03:00"}, "03:00 to 04:15 is outside the working hours, 7:00 to 17:00."),
        ({"start": "16:00", "minutes": 240}, "16:00 to 20:00 is outside the working hours"),
        ({"kind": "startup"}, "A start-up without a system"),
    ],
)
def test_what_is_unlikely_is_asked_and_booked_after_a_yes(
    dispatcher_client, lead, site, changed, said
):
    sent = typed(lead, once="one-opening", **changed)
    answer = send(dispatcher_client, site, sent)
    page = answer.content.decode()
    assert answer.status_code == 422
    assert said in page
    assert "Yes, book it anyway" in page
    assert "smell is back" in page
    assert not Job.objects.exists()
    assert send(dispatcher_client, site, {**sent, "sure": agreed(answer)}).status_code == 302
    assert Visit.objects.count() == 1


def test_a_start_up_whose_system_has_no_well_is_asked_about(dispatcher_client, lead, site):
    train = make_train(site=site)
    train.wells.clear()
    answer = send(dispatcher_client, site, typed(lead, kind="startup", train=train.pk))
    assert "A start-up without a well" in answer.content.decode()


def test_a_second_visit_to_the_house_on_one_day_is_asked_about(dispatcher_client, lead, site):
    send(dispatcher_client, site, typed(lead))
    other = make_staff("technician")
    answer = send(dispatcher_client, site, typed(other, start="13:00", kind="refill"))
    assert "a visit that day already: Service, 09:00, Tess Alder." in answer.content.decode()
    sent = typed(other, start="13:00", kind="refill", sure=agreed(answer))
    assert send(dispatcher_client, site, sent).status_code == 302
    cancelled = Visit.objects.order_by("starts_at")
    assert cancelled.count() == 2


def test_a_visit_next_door_or_the_one_that_is_moved_is_no_second_one(dispatcher_client, lead, site):
    assert send(dispatcher_client, make_train().site, typed(lead)).status_code == 302
    other = make_staff("technician")
    assert send(dispatcher_client, site, typed(other, start="13:00")).status_code == 302
    visit = Visit.objects.get(lead=other)
    sent = {"lead": other.pk, "day": TOMORROW.isoformat(), "start": "14:00", "minutes": 60}
    where = reverse("visit-move", args=[visit.pk])
    assert dispatcher_client.post(where, {**sent, "version": 1}).status_code == 302


def test_a_yes_to_one_day_is_no_yes_to_another(dispatcher_client, lead, site):
    first = send(dispatcher_client, site, typed(lead, day=SUNDAY.isoformat()))
    later = (SUNDAY + timedelta(days=7)).isoformat()
    answer = send(dispatcher_client, site, typed(lead, day=later, sure=agreed(first)))
    assert "21 June 2026 is a Sunday." in answer.content.decode()
    assert not Visit.objects.exists()


def test_saturday_is_asked_about_and_five_to_seven_is_not(dispatcher_client, lead, site):
    saturday = (TODAY + timedelta(days=3)).isoformat()
    assert (
        "is a Saturday" in send(dispatcher_client, site, typed(lead, day=saturday)).content.decode()
    )
    sent = typed(lead, start="16:00", minutes=180)
    assert send(dispatcher_client, site, sent).status_code == 302


def test_moving_asks_only_about_the_new_time(dispatcher_client, lead):
    visit = booked(opened(make_train()), lead, at=at_hour(SUNDAY, 9), now=NOW)
    where = reverse("visit-move", args=[visit.pk])
    sent = {"lead": lead.pk, "day": SUNDAY.isoformat(), "start": "09:00", "version": 1}
    assert dispatcher_client.post(where, {**sent, "minutes": 90}).status_code == 302
    sent |= {"version": 2, "start": "10:00", "minutes": 90}
    answer = dispatcher_client.post(where, sent)
    assert "Yes, move it anyway" in answer.content.decode()
    assert dispatcher_client.post(where, {**sent, "sure": agreed(answer)}).status_code == 302


def test_who_holds_more_time_is_asked_about_the_evening_and_not_let_over_midnight(
    dispatcher_client, lead
):
    visit = booked(opened(make_train()), lead, at=at_hour(TOMORROW, 14), now=NOW)
    where = reverse("visit-move", args=[visit.pk])
    sent = {"lead": lead.pk, "day": TOMORROW.isoformat(), "start": "14:00", "version": 1}
    refused = dispatcher_client.post(where, {**sent, "minutes": 630})
    assert "ends on the day it begins" in " ".join(refused.context["form"].errors["minutes"])
    asked = dispatcher_client.post(where, {**sent, "minutes": 480})
    assert "14:00 to 22:00 is outside the working hours" in asked.content.decode()
    visit.refresh_from_db()
    assert visit.version == 1
    sent |= {"minutes": 480, "sure": agreed(asked)}
    assert dispatcher_client.post(where, sent).status_code == 302
    sent |= {"minutes": 420, "version": 2, "sure": ""}
    assert dispatcher_client.post(where, sent).status_code == 302, "less is not asked about"


def test_a_visit_under_way_keeps_its_beginning(dispatcher_client, lead, clock):
    """A helper joins at half past ten; the visit began at ten."""
    visit = booked(opened(make_train()), lead, at=NOW, now=NOW)
    clock(NOW + timedelta(minutes=30))
    other = make_staff("technician")
    sent = {
        "lead": lead.pk,
        "helper": other.pk,
        "day": TODAY.isoformat(),
        "start": "10:00",
        "minutes": 60,
        "version": 1,
    }
    answer = dispatcher_client.post(reverse("visit-move", args=[visit.pk]), sent)
    assert answer.status_code == 302
    sent |= {"version": 2, "start": "10:15"}
    answer = dispatcher_client.post(reverse("visit-move", args=[visit.pk]), sent)
    assert "10:15 has passed" in answer.content.decode()


def test_the_quarter_that_runs_may_be_booked(dispatcher_client, lead, site, clock):
    clock(NOW + timedelta(minutes=14))
    sent = typed(lead, day=TODAY.isoformat(), start="10:00")
    assert send(dispatcher_client, site, sent).status_code == 302
