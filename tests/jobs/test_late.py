"""Late: overdue from the day after the window, counted from the first due day, said alike.

Each case begins with the acts that make it, and ends at what the dispatcher reads: the list, the
letter, the page of the promise and the page of the house.
"""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from jobs.mail.about import overdue_list
from jobs.models import Company, FollowUp, Job
from jobs.models.company import company_day
from jobs.models.visits import day_start
from jobs.schedule.working_days import add_working_days
from jobs.workflows import follow_ups
from jobs.workflows.follow_up_booking import book_from
from jobs.workflows.jobs import Wanted, open_job
from jobs.workflows.visits import Held
from tests.factories import make_site, make_staff, make_startup_train
from tests.jobs.mail.letters import text_of

pytestmark = pytest.mark.django_db
#: the recheck of a start-up is due after 14 days, its window ends after 21
DUE, WINDOW_END = 14, 21


@pytest.fixture(autouse=True)
def rules(db):
    call_command("load_rules", verbosity=0)


@pytest.fixture
def now():
    """Noon of the day on which the pages are read."""
    return day_start(company_day(timezone.now())) + timedelta(hours=12)


@pytest.fixture
def lead():
    return make_staff("technician")


def started(days_ago, now, by, street):
    """The promise of the recheck after a start-up so many days ago."""
    at = now - timedelta(days=days_ago)
    train = make_startup_train(site=make_site(street=street))
    made = follow_ups.happened(
        event="startup_closed",
        about=follow_ups.About(train.site, train),
        day=company_day(at),
        by=by,
        now=at,
    )
    return next(row for row in made if row.rule.code == "f1")


def put_off(promise, days, now, by):
    until = company_day(now) + timedelta(days=days)
    follow_ups.snooze(follow_up=promise, until=until, reason="away", by=by, now=now)


def booked(promise, lead, now, by):
    at = day_start(add_working_days(company_day(now), 3)) + timedelta(hours=10)
    held = Held(lead=lead, starts_at=at, ends_at=at + timedelta(hours=1))
    book_from(follow_up=promise, held=held, by=by, now=now)


def on_list(client, **asked):
    """Street of each recheck on the list, with the days it is late."""
    groups = client.get(reverse("worklist"), asked).context["groups"]
    rows = [row for group in groups for row in group.rows if row.follow_up.rule.code == "f1"]
    return {row.follow_up.site.street: row.late for row in rows}


def in_letter(user, now):
    """The same of the letter: late, late and put off, due."""
    mail = overdue_list.write(user=user, day=company_day(now), now=now)
    assert mail is not None
    text = " ".join(text_of(mail).split())
    recheck = (
        r"- Recheck of the oxidant setting, ([^,]+),[^:]*: was due (?:\w+, )?[^,]+?(?:, \d{4})?"
    )
    late = rf"{recheck}, (\d+) days late, (?:not )?booked"
    asleep = rf"{recheck}, (\d+) days late, put off until"
    due = rf"{recheck} https?://"
    found = [re.findall(pattern, text) for pattern in (late, asleep)]
    counted = [{street: int(days) for street, days in pairs} for pairs in found]
    return (*counted, dict.fromkeys(re.findall(due, text), 0))


def test_list_and_letter_name_the_same_promises_as_late_by_the_same_days(
    dispatcher_client, dispatcher, lead, now
):
    started(30, now, lead, "1 Late")
    started(WINDOW_END + 1, now, lead, "2 Just late")
    booked(started(40, now, lead, "3 Booked late"), lead, now, dispatcher)
    put_off(started(35, now, lead, "4 Asleep"), 5, now, dispatcher)
    earlier = now - timedelta(days=2)
    put_off(started(36, earlier, lead, "5 Awake"), 2, earlier, dispatcher)
    started(WINDOW_END, now, lead, "6 Last day")
    started(DUE + 1, now, lead, "7 Due")
    put_off(started(DUE + 2, now, lead, "8 Due asleep"), 3, now, dispatcher)
    gone = started(33, now, lead, "9 Given up")
    follow_ups.waive(follow_up=gone, reason="system taken out", by=dispatcher, now=now)

    late, asleep, due = in_letter(dispatcher, now)
    assert late == {"1 Late": 16, "2 Just late": 8, "3 Booked late": 26, "5 Awake": 24}
    assert asleep == {"4 Asleep": 21}
    assert due == {"6 Last day": 0, "7 Due": 0}
    assert on_list(dispatcher_client) == late | due
    assert on_list(dispatcher_client, show="late") == late
    assert on_list(dispatcher_client, show="put_off") == asleep | {"8 Due asleep": 0}
    parts = dispatcher_client.get(reverse("worklist")).context["parts"]
    counts = {part.key: (part.count, part.late) for part in parts}
    assert counts["put_off"] == (2, 1)
    assert counts["late"][0] == len(late)


def test_the_owner_reads_the_old_ones_put_off_or_not(owner, dispatcher, lead, now):
    days = Company.load().owner_told_after_days
    started(days, now, lead, "1 Old")
    put_off(started(days, now, lead, "2 Old asleep"), 5, now, dispatcher)
    started(days - 1, now, lead, "3 Young")
    late, asleep, due = in_letter(owner, now)
    assert (set(late), set(asleep), due) == ({"1 Old"}, {"2 Old asleep"}, {})


def test_pages_of_promise_and_house_say_the_same_days(dispatcher_client, lead, now):
    promise = started(30, now, lead, "1 Late")
    page = dispatcher_client.get(reverse("follow-up-detail", args=[promise.pk])).content.decode()
    assert "16\u00a0days late" in page
    page = dispatcher_client.get(reverse("follow-up-book", args=[promise.pk])).content.decode()
    assert "16\u00a0days late" in page
    page = dispatcher_client.get(reverse("site-history", args=[promise.site_id])).content.decode()
    assert "16 days late" in page
    house = dispatcher_client.get(reverse("site-detail", args=[promise.site_id]))
    said = {item["row"].pk: item["late"] for item in house.context["promises"]}
    assert said[promise.pk] == 16


@pytest.mark.parametrize(("given_up", "said"), [(0, False), (1, False), (-1, True)])
def test_what_had_ended_by_the_day_of_the_call_was_not_late(
    dispatcher_client, lead, now, given_up, said
):
    """Past its window when the customer calls, and given up on that day, before, or after."""
    promise = started(40, now, lead, "1 Called")
    called, ended = now - timedelta(days=2), now - timedelta(days=2 + given_up)
    follow_ups.waive(follow_up=promise, reason="system shut off", by=lead, now=ended)
    whose = {"site": promise.site, "train": promise.train, "by": lead, "now": now}
    origin = open_job(wanted=Wanted(Job.Kind.STARTUP, company_day(called)), **whose)
    yes = Job.CallbackAnswer.YES
    wanted = Wanted(Job.Kind.CALLBACK, company_day(called), callback_answer=yes, origin=origin)
    again = open_job(wanted=wanted, **whose)
    assert again.recheck_missed is said


@pytest.mark.parametrize(("days_ago", "was_late"), [(WINDOW_END, False), (WINDOW_END + 1, True)])
def test_a_callback_knows_whether_the_recheck_was_late_that_day(lead, now, days_ago, was_late):
    promise = started(days_ago, now, lead, "1 Called")
    day = company_day(now)
    whose = {"site": promise.site, "train": promise.train, "by": lead, "now": now}
    origin = open_job(wanted=Wanted(Job.Kind.STARTUP, day), **whose)
    yes = Job.CallbackAnswer.YES
    again = open_job(
        wanted=Wanted(Job.Kind.CALLBACK, day, callback_answer=yes, origin=origin), **whose
    )
    assert again.recheck_missed is was_late
    assert (promise in FollowUp.objects.overdue_on(company_day(now))) is was_late
    assert (promise.days_late(company_day(now)) > 0) is was_late
