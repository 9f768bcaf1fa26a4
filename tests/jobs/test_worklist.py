"""The worklist: worst harm first, lateness in days, and a booking in at most four actions."""

import re
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse
from django.utils import timezone

from jobs.models import ContactAttempt, FollowUp, FollowUpRule, Visit
from jobs.models.company import company_day
from jobs.workflows.attempts import record_attempt
from tests import factories as make
from tests.acts import bottled

pytestmark = pytest.mark.django_db
Harm = FollowUpRule.Harm


@pytest.fixture
def today():
    return company_day(timezone.now())


@pytest.fixture
def lead():
    return make.make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def promise(today, lead):
    """The two-week recheck after a start-up by Tess Alder."""
    started = timezone.now() - timedelta(days=14)
    train = make.make_startup_train()
    job = make.make_job(train=train, kind="startup", status="completed", now=started)
    visit = make.make_visit(job=job, lead=lead, starts_at=started, outcome="completed")
    return make.make_follow_up(train=train, due_on=today, from_visit=visit, now=started)


def listed(client):
    answer = client.get(reverse("worklist"))
    assert answer.status_code == 200
    return answer


def test_groups_stand_by_harm_and_empty_ones_stay(dispatcher_client, today):
    annual = make.make_rule("f11", name="Annual test", harm=Harm.ANNUAL)
    worst = make.make_rule("f14", name="Notice open", harm=Harm.NO_DRINKING)
    make.make_follow_up(rule=annual, due_on=today - timedelta(days=60))
    make.make_follow_up(rule=worst, due_on=today)
    page = listed(dispatcher_client).content.decode()
    assert page.index("Notice open") < page.index("Annual test")
    assert page.count('class="clear"') == len(Harm.choices) - 2
    assert "1 of 1 past its window" in " ".join(page.split())


@pytest.mark.parametrize(
    ("days_ago", "said"),
    [
        (10, '<b class="late">10</b> days late'),
        (7, "<b>0</b> days left"),
        (5, "<b>2</b> days left"),
    ],
)
def test_late_begins_after_the_window_and_counts_from_the_first_due_day(
    dispatcher_client, today, days_ago, said
):
    make.make_follow_up(due_on=today - timedelta(days=days_ago))
    assert said in " ".join(listed(dispatcher_client).content.decode().split())


def test_why_attempts_and_telephone_stand_in_the_row(dispatcher_client, dispatcher, promise):
    record_attempt(follow_up=promise, how="not_reached", by=dispatcher, now=timezone.now())
    page = listed(dispatcher_client).content.decode()
    assert "The oxidant was set at the start-up." in page
    assert "1 tried; last" in page
    assert 'href="tel:+1-518-555-01' in page


def test_a_booked_promise_past_its_window_does_not_hide(dispatcher_client, today, lead):
    visit = make.make_visit(lead=lead, starts_at=timezone.now() + timedelta(days=3))
    late = make.make_follow_up(
        due_on=today - timedelta(days=20), status="booked", visit=visit, site=visit.job.site
    )
    make.make_follow_up(due_on=today, status="booked", visit=visit, site=visit.job.site)
    rows = [row for group in listed(dispatcher_client).context["groups"] for row in group.rows]
    assert [row.follow_up for row in rows] == [late]


def test_what_is_not_due_or_put_off_is_not_listed(dispatcher_client, today):
    make.make_follow_up(due_on=today + timedelta(days=30))
    make.make_follow_up(due_on=today, snoozed_until=today + timedelta(days=1))
    groups = listed(dispatcher_client).context["groups"]
    assert sum(group.total for group in groups) == 0


def test_open_notices_stand_above_the_list(dispatcher_client):
    notice = make.make_notice(site=make.make_site())
    make.make_notice(site=notice.site, level="sample_pending")
    page = listed(dispatcher_client).content.decode()
    assert "open at 1 house" in page


def test_a_revisit_is_booked_from_the_open_list_in_at_most_four_actions(
    dispatcher_client, promise, lead
):
    make.make_staff("technician")
    actions = 0
    page = listed(dispatcher_client).content.decode()
    link = reverse("follow-up-book", args=[promise.pk])
    assert f'href="{link}"' in page
    actions += 1  # "Book"
    page = dispatcher_client.get(link).content.decode()
    values = re.findall(r'<input type="radio" name="when" value="([^"]+)"', page)
    assert len(values) == 3
    assert values[0].startswith(f"{lead.pk}|")
    assert re.search(r'value="' + re.escape(values[0]) + r'"[^>]*checked', page)
    actions += 1  # another time than the one chosen already
    key = re.search(r'name="once" value="([^"]+)"', page)[1]
    answer = dispatcher_client.post(link, {"when": values[1], "once": key})
    actions += 1  # "Book this time"
    assert answer.url == reverse("worklist")
    promise.refresh_from_db()
    assert promise.status == "booked"
    assert promise.visit.job.planned
    assert promise.window_from <= company_day(promise.visit.starts_at) <= promise.window_until
    assert actions <= 4


def test_pressing_book_twice_makes_one_visit(dispatcher_client, promise):
    link = reverse("follow-up-book", args=[promise.pk])
    page = dispatcher_client.get(link).content.decode()
    value = re.search(r'name="when" value="([^"]+)"', page)[1]
    sent = {"when": value, "once": "one-opening"}
    first, second = dispatcher_client.post(link, sent), dispatcher_client.post(link, sent)
    assert first.url == second.url
    assert Visit.objects.filter(follow_ups=promise).count() == 1


def test_a_time_taken_meanwhile_is_refused_and_new_ones_are_offered(
    dispatcher_client, promise, lead
):
    link = reverse("follow-up-book", args=[promise.pk])
    page = dispatcher_client.get(link).content.decode()
    value = re.search(r'name="when" value="([^"]+)"', page)[1]
    starts_at = timezone.datetime.fromisoformat(value.partition("|")[2])
    make.make_visit(lead=lead, starts_at=starts_at)
    answer = dispatcher_client.post(link, {"when": value})
    assert answer.status_code == 422
    assert "already has a visit in that time" in answer.content.decode()
    promise.refresh_from_db()
    assert promise.status == "open"


def test_a_promise_that_names_no_kind_of_work_is_booked_as_a_service(dispatcher_client, lead):
    """A result that does not come: somebody goes and asks."""
    call_command("load_rules", verbosity=0)
    bottled(make.make_train().site, at=timezone.now() - timedelta(days=9))
    missing = FollowUp.objects.get(rule__code="f15")
    link = reverse("follow-up-book", args=[missing.pk])
    page = dispatcher_client.get(link).content.decode()
    value = re.search(r'name="when" value="([^"]+)"', page)[1]
    assert dispatcher_client.post(link, {"when": value}).status_code == 302
    missing.refresh_from_db()
    assert missing.visit.job.kind == "service"


@pytest.mark.parametrize("value", ["", "x", "1|soon", "99999|2030-01-01T10:00:00+00:00"])
def test_a_made_up_time_books_nothing(dispatcher_client, promise, value):
    link = reverse("follow-up-book", args=[promise.pk])
    answer = dispatcher_client.post(link, {"when": value})
    assert answer.status_code == 422
    assert not value or "Choose one of the times." in answer.content.decode()
    promise.refresh_from_db()
    assert promise.status == "open"


def test_nobody_free_says_so_and_shows_the_way_on(dispatcher_client, today):
    promise = make.make_follow_up(due_on=today)
    page = dispatcher_client.get(reverse("follow-up-book", args=[promise.pk])).content.decode()
    assert "Nobody is free inside the window." in page


# --- put off, give up, calls --------------------------------------------------------------------


def test_putting_off_needs_a_day_and_a_reason_and_keeps_the_lateness(
    dispatcher_client, promise, today
):
    where = reverse("follow-up-snooze", args=[promise.pk])
    until = (today + timedelta(days=3)).isoformat()
    assert dispatcher_client.post(where, {"until": until}).status_code == 422
    assert dispatcher_client.post(where, {"until": today, "reason": "away"}).status_code == 422
    sent = {"until": until, "reason": "away"}
    assert dispatcher_client.post(where, sent).status_code == 302
    kept = FollowUp.objects.get(pk=promise.pk)
    assert (kept.due_on, kept.first_due_on, kept.snoozes) == (promise.due_on, promise.due_on, 1)


def test_the_third_putting_off_goes_to_the_owner(dispatcher_client, promise, today):
    where = reverse("follow-up-snooze", args=[promise.pk])
    sent = {"until": (today + timedelta(days=3)).isoformat(), "reason": "away"}
    for _ in range(3):
        answer = dispatcher_client.post(where, sent, follow=True)
    assert "the owner sees it now" in answer.content.decode()
    FollowUp.objects.filter(pk=promise.pk).update(snoozed_until=today)
    assert "for the owner" in listed(dispatcher_client).content.decode()


def test_giving_up_needs_a_reason_and_keeps_the_name(dispatcher_client, dispatcher, promise):
    where = reverse("follow-up-waive", args=[promise.pk])
    assert dispatcher_client.post(where, {"reason": ""}).status_code == 422
    assert dispatcher_client.post(where, {"reason": "system taken out"}).status_code == 302
    promise.refresh_from_db()
    assert (promise.status, promise.ended_by) == ("waived", dispatcher)


def test_an_attempt_is_kept_with_who_and_when(dispatcher_client, dispatcher, promise):
    where = reverse("follow-up-attempt", args=[promise.pk])
    sent = {"how": "message", "note": "no call yet"}
    assert dispatcher_client.post(where, sent).url == reverse("worklist")
    page = dispatcher_client.get(reverse("follow-up-detail", args=[promise.pk])).content.decode()
    assert "Left a message" in page
    assert "no call yet" in page
    assert ContactAttempt.objects.get().by == dispatcher


def test_only_promises_that_close_by_a_word_can_be_settled(dispatcher_client, promise):
    where = reverse("follow-up-settle", args=[promise.pk])
    answer = dispatcher_client.post(where, {"note": "all good"})
    assert answer.status_code == 422
    assert "kept by the work itself" in answer.content.decode()


@pytest.mark.parametrize("rows", [3, 300])
def test_queries_are_the_same_with_3_and_300_rows(
    dispatcher_client, dispatcher, today, django_assert_max_num_queries, rows
):
    rule, now = make.make_rule(), timezone.now()
    for number in range(rows):
        site = make.make_site()
        promise = make.make_follow_up(rule=rule, site=site, due_on=today - timedelta(number % 9))
        if number < 60:
            record_attempt(follow_up=promise, how="called", by=dispatcher, now=now)
    with django_assert_max_num_queries(12):
        listed(dispatcher_client)
