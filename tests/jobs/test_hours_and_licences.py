"""Hours, lunch, licences, two people and closed days: what booking refuses, what it asks."""

import re
from datetime import date, time, timedelta

import pytest
from django.urls import reverse

from jobs.errors import BadEntry
from jobs.models import Skill, Visit, WorkHours
from jobs.models.company import Company
from jobs.schedule.free_times import at_hour
from jobs.schedule.openings import Ask, best_openings
from jobs.schedule.working_days import add_working_days, is_working_day
from jobs.schedule.working_time import Plan
from jobs.workflows import working_time
from jobs.workflows.licences import correct_licence, enter_licence, renew_licence
from tests.acts import moved
from tests.conftest import NOW
from tests.factories import make_site, make_staff, make_train
from tests.jobs.people_at_work import TODAY, TOMORROW, errors, goes_away, hours_typed, send, typed

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def other():
    return make_staff("technician", first_name="Ivo", last_name="Sedge")


@pytest.fixture
def site():
    return make_train(site=make_site(street="3 Otter Lane")).site


# --- hours and lunch -----------------------------------------------------------------------------


def test_own_hours_and_a_day_off_are_asked_about(dispatcher_client, lead, site):
    answer = hours_typed(dispatcher_client, lead, until_3="15:00", from_4="", until_4="")
    assert answer.status_code == 302
    late = send(dispatcher_client, site, typed(lead, start="14:30"))
    assert (
        "Tess Alder works from 07:00 to 15:00 on a Thursday: 14:30 to 15:45 is outside."
        in late.content.decode()
    )
    friday = (TOMORROW + timedelta(days=1)).isoformat()
    off = send(dispatcher_client, site, typed(lead, day=friday))
    assert "Tess Alder does not work on a Friday." in off.content.decode()
    sure = re.search(r'name="sure" value="([^"]+)"', off.content.decode())[1]
    assert send(dispatcher_client, site, typed(lead, day=friday, sure=sure)).status_code == 302


def test_lunch_is_asked_about_and_not_where_long_work_has_it_inside(
    dispatcher_client, lead, other, site
):
    over = send(dispatcher_client, site, typed(lead, start="11:30"))
    assert (
        "Tess Alder has lunch from 12:00 to 12:30: 11:30 to 12:45 lies over it."
        in over.content.decode()
    )
    assert send(dispatcher_client, site, typed(lead, start="12:30")).status_code == 302
    long = typed(other, kind="install", start="08:00", minutes="420")
    answer = send(dispatcher_client, site, long)
    assert "has lunch" not in answer.content.decode()


def test_own_lunch_holds_before_the_company_s(dispatcher_client, lead, site):
    hours_typed(dispatcher_client, lead, lunch_from="11:00", lunch_until="11:30")
    assert (
        "lunch from 11:00"
        in send(dispatcher_client, site, typed(lead, start="10:30")).content.decode()
    )
    assert send(dispatcher_client, site, typed(lead, start="12:00")).status_code == 302


def test_a_day_with_the_company_s_hours_goes_on_changing_with_it(dispatcher_client, lead):
    hours_typed(dispatcher_client, lead, until_4="12:00")
    assert WorkHours.objects.get().weekday == 4
    Company.objects.update(work_until_hour=18)
    plan = Plan.of([lead], TOMORROW, TOMORROW + timedelta(days=1))
    assert plan.shift(lead.pk, TOMORROW).ends_at == at_hour(TOMORROW, 18)
    assert plan.shift(lead.pk, TOMORROW + timedelta(days=1)).ends_at == at_hour(
        TOMORROW + timedelta(days=1), 12
    )
    hours_typed(dispatcher_client, lead, until_4="18:00")
    assert not WorkHours.objects.exists()
    assert [row.history_type for row in WorkHours.history.order_by("history_id")] == ["+", "-"]


@pytest.mark.parametrize(
    ("changed", "field"),
    [
        ({"from_0": "17:00", "until_0": "08:00"}, "until_0"),
        ({"from_0": "08:00", "until_0": "08:00"}, "until_0"),
        ({"until_2": ""}, "until_2"),
        ({"lunch_from": "13:00"}, "lunch_until"),
        ({"lunch_from": "13:00", "lunch_until": "12:00"}, "lunch_until"),
    ],
)
def test_hours_run_forward_and_have_two_ends(dispatcher_client, lead, changed, field):
    answer = hours_typed(dispatcher_client, lead, **changed)
    assert answer.status_code == 422
    assert errors(answer, field)
    assert not WorkHours.objects.exists()


def test_the_second_of_two_who_save_hours_is_shown_both(dispatcher_client, lead):
    old = dispatcher_client.get(reverse("person-hours", args=[lead.pk])).context["seen"]
    hours_typed(dispatcher_client, lead, until_0="14:00")
    answer = hours_typed(dispatcher_client, lead, until_0="15:00", seen=old)
    assert answer.status_code == 409
    assert "07:00 to 14:00" in answer.content.decode()
    assert WorkHours.objects.get().works_until == time(14)


def test_openings_keep_to_hours_lunch_and_time_away(dispatcher_client, lead, other):
    hours_typed(dispatcher_client, lead, from_3="11:00")
    goes_away(dispatcher_client, other, TOMORROW)
    ask = Ask(make_site(), "service", 60, TOMORROW, (TOMORROW, TOMORROW))
    times = best_openings(ask, [lead, other], now=NOW, company=Company.load())
    assert [(row.person, row.starts_at) for row in times] == [(lead, at_hour(TOMORROW, 11))]
    lunch = [row for row in times if row.starts_at < at_hour(TOMORROW, 12, 30) < row.ends_at]
    assert lunch == []


def test_who_begins_shortly_before_lunch_has_it_first(dispatcher_client, lead):
    hours_typed(dispatcher_client, lead, from_3="11:30")
    ask = Ask(make_site(), "service", 60, TOMORROW, (TOMORROW, TOMORROW))
    times = best_openings(ask, [lead], now=NOW, company=Company.load())
    assert [row.starts_at for row in times] == [at_hour(TOMORROW, 12, 30)]


# --- licences and two people ---------------------------------------------------------------------


@pytest.fixture
def licensed(owner_client, owner, lead, other):
    """A disinfection needs a licence that Ivo holds until the day after tomorrow."""
    ends = TOMORROW + timedelta(days=1)
    enter_licence(person=other, name="Wells and well pumps", expires_on=ends, by=owner, now=NOW)
    sent = {"licence_disinfect": "Wells and well pumps", "people_install": "2"}
    assert owner_client.post(reverse("work-needs"), sent).status_code == 302
    return other


def test_work_without_its_licence_is_refused_with_the_way_out(
    dispatcher_client, lead, licensed, site
):
    answer = send(dispatcher_client, site, typed(lead, kind="disinfect"))
    assert answer.status_code == 422
    assert errors(answer, "lead") == (
        "Disinfection of well and plumbing needs “Wells and well pumps”, and nobody chosen holds "
        "it on 11 June 2026: choose Ivo Sedge, or have the owner renew one under Licences and "
        "certificates."
    )
    with_him = typed(lead, kind="disinfect", helper=licensed.pk)
    assert send(dispatcher_client, site, with_him).status_code == 302


def test_a_licence_that_ends_blocks_from_the_next_day_until_it_is_renewed(
    dispatcher_client, owner, licensed, site
):
    last = TOMORROW + timedelta(days=1)
    monday = add_working_days(last, 1).isoformat()
    sent = typed(licensed, kind="disinfect", day=last.isoformat())
    assert send(dispatcher_client, site, sent).status_code == 302
    late = send(dispatcher_client, site, typed(licensed, kind="disinfect", day=monday))
    assert "nobody does, or have the owner renew one" in errors(late, "lead")
    visit = Visit.objects.get()
    with pytest.raises(BadEntry, match="needs “Wells and well pumps”"):
        moved(visit, at=at_hour(last + timedelta(days=3), 9))
    ends = last + timedelta(days=365)
    renew_licence(licence=Skill.objects.get(), expires_on=ends, number="", by=owner, now=NOW)
    sent = typed(licensed, kind="disinfect", day=monday)
    assert send(dispatcher_client, site, sent).status_code == 302
    moved(visit, at=at_hour(last + timedelta(days=3), 13))


def test_a_licence_that_ends_sooner_after_booking_is_seen_on_the_day(
    dispatcher_client, owner, licensed, site
):
    send(dispatcher_client, site, typed(licensed, kind="disinfect"))
    correct_licence(
        licence=Skill.objects.get(),
        expires_on=TODAY,
        number="",
        reason="The year was mistyped.",
        by=owner,
        now=NOW,
    )
    page = dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()}).content.decode()
    assert "Nobody who comes holds “Wells and well pumps” on that day" in page


def test_work_of_two_people_asks_for_the_second(dispatcher_client, lead, licensed, site):
    sent = typed(lead, kind="install", start="08:00", minutes="420")
    answer = send(dispatcher_client, site, sent)
    assert "Installation takes two people: no helper is chosen." in answer.content.decode()
    assert send(dispatcher_client, site, {**sent, "helper": licensed.pk}).status_code == 302
    assert Visit.objects.get().slots.count() == 2 * 7 * 4


# --- days of the company -------------------------------------------------------------------------


def test_a_closed_day_and_a_holiday_at_work_count_everywhere(
    owner_client, dispatcher_client, lead, site
):
    days = reverse("company-days")
    owner_client.post(days, {"day": TOMORROW, "name": "Summer outing", "is_worked": "no"})
    owner_client.post(days, {"day": "2026-07-03", "name": "We work", "is_worked": "yes"})
    assert add_working_days(TODAY, 1) == TOMORROW + timedelta(days=1)
    assert is_working_day(date(2026, 7, 3))
    asked = send(dispatcher_client, site, typed(lead)).content.decode()
    assert "Thursday 11 June 2026 is a holiday: Summer outing." in asked
    assert send(dispatcher_client, site, typed(lead, day="2026-07-03")).status_code == 302
    shown = dispatcher_client.get(reverse("week"), {"on": TOMORROW.isoformat()})
    assert "Summer outing" in shown.content.decode()
    drop = re.search(r'action="(/holidays/\d+/drop/)"', owner_client.get(days).content.decode())
    owner_client.post(drop[1])
    assert add_working_days(TODAY, 1) == TOMORROW


def test_hours_on_the_days_the_clocks_change_are_those_on_the_wall(lead, dispatcher):
    week = working_time.week_of(lead)
    days = (*week.days[:6], (time(7), time(17)))
    seen = week.stamp
    working_time.keep_week(
        person=lead, week=working_time.Week(days), seen=seen, by=dispatcher, now=NOW
    )
    for day in (date(2026, 3, 8), date(2026, 11, 1)):
        shift = Plan.of([lead], day, day).shift(lead.pk, day)
        assert (shift.starts_at, shift.ends_at) == (at_hour(day, 7), at_hour(day, 17))
        assert shift.ends_at - shift.starts_at == timedelta(hours=10)


def test_nobody_s_hours_hold_on_a_holiday(lead):
    day = date(2026, 7, 3)
    assert Plan.of([lead], day, day).shift(lead.pk, day) is None


def test_the_page_of_everybody_s_time_asks_a_fixed_number_of_times(
    dispatcher_client, lead, django_assert_max_num_queries
):
    Company.load()
    for number in range(12):
        person = make_staff("technician")
        goes_away(dispatcher_client, person, TOMORROW + timedelta(days=number))
        hours_typed(dispatcher_client, person, until_4="12:00")
    with django_assert_max_num_queries(12):
        page = dispatcher_client.get(reverse("people-time")).content.decode()
    assert "Mon to Thu 07:00 to 17:00" in page
    assert "Fri 07:00 to 12:00" in page
