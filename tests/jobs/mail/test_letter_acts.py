"""From what people did to the letter that somebody reads, or that is not sent any more."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command

from jobs.models import Company, FollowUp, FollowUpRule, OutboxMail, SiteTenure
from jobs.models.company import company_day
from jobs.workflows import outbox, reminders
from jobs.workflows.follow_ups import snooze, waive
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.people import Person, change_person
from jobs.workflows.records import close_record
from jobs.workflows.requests import handle
from jobs.workflows.rules import end_rule
from jobs.workflows.visit_answers import answer
from jobs.workflows.visits import cancel_visit, no_access
from tests.acts import HOUR, arrived, booked, closed, moved, opened, sold, visited, worked
from tests.factories import (
    make_customer,
    make_follow_up,
    make_rule,
    make_site,
    make_staff,
    make_tenure,
    make_train,
)
from tests.jobs.mail.letters import NOW, again, calendar_of, text_of, words_of
from tests.jobs.workflows.sending import Postbox, send
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
TODAY = company_day(NOW)
State, Harm = OutboxMail.State, FollowUpRule.Harm


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def train():
    return make_train(stages=("softener",))


def promised(lead, train, *, at=NOW, **rule):
    """A closed service under a rule: what is due 35 days later unless told."""
    given = {"offset_days": 35, "window_before_days": 0, "harm": Harm.REFILL, "job_kind": "refill"}
    given |= {"event": "visit_closed", "filter": {"job_kind": "service"}, "name": "Refill", **rule}
    made = make_rule("x1", **given)
    worked(train, lead, at=at)
    return made


# --- work that falls due ------------------------------------------------------------------------


@pytest.mark.parametrize(("days", "letters"), [(35, 1), (36, 0)])
def test_a_letter_looks_five_weeks_ahead(lead, train, days, letters):
    promised(lead, train, offset_days=days)
    assert reminders.write_due_letters(NOW) == letters
    about = OutboxMail.objects.filter(template="due_work")
    assert [mail.useful_until for mail in about] == letters * [NOW + 10 * DAY]


@pytest.mark.parametrize(
    ("rule", "letters"),
    [
        ({"harm": Harm.INTERVAL}, 1),
        ({"harm": Harm.ANNUAL}, 1),
        ({"harm": Harm.OTHER}, 1),
        ({"harm": Harm.RECHECK}, 0),
        ({"closing": "acknowledged"}, 0),
        ({"job_kind": ""}, 0),
    ],
)
def test_a_letter_is_about_work_that_the_household_makes_a_date_for(lead, train, rule, letters):
    promised(lead, train, **rule)
    assert reminders.write_due_letters(NOW) == letters


@pytest.mark.parametrize(("given_up", "letters"), [(True, 0), (False, 1)])
def test_a_rule_that_ended_writes_only_of_what_still_stands(lead, train, given_up, letters):
    rule = promised(lead, train)
    end_rule(rule=rule, give_up=given_up, reason="no longer offered", by=lead, now=NOW)
    assert reminders.write_due_letters(NOW) == letters


def test_what_was_done_meanwhile_is_not_written_about(lead, train):
    promised(lead, train)
    reminders.write_due_letters(NOW)
    mail = OutboxMail.objects.get(template="due_work")
    waive(follow_up=FollowUp.objects.get(), reason="done by the owner", by=lead, now=NOW)
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    postbox = Postbox()
    assert send(mail, postbox).last_error == "Nothing of it is due any more."
    assert postbox.taken == []


def test_a_letter_says_where_and_a_notice_once(lead):
    """Two houses of one customer; at a third he is no more than a tenant whom nobody asks."""
    customer = make_customer()
    houses = [make_site(customer=customer) for _ in range(2)]
    rented = make_site()
    make_tenure(site=rented, customer=customer, part="tenant", is_contact=False)
    for number, site in enumerate([*houses, rented] * 2):
        promised(lead, make_train(site=site), at=NOW + number * HOUR)
    open_notice(
        danger=Danger(site=houses[0], level="no_drinking", reason="flooded"), by=lead, now=NOW
    )
    reminders.write_due_letters(NOW)
    text = words_of(OutboxMail.objects.get(template="due_work", customer=customer))
    assert [text.count(site.street) for site in [*houses, rented]] == [1, 1, 0]
    assert text.count("July 15, 2026: to refill the solution tank") == 4
    assert text.count("OUR NOTICE OF WEDNESDAY, JUNE 10") == 1


# --- the office's list --------------------------------------------------------------------------


def mails_of(person):
    return OutboxMail.objects.filter(template="overdue_list", recipient=person.email)


@pytest.mark.parametrize(("days", "told"), [(27, False), (28, True)])
def test_the_owner_is_told_of_what_was_promised_four_weeks_ago(lead, train, owner, days, told):
    make_staff("dispatcher")
    promised(lead, train, at=NOW - days * DAY, offset_days=7, window_after_days=7)
    reminders.write_daily_lists(NOW)
    assert mails_of(owner).exists() == told


def test_who_is_an_owner_no_more_is_not_told(lead, train, owner):
    make_staff("dispatcher")
    second = make_staff("owner")
    promised(lead, train, at=NOW - 40 * DAY, offset_days=7, window_after_days=7)
    reminders.write_daily_lists(NOW)
    change_person(
        user=second, person=Person(email=second.email, roles=["technician"]), by=owner, now=NOW
    )
    mail = mails_of(second).get()
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    assert send(mail, Postbox()).last_error == "Nothing is late any more."


def test_the_list_is_written_before_the_working_day_and_of_use_on_it(lead, train, dispatcher):
    promised(lead, train, at=NOW - 40 * DAY, offset_days=7, window_after_days=7)
    reminders.write_daily_lists(NOW - 9 * HOUR)
    mail = mails_of(dispatcher).get()
    assert mail.not_before == NOW - 3 * HOUR  # seven in the morning
    assert mail.useful_until == NOW + 14 * HOUR  # midnight


def test_what_is_late_and_what_is_only_due_stand_apart(lead, dispatcher):
    for days in (7, 8, 9, 16):
        promised(
            lead,
            make_train(stages=("softener",)),
            at=NOW - days * DAY,
            offset_days=8,
            window_after_days=7,
            job_kind="recheck",
        )
    reminders.write_daily_lists(NOW)
    text = words_of(mails_of(dispatcher).get())
    assert "1 past the end of their window" in text
    assert "was due Tuesday, June 2, 8 days late, not booked" in text
    assert "1 due and not booked, still inside their window" in text
    assert "was due Tuesday, June 9 https" in text.replace("http:", "https:")


def test_a_promise_that_was_put_off_is_late_since_its_first_day(lead, train, dispatcher):
    promised(lead, train, at=NOW - 40 * DAY, offset_days=7, window_after_days=7)
    until = TODAY + DAY
    snooze(follow_up=FollowUp.objects.get(), until=until, reason="away", by=lead, now=NOW)
    reminders.write_daily_lists(NOW + DAY)
    assert "was due Friday, May 8, 34 days late" in words_of(mails_of(dispatcher).get())


def test_a_booked_one_past_its_window_says_so(lead, train, dispatcher):
    promised(lead, train, at=NOW - 40 * DAY, offset_days=7, window_after_days=7)
    booked(opened(train), lead, at=NOW + DAY, now=NOW, follow_ups=[FollowUp.objects.get()])
    reminders.write_daily_lists(NOW)
    assert "days late, booked" in words_of(mails_of(dispatcher).get())


def test_a_long_list_shows_fifty_and_says_how_many(dispatcher):
    for _ in range(52):
        make_follow_up(due_on=TODAY - 30 * DAY, now=NOW - 60 * DAY, site=make_site_once())
    reminders.write_daily_lists(NOW)
    text = words_of(mails_of(dispatcher).get())
    assert "52 past the end of their window" in text
    assert text.count("days late") == 50


def make_site_once():
    return FollowUp.objects.first().site if FollowUp.objects.exists() else make_site()


# --- visits -------------------------------------------------------------------------------------


def confirmation(lead, train, *, at=NOW + 2 * DAY, **told):
    visit = booked(opened(train), lead, at=at, now=NOW, **told)
    return visit, OutboxMail.objects.get(visit=visit)


def test_a_letter_is_of_use_until_the_hour_it_tells(lead, train):
    visit, mail = confirmation(lead, train)
    assert send(mail, Postbox(), at=visit.arrive_from).state == State.SKIPPED
    assert again(mail).last_error == "Its time had passed before it could be sent."


def test_a_letter_that_would_come_in_the_hour_it_tells_is_not_kept_for_the_morning(lead, train):
    """Written at eight in the evening about eight in the morning."""
    visit, mail = confirmation(lead, train, at=NOW + DAY - 2 * HOUR)
    assert visit.arrive_from == NOW + 22 * HOUR
    late = send(mail, Postbox(), at=NOW + 10 * HOUR)
    assert late.last_error == "It would have arrived at night and be of no use in the morning."


@pytest.mark.parametrize(
    ("hours", "waits"),
    [(-2, 0), (-3, 1), (7.9, 0), (8, 14)],
    ids=["8:00", "7:00", "17:54", "18:00"],
)
def test_customers_are_written_to_from_eight_to_six(lead, train, hours, waits):
    """Booked at 8:00, 7:00, 17:54 and 18:00."""
    at = NOW + hours * HOUR
    visit = booked(opened(train), lead, at=NOW + 5 * DAY, now=at)
    assert OutboxMail.objects.get(visit=visit).not_before == at + waits * HOUR


def test_a_cancelled_visit_that_was_booked_again_is_not_called_off(lead, train):
    """Only what is cancelled is written about as cancelled."""
    visit, told = confirmation(lead, train)
    send(told, Postbox())
    cancel_visit(visit=visit, reason="customer away", by=lead, now=NOW)
    mail = OutboxMail.objects.get(template="visit_cancelled")
    _, calendar = calendar_of(mail)
    assert "METHOD:CANCEL" in calendar
    assert "STATUS:CANCELLED" in calendar
    assert send(mail, Postbox()).state == State.SENT


def test_a_moved_visit_is_told_as_it_stands_and_to_the_guest(lead, train):
    visit, _ = confirmation(lead, train, arrive_from=NOW + 2 * DAY + HOUR)
    OutboxMail.objects.all().delete()
    moved(visit, at=NOW + 3 * DAY, arrive_from=NOW + 3 * DAY + HOUR, hours=3)
    mail = OutboxMail.objects.get(template="visit_moved")
    _, calendar = calendar_of(mail)
    assert "STATUS:CONFIRMED" in calendar
    assert "DTSTART;TZID=America/New_York:20260613T110000" in calendar
    assert f"RSVP=FALSE:mailto:{mail.recipient}" in calendar.replace("\r\n ", "")


def test_one_moment_told_is_held_to_the_end_of_the_visit_in_the_calendar(lead, train):
    at = NOW + 2 * DAY
    _, mail = confirmation(lead, train, at=at, hours=2, arrive_from=at, arrive_until=at)
    _, calendar = calendar_of(mail)
    assert "DTEND;TZID=America/New_York:20260612T120000" in calendar
    assert "at 10:00 am" in words_of(mail)


@pytest.mark.parametrize(("hours", "said"), [(2, "12:00 pm"), (3, "1:00 pm"), (1, "11:00 am")])
def test_hours_are_said_as_a_clock_shows_them(lead, train, hours, said):
    at = NOW + DAY + hours * HOUR
    _, mail = confirmation(lead, train, at=at)
    assert f"between {said} and" in words_of(mail)


def test_after_no_access_a_new_time_is_asked_for_until_there_is_one(lead, train):
    visit, _ = confirmation(lead, train, at=NOW)
    arrived(visit)
    no_access(visit=visit, note="bell, telephone", by=lead, now=NOW + HOUR / 2)
    mail = OutboxMail.objects.get(template="no_access")
    assert mail.useful_until == NOW + HOUR / 2 + 3 * DAY
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    booked(visit.job, lead, at=NOW + DAY, now=NOW + HOUR)
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    assert send(mail, Postbox(), at=NOW + 2 * HOUR).last_error == "Another visit is booked already."


def test_a_house_that_nobody_holds_is_told_through_whoever_asked(lead):
    site = make_site()
    job = opened(make_train(site=site))
    tenure = site_tenure(site)
    tenure.until_on = TODAY
    tenure.save()
    visit = booked(job, lead, at=NOW + 2 * DAY, now=NOW)
    assert OutboxMail.objects.get(visit=visit).customer == job.customer


def site_tenure(site):
    return SiteTenure.objects.get(site=site)


# --- what a customer asks -----------------------------------------------------------------------


def wish(mail, said="move"):
    token = re.search(r"/v/([^/\s]+)/", text_of(mail))[1]
    return answer(token=token, choice=said, now=NOW + HOUR, note="after four")


def question(visit):
    return OutboxMail.objects.get(visit=visit, template="customer_asks")


def test_a_wish_is_of_use_until_the_visit_may_have_begun(lead, train, dispatcher):
    visit, mail = confirmation(lead, train, at=NOW + DAY)
    wish(mail)
    assert question(visit).useful_until == visit.arrive_until


@pytest.mark.parametrize("how", ["handled", "yes after it", "visit over", "still open"])
def test_a_wish_that_is_settled_is_not_asked_about(lead, train, dispatcher, how):
    visit, mail = confirmation(lead, train, at=NOW + DAY)
    wish(mail)
    if how == "yes after it":
        wish(mail, "confirm")
    elif how == "handled":
        handle(visit=visit, seen=10**6, how="stays", by=dispatcher, now=NOW)
    elif how == "visit over":
        visit = arrived(visit, at=NOW + DAY)
        closed(visit, at=NOW + DAY + HOUR / 4)
    asked = question(visit)
    OutboxMail.objects.exclude(pk=asked.pk).delete()
    left = send(asked, Postbox(), at=NOW + DAY + HOUR / 2)
    assert left.state == (State.SKIPPED if how in ("handled", "visit over") else State.SENT)


def test_each_wish_is_a_message_of_its_own(lead, train, dispatcher):
    visit, mail = confirmation(lead, train, at=NOW + DAY)
    wish(mail)
    token = re.search(r"/v/([^/\s]+)/", text_of(mail))[1]
    answer(token=token, choice="cancel", now=NOW + 2 * HOUR)
    assert OutboxMail.objects.filter(visit=visit, template="customer_asks").count() == 2


# --- records ------------------------------------------------------------------------------------


@pytest.fixture
def summary():
    """A start-up closed in the evening of a day it was opened on the morning of."""
    call_command("load_rules", verbosity=0)
    Company.objects.update_or_create(pk=1, defaults={"email": "desk@example.com"})
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + DAY)
    return record, OutboxMail.objects.get(template="record_summary")


def test_the_letter_of_a_record_says_what_comes_next_and_from_whom(summary):
    _, mail = summary
    text = words_of(mail)
    assert "the record of our work of Thursday, June 11" in text
    assert "unplug the small dosing pump" in text
    coming = re.findall(r"About (\w+ \d+, \d+): ", text)
    assert len(coming) == 4
    assert coming[0] == "June 25, 2026"
    assert "cause of a callback" not in text.lower()
    assert mail.useful_until == NOW + 6 * DAY
    assert "desk@example.com" in text


def test_the_letter_of_a_record_goes_to_who_holds_the_house(summary):
    record, mail = summary
    sold(record.site, on=TODAY, at=NOW + DAY)
    OutboxMail.objects.exclude(pk=mail.pk).delete()
    left = send(mail, Postbox(), at=NOW + DAY)
    assert left.last_error == "Somebody else is told at this house now."


def test_a_house_without_holder_has_its_record_sent_to_the_customer_of_the_job(lead):
    record, visit, by = make_ready()
    tenure = site_tenure(record.site)
    tenure.until_on = TODAY
    tenure.save()
    close_record(record=record, visit=visit, by=by, now=NOW + 5 * HOUR)
    mail = OutboxMail.objects.get(template="record_summary")
    assert mail.customer == record.job.customer
    assert send(mail, Postbox(), at=NOW + 5 * HOUR).state == State.SENT


def test_a_pass_takes_only_what_is_due(lead, train, monkeypatch):
    confirmation(lead, train, at=NOW + 20 * DAY)
    visited(opened(train), lead)
    OutboxMail.objects.update(not_before=NOW + HOUR)
    assert outbox.claim(now=NOW) is None
