"""Reminders, daily lists and letters: each once, only when of use, only if not told since."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest

from jobs.mail.about import visit_confirmation, visit_moved
from jobs.mail.smtp import Answer, Verdict
from jobs.models import FollowUpRule, Job, OutboxMail, Visit
from jobs.models.company import company_day
from jobs.workflows import reminders
from jobs.workflows.follow_ups import snooze
from jobs.workflows.people import close_account
from jobs.workflows.visits import confirm_visit
from tests import factories
from tests.acts import booked, moved, opened, sold
from tests.jobs.mail.letters import NOW, a_visit, words_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def written(template="visit_reminder"):
    rows = OutboxMail.objects.filter(template=template).order_by("pk")
    return [row.context.get("kind", "") for row in rows]


def scan_daily(first, last):
    """One scan an hour, as far as reminders are concerned."""
    at = first
    while at <= last:
        reminders.write_due_reminders(at)
        at += timedelta(hours=1)


def test_two_reminders_for_a_visit_booked_long_ahead():
    visit = a_visit(days=20)
    scan_daily(NOW, visit.starts_at + DAY)
    assert written() == ["reminder-week", "reminder-day"]
    week, day = OutboxMail.objects.order_by("pk")
    assert visit.arrive_from - 8 * DAY < week.not_before <= visit.arrive_from - 7 * DAY
    assert visit.arrive_from - 2 * DAY < day.not_before <= visit.arrive_from - DAY


@pytest.mark.parametrize(
    ("days", "expected"),
    [
        (0.5, []),
        (1, []),
        (2, ["reminder-day"]),
        (6, ["reminder-day"]),
        (7, ["reminder-day"]),
        (8, ["reminder-week", "reminder-day"]),
    ],
)
def test_a_visit_booked_shortly_before_gets_no_reminder_of_a_time_already_past(days, expected):
    visit = a_visit(days=days)
    scan_daily(NOW, visit.starts_at + DAY)
    assert written() == expected


def test_a_visit_moved_close_by_is_not_reminded_a_week_ahead():
    visit = a_visit(days=30)
    visit.starts_at = visit.arrive_from = NOW + 5 * DAY
    visit.ends_at = visit.arrive_until = visit.starts_at + timedelta(hours=1)
    visit.sequence = 1
    visit.save()
    visit_moved.write(visit=visit, now=NOW)
    scan_daily(NOW, visit.starts_at + DAY)
    assert written() == ["reminder-day"]


def test_reminders_of_the_old_time_do_not_stop_those_of_the_new():
    visit = a_visit(days=8)
    scan_daily(NOW, NOW + 3 * DAY)
    assert written() == ["reminder-week"]
    moved_at = NOW + 3 * DAY
    visit.starts_at = visit.arrive_from = NOW + 20 * DAY
    visit.ends_at = visit.arrive_until = visit.starts_at + timedelta(hours=1)
    visit.sequence = 1
    visit.save()
    visit_moved.write(visit=visit, now=moved_at)
    scan_daily(moved_at, visit.starts_at)
    assert written() == ["reminder-week", "reminder-week", "reminder-day"]


@pytest.mark.parametrize("status", ["requested", "tentative", "cancelled"])
def test_only_confirmed_visits_are_reminded_of(status):
    visit = a_visit(days=8, status=status)
    scan_daily(NOW, visit.starts_at)
    assert written() == []


def test_a_second_scan_writes_nothing():
    a_visit(days=8)
    at = NOW + DAY
    assert reminders.write_due_reminders(at) == 1
    assert reminders.write_due_reminders(at) == 0
    assert len(written()) == 1


def test_after_a_day_without_worker_one_catch_up():
    visit = a_visit(days=8)
    reminders.write_due_reminders(NOW + 2.1 * DAY)  # 26 h late
    reminders.write_due_reminders(NOW + 2.2 * DAY)
    assert written() == ["reminder-week"]
    reminders.write_due_reminders(visit.arrive_from - timedelta(hours=1))
    assert written() == ["reminder-week", "reminder-day"]


def test_what_is_heard_at_the_hour_of_the_reminder_is_not_told_twice():
    """Booked a week ahead, at the first hour of mail."""
    at = NOW - timedelta(hours=2)
    booked(
        opened(factories.make_train()), factories.make_staff("technician"), at=NOW + 7 * DAY, now=at
    )
    assert reminders.write_due_reminders(at) == 0
    assert written() == []


def test_a_reminder_ends_with_the_moment_from_which_it_is_of_no_use():
    visit = a_visit(days=20)
    reminders.write_due_reminders(visit.arrive_from - 2 * DAY)
    reminders.write_due_reminders(visit.arrive_from)
    assert written() == []


def test_nobody_is_reminded_of_a_visit_that_has_begun():
    """Time is held from ten; the customer was told to expect them from noon."""
    lead, at = factories.make_staff("technician"), NOW + 7 * DAY
    noon = {"arrive_from": at + timedelta(hours=2), "arrive_until": at + timedelta(hours=3)}
    booked(opened(factories.make_train()), lead, at=at, hours=4, now=NOW - 9 * DAY, **noon)
    reminders.write_due_reminders(at)
    assert written() == []


def test_a_week_reminder_three_weeks_late_is_not_written():
    visit = a_visit(days=20)
    reminders.write_due_reminders(visit.arrive_from - 1.5 * DAY)
    assert written() == []


@pytest.mark.parametrize(
    "zone", ["America/New_York", "America/Chicago", "America/Denver", "Pacific/Honolulu"]
)
@pytest.mark.parametrize("month_day", [(3, 8), (11, 1), (6, 10)])  # 2026: both changes of clocks
def test_reminders_fall_into_the_hours_of_the_house(zone, month_day):
    site = factories.make_site(time_zone=zone)
    visit_at = datetime(2026, *month_day, 17, 0, tzinfo=UTC)
    booked = visit_at - 30 * DAY
    visit = a_visit(job=factories.make_job(site=site, now=booked), starts_at=visit_at, now=booked)
    scan_daily(visit_at - 9 * DAY, visit_at)
    hours = {
        row.not_before.astimezone(ZoneInfo(zone)).hour
        for row in OutboxMail.objects.filter(visit=visit)
    }
    assert hours == {8}


def test_number_of_queries_does_not_grow_with_written_reminders(django_assert_max_num_queries):
    for _ in range(12):
        moved(a_visit(days=9), at=NOW + 8 * DAY)
    reminders.write_due_reminders(NOW + DAY)
    with django_assert_max_num_queries(6):
        reminders.write_due_reminders(NOW + DAY)
    assert Visit.objects.count() == 12


# --- daily lists -----------------------------------------------------------------------------


@pytest.fixture
def people():
    return {
        "dispatcher": factories.make_staff("dispatcher"),
        "owner": factories.make_staff("owner"),
        "technician": factories.make_staff("technician"),
    }


def late_promise(days, **fields):
    """Past its window by so many days."""
    until = NOW.date() - timedelta(days=days)
    return factories.make_follow_up(
        due_on=until - timedelta(days=7), window_until=until, now=NOW - 60 * DAY, **fields
    )


def readers():
    rows = OutboxMail.objects.filter(template="overdue_list").order_by("pk")
    return [row.recipient for row in rows]


def test_dispatchers_read_what_is_late_the_owner_what_has_grown_old(people):
    late_promise(1)
    reminders.write_daily_lists(NOW)
    assert readers() == [people["dispatcher"].email, people["owner"].email]


def test_the_owner_is_not_told_of_young_ones(people):
    factories.make_follow_up(
        due_on=NOW.date() - timedelta(days=9),
        now=NOW - 20 * DAY,
        window_until=NOW.date() - timedelta(days=1),
    )
    reminders.write_daily_lists(NOW)
    assert readers() == [people["dispatcher"].email]


def test_a_promise_inside_its_window_is_not_late(people):
    factories.make_follow_up(due_on=NOW.date(), now=NOW - 14 * DAY)
    reminders.write_daily_lists(NOW)
    assert readers() == []


def test_a_promise_past_its_day_and_not_booked_is_on_the_dispatchers_list(people):
    factories.make_follow_up(due_on=NOW.date() - timedelta(days=1), now=NOW - 15 * DAY)
    reminders.write_daily_lists(NOW)
    assert readers() == [people["dispatcher"].email]


def test_one_list_a_day(people):
    late_promise(1)
    for hour in range(6):
        reminders.write_daily_lists(NOW + timedelta(hours=hour))
    assert len(readers()) == 2
    reminders.write_daily_lists(NOW + DAY)
    assert len(readers()) == 4


def test_without_dispatchers_the_owner_reads_the_daily_list():
    owner = factories.make_staff("owner")
    factories.make_follow_up(due_on=NOW.date() - timedelta(days=1), now=NOW - 15 * DAY)
    reminders.write_daily_lists(NOW)
    assert readers() == [owner.email]


def test_a_closed_account_does_not_mind_the_office(people):
    close_account(user=people["dispatcher"], by=people["owner"], now=NOW)
    factories.make_follow_up(due_on=NOW.date() - timedelta(days=1), now=NOW - 15 * DAY)
    reminders.write_daily_lists(NOW)
    assert readers() == [people["owner"].email]


# --- the letter about due work ---------------------------------------------------------------


def refill(site, due_on, **fields):
    rule = factories.make_rule(
        "f3", name="Refill", harm=FollowUpRule.Harm.REFILL, job_kind=Job.Kind.REFILL
    )
    return factories.make_follow_up(rule=rule, site=site, due_on=due_on, now=NOW, **fields)


def letters():
    return OutboxMail.objects.filter(template="due_work")


def test_one_letter_for_all_houses_and_all_work():
    customer = factories.make_customer()
    for _ in range(2):
        site = factories.make_site(customer=customer)
        refill(site, date(2026, 6, 20))
        refill(site, date(2026, 6, 28))
    assert reminders.write_due_letters(NOW) == 1
    assert reminders.write_due_letters(NOW) == 0
    assert letters().get().customer == customer


def test_letters_are_four_weeks_apart_whatever_falls_due():
    site = factories.make_site()
    sent_on = []
    for day in range(120):
        at = NOW + day * DAY
        if day % 5 == 0:
            refill(site, at.date() + timedelta(days=10))
        before = letters().count()
        reminders.write_due_letters(at)
        sent_on += [day] * (letters().count() - before)
    assert sent_on == [0, 28, 56, 84, 113], "and one a month: the last one waits for October"


@pytest.mark.parametrize(
    "change",
    [
        {"status": "booked"},
        {"status": "waived"},
        {"snoozed_until": date(2026, 9, 1)},
    ],
    ids=["booked", "waived", "put off"],
)
def test_no_letter_about_what_needs_no_date(change):
    site = factories.make_site()
    if change.get("status") == "booked":
        change = change | {"visit": a_visit(job=factories.make_job(site=site, now=NOW))}
    refill(site, date(2026, 6, 20), **change)
    assert reminders.write_due_letters(NOW) == 0


def test_rechecks_are_a_matter_of_a_call_not_of_a_letter():
    factories.make_follow_up(due_on=date(2026, 6, 20), now=NOW)
    assert reminders.write_due_letters(NOW) == 0


def test_the_former_owner_gets_no_letter():
    site = factories.make_site()
    refill(site, date(2026, 6, 20))
    tenure = factories.SiteTenure.objects.get(site=site)
    tenure.until_on = date(2026, 6, 1)
    tenure.save()
    assert reminders.write_due_letters(NOW) == 0


def test_only_the_contact_of_a_house_gets_the_letter_about_it():
    """Let to somebody who is the contact since: the owner of the house hears nothing of it."""
    owner, tenant = factories.make_customer(), factories.make_customer()
    site = factories.make_site(customer=owner)
    sold(site, on=company_day(NOW), to=tenant, ending=[], part="tenant")
    refill(site, date(2026, 6, 20))
    assert reminders.write_due_letters(NOW) == 1
    assert letters().get().customer == tenant


def test_those_who_get_no_letters_do_not_take_the_place_of_others(monkeypatch):
    monkeypatch.setattr(reminders, "LETTERS_A_SCAN", 1)
    gone, silent, unwilling, other = (
        factories.make_customer(**fields)
        for fields in ({}, {"email": ""}, {"mail_wanted": False}, {})
    )
    mail = visit_confirmation.write(
        visit=a_visit(job=factories.make_job(site=factories.make_site(customer=gone), now=NOW)),
        now=NOW,
    )
    send(mail, Postbox(Answer(Verdict.REFUSED, "550", "no such user")))
    for customer in (gone, silent, unwilling, other):
        refill(factories.make_site(customer=customer), date(2026, 6, 20))
    assert reminders.write_due_letters(NOW) == 1
    assert letters().get().customer == other


# --- from the acts -------------------------------------------------------------------------------


def test_who_is_told_of_a_nearer_day_is_not_reminded_of_it_at_once():
    lead, at = factories.make_staff("technician"), NOW + 10 * DAY
    visit = booked(opened(factories.make_train()), lead, at=NOW + 20 * DAY, now=NOW)
    moved(visit, at=NOW + 15 * DAY, now=at)
    assert reminders.write_due_reminders(at + timedelta(hours=1)) == 0
    assert reminders.write_due_reminders(at + 4 * DAY) == 1


def test_who_is_told_of_the_day_once_it_stands_is_not_reminded_of_it_at_once():
    """Held for a while, then confirmed by the office six days before: that letter tells the day."""
    lead, at = factories.make_staff("technician"), NOW + 14 * DAY
    job = opened(factories.make_train())
    visit = booked(job, lead, at=NOW + 20 * DAY, now=NOW, status=Visit.Status.TENTATIVE)
    confirm_visit(visit=visit, by=factories.make_staff("dispatcher"), now=at)
    assert reminders.write_due_reminders(at + timedelta(hours=1)) == 0
    assert reminders.write_due_reminders(at + 5 * DAY) == 1


def test_what_is_put_off_inside_its_window_is_not_called_late(people):
    by = people["dispatcher"]
    late, early = (
        factories.make_follow_up(due_on=company_day(NOW) - days * DAY, now=NOW - 60 * DAY)
        for days in (30, 1)
    )
    for promise in (late, early):
        until = company_day(NOW) + 3 * DAY
        snooze(follow_up=promise, until=until, reason="away", by=by, now=NOW)
    factories.make_follow_up(due_on=company_day(NOW) - 40 * DAY, now=NOW - 60 * DAY)
    reminders.write_daily_lists(NOW)
    text = words_of(OutboxMail.objects.get(template="overdue_list", recipient=by.email))
    assert late.site.street in text
    assert early.site.street not in text
