"""Two clocks: the office books by its own, the house reads its own, and a change moves no hours."""

from datetime import timedelta

import pytest
from django.urls import reverse
from icalendar import Calendar

from jobs.mail.about import visit_reminder
from jobs.models import OutboxMail, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from tests.conftest import NOW
from tests.factories import make_site, make_staff
from tests.jobs.mail.letters import calendar_of, words_of

pytestmark = pytest.mark.django_db
TOMORROW = company_day(NOW) + timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def book(client, lead, site):
    sent = {
        "kind": "service",
        "lead": lead.pk,
        "status": "confirmed",
        "reported_on": company_day(NOW).isoformat(),
        "day": TOMORROW.isoformat(),
        "start": "13:00",
    }
    client.post(f"{reverse('visit-book')}?site={site.pk}", sent)
    return Visit.objects.get()


def words(client, name, *args, **asked):
    return " ".join(client.get(reverse(name, args=args), asked).content.decode().split())


def edit_zone(client, site, zone):
    where = reverse("site-edit", args=[site.pk])
    form = client.get(where).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False, "")}
    return client.post(where, {**sent, "time_zone": zone}, follow=True)


def letter(visit):
    return OutboxMail.objects.get(visit=visit, template="visit_confirmation")


def test_the_form_says_whose_clock_it_is(dispatcher_client, lead):
    near, far = make_site(), make_site(time_zone="America/Denver")
    page = words(dispatcher_client, "visit-book", site=near.pk)
    assert "All hours here are by the office&#x27;s clock (EDT)." in page
    assert "The clock of this house" not in page
    page = words(dispatcher_client, "visit-book", site=far.pk)
    assert "is 2 hours behind (MDT): at 12:00 here it is 10:00 there" in page


def test_page_and_letter_say_the_hour_of_the_house(dispatcher_client, lead):
    visit = book(dispatcher_client, lead, make_site(time_zone="America/Denver"))
    page = words(dispatcher_client, "visit-detail", visit.pk)
    assert "13:00 to 14:00" in page
    assert "between 11:00 am and 12:00 pm by the clock of the house" in page
    assert "between 11:00 am and 12:00 pm" in words_of(letter(visit))


def test_an_edit_of_the_zone_changes_no_hours_that_were_told(dispatcher_client, lead):
    site = make_site()
    visit = book(dispatcher_client, lead, site)
    answer = edit_zone(dispatcher_client, site, "America/Chicago").content.decode()
    assert "The hours told stay as they were told." in answer
    mail = letter(visit)
    assert "between 1:00 pm and 2:00 pm" in words_of(mail)
    (event,) = Calendar.from_ical(calendar_of(mail)[1]).walk("VEVENT")
    assert event["DTSTART"].dt == at_hour(TOMORROW, 13)
    assert event["DTSTART"].params["TZID"] == "America/New_York"
    reminder = visit_reminder.write(visit=visit, kind="day", now=NOW)
    assert "between 1:00 pm and 2:00 pm" in words_of(reminder)
    page = words(dispatcher_client, "visit-detail", visit.pk)
    assert "by the clock of the house we come between 12:00 pm and 1:00 pm" in page


def test_a_move_tells_by_the_clock_the_house_has_now(dispatcher_client, lead):
    site = make_site()
    visit = book(dispatcher_client, lead, site)
    edit_zone(dispatcher_client, site, "America/Chicago")
    sent = {"lead": lead.pk, "day": TOMORROW.isoformat(), "start": "14:00", "version": 1}
    dispatcher_client.post(reverse("visit-move", args=[visit.pk]), sent)
    mail = OutboxMail.objects.get(template="visit_moved")
    assert "between 1:00 pm and 2:00 pm" in words_of(mail)
    assert "two clocks" not in words(dispatcher_client, "visit-detail", visit.pk)


def test_a_zone_with_the_same_clock_is_no_news(dispatcher_client, lead):
    site = make_site()
    book(dispatcher_client, lead, site)
    answer = edit_zone(dispatcher_client, site, "America/Detroit").content.decode()
    assert "The hours told stay" not in answer
