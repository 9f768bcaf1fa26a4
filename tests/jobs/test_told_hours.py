"""A moved visit: the hours told go with it, and a letter goes where something told is other."""

import re
from datetime import timedelta

import pytest
from django.db import IntegrityError, transaction
from django.urls import reverse
from icalendar import Calendar

from jobs.models import OutboxMail, Visit
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.factories import make_staff, make_train
from tests.jobs.mail.letters import calendar_of, words_of
from tests.jobs.mail.letters import opened as message_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
TOMORROW = company_day(NOW) + timedelta(days=1)


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def visit(clock, lead):
    """Tomorrow from nine, an hour; told nine to ten."""
    return booked(opened(make_train(stages=("softener",))), lead, at=at_hour(TOMORROW, 9), now=NOW)


def move(client, visit, **changed):
    """The form as it opens, with what somebody changed in it."""
    where = reverse("visit-move", args=[visit.pk])
    form = client.get(where).context["form"]
    sent = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in sent.items() if value not in (None, False)}
    sent |= {"start": f"{sent['start']:%H:%M}", **changed}
    return client.post(where, sent, follow=True)


def letters_of(visit):
    return OutboxMail.objects.filter(visit=visit).order_by("pk")


def event_of(mail):
    (event,) = Calendar.from_ical(calendar_of(mail)[1]).walk("VEVENT")
    return event


def test_the_hours_told_move_with_the_visit_to_page_letter_and_calendar(dispatcher_client, visit):
    page = move(dispatcher_client, visit, start="13:00").content.decode()
    assert "To tell the customer: 13:00 to 14:00." in page
    assert re.search(r"<dt>Customer told</dt>\s*<dd>\s*13:00 to 14:00", page)
    mail = letters_of(visit).get(template="visit_moved")
    assert "between 1:00 pm and 2:00 pm" in words_of(mail)
    event = event_of(mail)
    assert (event["DTSTART"].dt, event["SEQUENCE"]) == (at_hour(TOMORROW, 13), 1)


def test_hours_told_later_than_the_start_stay_as_much_later(dispatcher_client, lead, visit):
    told = {"arrive_from": at_hour(TOMORROW, 15), "arrive_until": at_hour(TOMORROW, 17)}
    visit = booked(visit.job, lead, at=at_hour(TOMORROW, 13), hours=4, now=NOW, **told)
    move(dispatcher_client, visit, day=(TOMORROW + timedelta(days=1)).isoformat(), start="08:00")
    visit.refresh_from_db()
    begins = at_hour(TOMORROW + timedelta(days=1), 10)
    assert (visit.arrive_from, visit.arrive_until) == (begins, begins + timedelta(hours=2))


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"arrive_from": "09:30"}, "between 9:30 am and 10:00 am"),
        ({"arrive_until": "09:30"}, "between 9:00 am and 9:30 am"),
    ],
)
def test_other_hours_told_of_the_same_time_held_are_news(dispatcher_client, visit, typed, said):
    move(dispatcher_client, visit, **typed)
    assert said in words_of(letters_of(visit).get(template="visit_moved"))


def test_hours_told_are_kept_on_purpose_where_the_time_held_contains_them(dispatcher_client, visit):
    """An hour more before it: the technician begins at eight, the customer expects him at nine."""
    page = move(dispatcher_client, visit, start="08:00", minutes=120, keep_told="on")
    assert "told the same day, hours and person: no letter" in page.content.decode()
    visit.refresh_from_db()
    assert (visit.starts_at, visit.arrive_from) == (at_hour(TOMORROW, 8), at_hour(TOMORROW, 9))
    assert [mail.template for mail in letters_of(visit)] == ["visit_confirmation"]


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"keep_told": "on"}, "09:00 lies outside the visit: time is held from 13:00 to 14:00"),
        ({"arrive_from": "12:00"}, "12:00 lies outside the visit"),
        ({"arrive_from": "13:00", "arrive_until": "14:15"}, "14:15 lies outside the visit"),
        ({"arrive_from": "13:00", "keep_told": "on"}, "Keep the hours told, or write others"),
    ],
)
def test_hours_outside_the_time_held_are_refused_beside_what_was_typed(
    dispatcher_client, visit, typed, said
):
    answer = move(dispatcher_client, visit, start="13:00", **typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert 'value="13:00"' in answer.content.decode()
    assert letters_of(visit).count() == 1


def test_half_an_hour_held_is_half_an_hour_told(visit, lead):
    short = booked(visit.job, lead, at=at_hour(TOMORROW, 15), hours=0.5, now=NOW)
    assert short.arrive_until == short.ends_at


def test_no_row_holds_hours_told_outside_the_time_held(visit):
    late = visit.ends_at + timedelta(minutes=15)
    with pytest.raises(IntegrityError), transaction.atomic():
        Visit.objects.filter(pk=visit.pk).update(arrive_until=late)


def test_moving_without_a_change_sends_nothing_and_changes_nothing(dispatcher_client, visit):
    page = move(dispatcher_client, visit).content.decode()
    assert "Nothing was changed, and nobody is written to." in page
    assert letters_of(visit).count() == 1
    after = Visit.objects.get()
    assert (after.version, after.sequence) == (visit.version, visit.sequence)


def test_a_second_pair_of_hands_or_more_time_is_no_news_to_the_customer(dispatcher_client, visit):
    helper = make_staff("technician", first_name="Otto", last_name="Beech")
    move(dispatcher_client, visit, helper=helper.pk, minutes=180)
    assert letters_of(visit).count() == 1
    day = dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()}).content.decode()
    assert len(re.findall(r'class="box at-\d+ for-12"', day)) == 2  # three hours of both
    assert event_of(letters_of(visit).get())["SEQUENCE"] == 0


def test_another_technician_is_news_and_leaves_the_yes_to_the_hour(dispatcher_client, visit):
    Visit.objects.update(customer_confirmed_at=NOW)
    other = make_staff("technician", first_name="Otto", last_name="Beech")
    move(dispatcher_client, visit, lead=other.pk)
    mail = letters_of(visit).get(template="visit_moved")
    assert "Otto Beech" in words_of(mail)
    assert Visit.objects.get().customer_confirmed_at == NOW
    move(dispatcher_client, visit, start="11:00")
    assert Visit.objects.get().customer_confirmed_at is None


@pytest.mark.parametrize(
    ("changed", "title", "said"),
    [
        ({"day": "2026-06-12"}, "New day", "before, it was Thursday, June 11."),
        ({"start": "11:00"}, "New hours", "before, they were between 9:00 am and 10:00 am."),
        ({"lead": "otto"}, "Another technician", "Otto Beech comes instead of Tess Alder."),
    ],
)
def test_the_letter_says_what_is_other_than_they_were_told(
    dispatcher_client, visit, changed, title, said
):
    otto = make_staff("technician", first_name="Otto", last_name="Beech")
    send(letters_of(visit).get(), Postbox())
    if "lead" in changed:
        changed = {"lead": otto.pk}
    move(dispatcher_client, visit, **changed)
    mail = letters_of(visit).get(template="visit_moved")
    assert said in words_of(mail)
    assert words_of(mail).count("before, ") == (0 if "lead" in changed else 1)
    assert message_of(mail)["Subject"].startswith(f"{title}: visit on ")


def test_moved_before_the_first_letter_went_the_customer_reads_of_one_visit(
    dispatcher_client, visit
):
    move(dispatcher_client, visit, start="11:00")
    first, second = letters_of(visit)
    assert send(first, Postbox()).state == "skipped"
    assert "A visit is booked" in words_of(second)
    assert "has changed" not in words_of(second)
    assert message_of(second)["Subject"].startswith("Visit on ")


def test_a_cancelled_visit_says_why_and_goes_from_the_calendar(dispatcher_client, visit):
    """RFC 5545 (IETF, 2009) 3.8.7.4: a calendar takes the file with the higher SEQUENCE."""
    send(letters_of(visit).get(), Postbox())
    where = reverse("visit-cancel", args=[visit.pk])
    dispatcher_client.post(where, {"reason": "customer is away"})
    page = dispatcher_client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    assert "Cancelled: customer is away." in page
    event = event_of(letters_of(visit).get(template="visit_cancelled"))
    assert (event["STATUS"], event["SEQUENCE"]) == ("CANCELLED", 1)
