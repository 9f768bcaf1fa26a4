"""What is proposed: the same order as plain counting, the reasons in words, one press books."""

import re
from datetime import datetime, time, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import Company, Visit, WorkHours
from jobs.pages.openings import of_promise
from jobs.schedule.free_times import at_hour
from jobs.schedule.openings import Ask, best_openings
from jobs.workflows.licences import enter_licence
from tests.acts import worked
from tests.conftest import NOW
from tests.factories import make_follow_up, make_site, make_staff, make_train
from tests.jobs.people_at_work import TODAY, TOMORROW, send, typed
from tests.random_openings import compared

pytestmark = pytest.mark.django_db
CASES = 50


@pytest.mark.long
def test_the_order_is_that_of_plain_counting():
    """Fifty companies at random; most of them have somebody to choose from."""
    lengths = []
    for seed in range(CASES):
        found, counted = compared(seed)
        assert found == counted, f"company {seed}"
        lengths.append(len(counted))
    assert sum(length > 2 for length in lengths) > CASES / 2


# --- the rule in words ---------------------------------------------------------------------------


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def tess():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def ivo():
    return make_staff("technician", first_name="Ivo", last_name="Sedge")


@pytest.fixture
def train():
    return make_train(site=make_site(street="3 Otter Lane", town="Marl"))


def ask_of(train, **changed):
    facts = {"minutes": 60, "due_on": TOMORROW, "window": (TOMORROW, TOMORROW), "train": train}
    return Ask(train.site, **{"kind": "service", **facts, **changed})


def best(ask, *people, now=NOW, **more):
    return best_openings(ask, list(people), now=now, company=Company.load(), **more)


def test_who_is_near_goes_before_who_must_drive_there(
    owner_client, dispatcher_client, tess, ivo, train
):
    owner_client.post(reverse("town-drives"), {"one": "Marl", "other": "Tarn", "minutes": 40})
    far = make_train(site=make_site(town="Tarn")).site
    near = make_train(site=make_site(street="9 Elm Row", town="Marl")).site
    send(dispatcher_client, far, typed(tess, start="08:00"))
    send(dispatcher_client, near, typed(ivo, start="08:00"))
    first, second = best(ask_of(train), tess, ivo)
    assert (first.person, first.starts_at) == (ivo, at_hour(TOMORROW, 9, 30))
    assert first.reasons == (
        "10 min from 9 Elm Row, Marl (within one town)",
        "1 h 15 booked that day",
    )
    # 40 min on the road from 9:15, and no hour is left before 7:20
    assert (second.person, second.starts_at) == (tess, at_hour(TOMORROW, 10))


def test_who_was_there_and_who_set_the_system_up_are_told_apart(tess, ivo, train):
    worked(train, tess, at=at_hour(TODAY - timedelta(days=30), 9))
    train.installed_by = tess
    train.save()
    found = best(ask_of(train), ivo, tess)
    assert [row.person for row in found] == [tess, ivo]
    assert found[0].reasons[:2] == ("set up the system", "was there 11 May 2026")
    assert found[1].reasons == ("nothing else that day",)


def test_nothing_is_proposed_before_the_visit_that_stands_at_the_house(
    dispatcher_client, tess, train
):
    later = TOMORROW + timedelta(days=1)
    send(dispatcher_client, train.site, typed(tess, day=later.isoformat(), start="10:00"))
    window = (TOMORROW, TOMORROW + timedelta(days=6))
    found = best(ask_of(train, window=window), tess, count=9)
    assert found
    assert min(row.starts_at for row in found) >= at_hour(later, 11, 15)
    visit = Visit.objects.get()
    moving = best(ask_of(train, window=window, moving=visit), tess, count=9)
    assert min(row.starts_at for row in moving) == at_hour(TOMORROW, 7)


def test_the_time_of_a_visit_that_is_moved_is_free_for_it(dispatcher_client, tess, train):
    send(dispatcher_client, train.site, typed(tess, start="07:00"))
    visit = Visit.objects.get()
    (row,) = best(ask_of(train, moving=visit), tess)
    assert row.starts_at == visit.starts_at == at_hour(TOMORROW, 7)


def test_a_promise_past_its_window_is_offered_the_next_working_days_and_says_so(tess, train):
    window = (TODAY - timedelta(days=40), TODAY - timedelta(days=33))
    found = best(ask_of(train, window=window, due_on=window[0]), tess)
    assert [row.starts_at.date() for row in found] == [
        TODAY,
        TOMORROW,
        TOMORROW + timedelta(days=1),
    ]
    assert "after its window, which ended 8 May 2026" in found[0].reasons
    assert all(row.starts_at >= NOW + timedelta(hours=2) for row in found)


def test_who_works_on_a_saturday_is_offered_that_day_and_nobody_else(tess, ivo, train):
    """Hours of a person on that weekday are what makes it a day of work, as on the schedule."""
    saturday = TODAY + timedelta(days=5 - TODAY.weekday())
    ask = ask_of(train, window=(saturday, saturday))
    assert best(ask, tess, ivo) == []
    hours = {"works_from": time(8), "works_until": time(12)}
    WorkHours.objects.create(person=ivo, weekday=5, **hours)
    assert [(row.person, row.starts_at) for row in best(ask, tess, ivo)] == [
        (ivo, at_hour(saturday, 8))
    ]


def test_work_of_two_is_proposed_with_the_second_and_one_of_them_holds_the_licence(
    owner, owner_client, tess, ivo, train
):
    enter_licence(person=ivo, name="Wells", expires_on=TOMORROW, by=owner, now=NOW)
    owner_client.post(reverse("work-needs"), {"licence_install": "Wells", "people_install": "2"})
    found = best(ask_of(train, kind="install"), tess, ivo)
    assert [(row.person, row.helper) for row in found] == [(tess, ivo), (ivo, tess)]
    after = TOMORROW + timedelta(days=1)
    assert best(ask_of(train, kind="install", window=(after, after)), tess, ivo) == []
    assert best(ask_of(train, kind="install"), tess) == []


def test_the_last_of_three_is_somebody_else_s(tess, ivo, train):
    window = (TOMORROW, TOMORROW + timedelta(days=6))
    worked(train, tess, at=at_hour(TODAY - timedelta(days=30), 9))
    found = best(ask_of(train, window=window), tess, ivo)
    assert [row.person for row in found] == [tess, tess, ivo]


# --- from the page -------------------------------------------------------------------------------


@pytest.fixture
def promise(train):
    return make_follow_up(
        train=train,
        due_on=TOMORROW,
        window_from=TOMORROW,
        window_until=TOMORROW + timedelta(days=5),
    )


def shown(client, promise):
    page = client.get(reverse("follow-up-book", args=[promise.pk]))
    return [value for value, _ in page.context["form"].fields["when"].choices]


def test_one_press_books_what_is_proposed_first(dispatcher_client, tess, promise):
    first = shown(dispatcher_client, promise)[0]
    answer = dispatcher_client.post(reverse("follow-up-book", args=[promise.pk]), {"when": first})
    assert answer.status_code == 302
    promise.refresh_from_db()
    assert promise.status == "booked"
    assert promise.visit.lead == tess


def test_an_opening_that_went_meanwhile_is_refused_and_fresh_ones_are_shown(
    dispatcher_client, tess, promise
):
    gone = shown(dispatcher_client, promise)[0]
    begins = timezone.localtime(datetime.fromisoformat(gone.split("|")[1]))
    other = make_train(site=make_site(town="Marl")).site
    taken = typed(tess, day=begins.date().isoformat(), start=f"{begins:%H:%M}")
    assert send(dispatcher_client, other, taken).status_code == 302
    where = reverse("follow-up-book", args=[promise.pk])
    answer = dispatcher_client.post(where, {"when": gone})
    assert answer.status_code == 422
    page = answer.content.decode()
    assert "Tess Alder already has a visit in that time" in page
    fresh = [value for value, _ in answer.context["form"].fields["when"].choices]
    assert fresh
    assert gone not in fresh
    promise.refresh_from_db()
    assert promise.status == "open"
    assert dispatcher_client.post(where, {"when": fresh[0]}).status_code == 302


def pressed(page, number=0):
    return re.findall(r'name="opening" value="([^"]+)"', page.content.decode())[number]


def test_a_visit_is_booked_and_moved_by_one_press(dispatcher_client, tess, train):
    where = f"{reverse('visit-book')}?site={train.site.pk}"
    opening = pressed(dispatcher_client.get(where))
    sent = {**typed(tess, start="", day="", minutes=60), "lead": "", "opening": opening}
    assert dispatcher_client.post(where, sent).status_code == 302
    visit = Visit.objects.get()
    assert f"{visit.lead_id}|{timezone.localtime(visit.starts_at).isoformat()}" == opening
    where = reverse("visit-move", args=[visit.pk])
    opening = pressed(dispatcher_client.get(where))
    sent = {"version": visit.version, "minutes": 60, "opening": opening}
    assert dispatcher_client.post(where, sent).status_code == 302
    visit.refresh_from_db()
    assert f"{visit.lead_id}|{timezone.localtime(visit.starts_at).isoformat()}" == opening


@pytest.mark.parametrize("value", ["", "x", "1|soon", "1|2026-06-11T09:00", "9|2026-13-41T09:00Z"])
def test_an_opening_that_is_none_books_nothing(dispatcher_client, tess, train, promise, value):
    where = f"{reverse('visit-book')}?site={train.site.pk}"
    sent = {**typed(tess, start="", day=""), "lead": "", "opening": value}
    assert dispatcher_client.post(where, sent).status_code == 422
    where = reverse("follow-up-book", args=[promise.pk])
    assert dispatcher_client.post(where, {"when": value}).status_code == 422
    assert not Visit.objects.exists()


def test_what_is_due_there_too_is_said(dispatcher_client, tess, promise, train):
    other = make_follow_up(
        train=train,
        due_on=TOMORROW,
        window_from=TOMORROW,
        window_until=TOMORROW + timedelta(days=5),
    )
    found = of_promise(promise, [tess], NOW)
    assert found[0].reasons[-1] == f"also due there: {other.terms.name}"
    assert found[0].reasons[-2] == "on the day it is due"


def test_openings_ask_a_fixed_number_of_times(
    dispatcher_client, tess, ivo, train, django_assert_max_num_queries
):
    for number in range(8):
        day = TOMORROW + timedelta(days=number)
        sure = f"day-{day}"
        sent = typed(tess, day=day.isoformat(), sure=sure)
        send(dispatcher_client, make_train(site=make_site()).site, sent)
    company = Company.load()
    window = (TOMORROW, TOMORROW + timedelta(days=42))
    ask = ask_of(train, window=window)
    with django_assert_max_num_queries(10):
        assert best_openings(ask, [tess, ivo], now=NOW, company=company)
