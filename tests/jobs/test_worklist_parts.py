"""The parts of the worklist, calls that are made again, and what stands above the rows."""

import re
from datetime import timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import ContactAttempt, FollowUp
from jobs.models.company import company_day
from jobs.schedule.working_days import add_working_days
from jobs.workflows.follow_ups import SNOOZES_BEFORE_OWNER
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def today():
    return company_day(timezone.now())


@pytest.fixture
def promise(today):
    return make.make_follow_up(train=make.make_startup_train(), due_on=today)


def page_of(client, **asked):
    answer = client.get(reverse("worklist"), asked)
    assert answer.status_code == 200
    return answer


def text_of(client, **asked):
    return " ".join(page_of(client, **asked).content.decode().split())


def shown(client, **asked):
    groups = page_of(client, **asked).context["groups"]
    return [row.follow_up for group in groups for row in group.rows]


def counts(client):
    return {part.key: part.count for part in page_of(client).context["parts"]}


def tried(client, promise, how="not_reached", **typed):
    where = reverse("follow-up-attempt", args=[promise.pk])
    return client.post(where, {"how": how, "again_on": "", "note": "", **typed})


def test_not_reached_is_two_actions_from_the_list(dispatcher_client, dispatcher, promise, today):
    where = reverse("follow-up-attempt", args=[promise.pk])
    assert f'href="{where}"' in text_of(dispatcher_client)
    form = " ".join(dispatcher_client.get(where).content.decode().split())  # the first action
    again = add_working_days(today, 1)
    press = f'name="again_on" value="{again.isoformat()}"'
    assert form.count(press) == 2  # nobody answered, or a message was left
    answer = tried(dispatcher_client, promise, again_on=again.isoformat())  # the second
    assert answer.url == reverse("worklist")
    row = ContactAttempt.objects.get()
    assert (row.how, row.again_on, row.by) == ("not_reached", again, dispatcher)


def test_the_row_says_when_they_are_called_again_and_who_tried(
    dispatcher_client, dispatcher, promise, today
):
    tried(dispatcher_client, promise, again_on=(today + timedelta(days=1)).isoformat())
    said = text_of(dispatcher_client)
    assert "call again tomorrow" in said
    assert f'<td data-of="handles it"> {dispatcher.get_full_name()}' in said
    assert "today" not in counts(dispatcher_client)
    ContactAttempt.objects.update(again_on=today - timedelta(days=1))
    assert "call again today</b>" in text_of(dispatcher_client)
    assert counts(dispatcher_client)["today"] == 1
    assert shown(dispatcher_client, show="today") == [promise]


def test_a_newer_try_takes_the_day_of_the_older_one_back(dispatcher_client, promise, today):
    tried(dispatcher_client, promise, again_on=today.isoformat())
    tried(dispatcher_client, promise, how="called", note="rings us on Monday")
    assert "call again today</b>" not in text_of(dispatcher_client)
    assert "today" not in counts(dispatcher_client)
    assert shown(dispatcher_client, show="today") == []


@pytest.mark.parametrize("days", [-1, 93])
def test_a_day_to_call_again_lies_within_three_months(dispatcher_client, promise, today, days):
    answer = tried(
        dispatcher_client, promise, again_on=(today + timedelta(days=days)).isoformat(), note="kept"
    )
    assert answer.status_code == 422
    said = answer.content.decode()
    assert "Today or a day within three months." in said
    assert 'value="kept"' in said
    assert not ContactAttempt.objects.exists()


def test_three_tries_in_a_row_are_somebody_who_cannot_be_reached(dispatcher_client, promise):
    for how in ("not_reached", "message"):
        tried(dispatcher_client, promise, how=how)
    assert "unreached" not in counts(dispatcher_client)
    tried(dispatcher_client, promise)
    assert counts(dispatcher_client)["unreached"] == 1
    assert shown(dispatcher_client, show="unreached") == [promise]
    assert "3 tries, not reached" in text_of(dispatcher_client)


def test_a_talk_begins_the_count_again(dispatcher_client, promise):
    for how in ("not_reached", "not_reached", "called", "not_reached"):
        tried(dispatcher_client, promise, how=how)
    assert "unreached" not in counts(dispatcher_client)
    assert shown(dispatcher_client, show="unreached") == []


def test_every_part_counts_what_it_shows(dispatcher_client, today, promise):
    make.make_follow_up(due_on=today - timedelta(days=40))
    visit = make.make_visit(starts_at=timezone.now() + timedelta(days=3))
    make.make_follow_up(
        due_on=today - timedelta(days=20), status="booked", visit=visit, site=visit.job.site
    )
    make.make_follow_up(due_on=today, snoozed_until=today + timedelta(days=9))
    found = counts(dispatcher_client)
    assert found.pop("calls") == 1  # nobody was told of that visit
    assert found == {"": 3, "late": 2, "no_visit": 2, "put_off": 1}
    for key, count in found.items():
        assert len(shown(dispatcher_client, show=key)) == count
    # over the rows of a part stands how many of those are late, not of all
    for key, late in (("", 2), ("late", 2), ("no_visit", 1)):
        groups = page_of(dispatcher_client, show=key).context["groups"]
        assert sum(group.late for group in groups) == late


def test_a_part_is_narrowed_further_by_town_and_kind(dispatcher_client, today):
    near = make.make_follow_up(
        site=make.make_site(town="Larkmoor"), due_on=today - timedelta(days=40)
    )
    make.make_follow_up(site=make.make_site(town="Fenn Hollow"), due_on=today - timedelta(days=40))
    assert shown(dispatcher_client, show="late", town="larkm") == [near]
    page = text_of(dispatcher_client, show="late", town="larkm")
    assert 'name="show" value="late"' in page  # the boxes stay in the part
    assert "late <b>1</b>" in page


def put_off(client, promise, today, times=1):
    where = reverse("follow-up-snooze", args=[promise.pk])
    for number in range(times):
        until = (today + timedelta(days=9 + number)).isoformat()
        client.post(where, {"until": until, "reason": "harvest"})


def test_what_was_put_off_is_taken_up_before_its_day(dispatcher_client, promise, today):
    put_off(dispatcher_client, promise, today)
    assert shown(dispatcher_client) == []
    where = reverse("follow-up-take-up", args=[promise.pk])
    assert where in text_of(dispatcher_client, show="put_off")
    assert "Taken up again" in " ".join(
        dispatcher_client.post(where, follow=True).content.decode().split()
    )
    assert shown(dispatcher_client) == [promise]
    dispatcher_client.post(where)  # pressed twice: nothing more
    kept = FollowUp.objects.get()
    assert (kept.snoozes, kept.first_due_on) == (1, promise.first_due_on)


def test_taking_up_does_not_take_it_from_the_owner(dispatcher_client, promise, today):
    put_off(dispatcher_client, promise, today, times=SNOOZES_BEFORE_OWNER)
    dispatcher_client.post(reverse("follow-up-take-up", args=[promise.pk]))
    assert "for the owner" in text_of(dispatcher_client)


def test_what_stands_above_the_rows_does_not_grow_with_what_is_wrong(dispatcher_client):
    for _ in range(7):
        make.make_notice(site=make.make_site())
    said = text_of(dispatcher_client)
    above = said[: said.index('id="rows"')]
    assert "open at 7 houses" in above
    assert len(re.findall(r'href="/sites/\d+/"', above)) == 4
    assert 'href="#notices"' in above
    assert said[said.index('id="notices"') :].count("since") == 7


def test_the_first_visit_to_book_is_marked_for_its_key(dispatcher_client, promise):
    said = text_of(dispatcher_client)
    assert said.count('class="act book"') == 1
    assert "jobs/rows" in said
