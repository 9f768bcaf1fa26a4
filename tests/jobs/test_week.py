"""The week: what is held and what is free, and who fits into a free stretch."""

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.models import FollowUp
from jobs.pages.week import ahead_of, ending_from
from jobs.schedule.free_times import at_hour, technicians
from jobs.schedule.stretches import without, worth_booking
from jobs.schedule.working_time import Plan
from tests import factories as make
from tests.acts import booked, opened
from tests.conftest import NOW
from tests.jobs.people_at_work import TODAY, TOMORROW, goes_away

pytestmark = pytest.mark.django_db
MONDAY = TOMORROW - timedelta(days=TOMORROW.weekday())


@pytest.fixture(autouse=True)
def clock_of_the_office(clock):
    return clock


@pytest.fixture
def lead():
    return make.make_staff("technician", first_name="Tess", last_name="Alder")


def week(client, on=TOMORROW):
    answer = client.get(reverse("week"), {"on": on.isoformat()})
    assert answer.status_code == 200
    return answer


def cell(client, person, day=TOMORROW):
    rows = week(client, day).context["rows"]
    row = next(row for row in rows if row.person == person)
    return next(cell for cell in row.cells if cell.day == day)


def visit_at(lead, hour, minutes, day=TOMORROW, town="Larkmoor"):
    site = make.make_site(town=town)
    job = opened(make.make_train(site=site))
    return booked(job, lead, at=at_hour(day, hour), now=NOW, hours=minutes / 60)


def hours(span):
    return tuple(f"{timezone.localtime(at):%H:%M}" for at in span)


def test_a_day_with_one_visit_says_what_is_held_and_the_longest_time_left(dispatcher_client, lead):
    visit_at(lead, 9, 90)
    found = cell(dispatcher_client, lead)
    plan = Plan.of([lead], TOMORROW, TOMORROW)
    assert found.held == timedelta(minutes=90)
    shift = plan.shift(lead.pk, TOMORROW)
    # by hand: the day less the visit and the half hour of lunch from noon
    assert [hours(span) for span in found.free] == [
        (f"{timezone.localtime(shift.starts_at):%H:%M}", "09:00"),
        ("10:30", "12:00"),
        ("12:30", f"{timezone.localtime(shift.ends_at):%H:%M}"),
    ]
    assert found.longest == max(found.free, key=lambda span: span[1] - span[0])


def test_a_time_of_fifty_nine_minutes_is_no_offer():
    at = at_hour(TOMORROW, 9)
    spans = [(at, at + timedelta(minutes=59)), (at, at + timedelta(minutes=60))]
    assert worth_booking(spans, NOW) == spans[1:]
    assert worth_booking(spans, at + timedelta(minutes=1)) == []  # what has gone by is no offer


def test_spans_are_taken_out_wherever_they_lie():
    def at(hour):
        return at_hour(TOMORROW, hour)

    whole = (at(8), at(16))
    busy = [(at(15), at(20)), (at(5), at(9)), (at(10), at(12)), (at(11), at(13))]
    assert without(whole, busy) == [(at(9), at(10)), (at(13), at(15))]
    assert without(whole, [(at(7), at(17))]) == []
    assert without(whole, []) == [whole]


def test_who_is_away_has_no_free_time_and_no_why(dispatcher_client, lead):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    found = cell(dispatcher_client, lead)
    assert (found.word, found.free) == ("away", [])
    text = week(dispatcher_client).content.decode()
    assert "away" in text
    assert "ill" not in re.findall(r"\bill\b", text)


def test_names_and_towns_stand_in_the_cell_and_lead_to_the_visit(dispatcher_client, lead):
    site = make.make_site(
        customer=make.make_customer(name="Odile Reedham"), town="Larkmoor", street="3 Otter Lane"
    )
    job = make.make_job(site=site)
    visit = make.make_visit(job=job, lead=lead, starts_at=at_hour(TOMORROW, 9), status="tentative")
    text = week(dispatcher_client).content.decode()
    assert f'class="open"\n    href="{reverse("visit-detail", args=[visit.pk])}"' in text
    assert ">Reedham</a>" in text
    assert "Larkmoor" in text
    assert "not confirmed" in text


def test_the_foot_is_the_sum_of_the_cells(dispatcher_client, lead):
    other = make.make_staff("technician")
    visit_at(lead, 9, 60)
    visit_at(other, 13, 120)
    context = week(dispatcher_client).context
    column = next(column for column in context["columns"] if column.day == TOMORROW)
    assert (column.visits, column.held) == (2, timedelta(hours=3))
    cells = [cell for row in context["rows"] for cell in row.cells]
    free = sum((ends - begins for cell in cells for begins, ends in cell.free), timedelta())
    assert context["free"] == free
    assert context["held"] == timedelta(hours=3)


def test_an_empty_weekend_takes_no_room_and_a_booked_one_does(dispatcher_client, lead):
    saturday = MONDAY + timedelta(days=5)
    assert saturday not in [column.day for column in week(dispatcher_client).context["columns"]]
    make.make_visit(lead=lead, starts_at=at_hour(saturday, 9))
    assert saturday in [column.day for column in week(dispatcher_client).context["columns"]]


def test_the_weeks_ahead_count_windows_that_end_and_those_without_a_visit(dispatcher_client, lead):
    monday = MONDAY + timedelta(days=7)
    for days in (0, 6, 3, 7):
        row = make.make_follow_up(train=make.make_startup_train(), due_on=TODAY)
        FollowUp.objects.filter(pk=row.pk).update(window_until=monday + timedelta(days=days))
        if days == 3:
            page = dispatcher_client.get(reverse("follow-up-book", args=[row.pk])).content.decode()
            when = re.search(r'name="when" value="([^"]+)"', page)[1]
            dispatcher_client.post(reverse("follow-up-book", args=[row.pk]), {"when": when})
            assert FollowUp.objects.get(pk=row.pk).status == "booked"
    goes_away(dispatcher_client, lead, monday, kind="leave")
    people = technicians()
    found = ahead_of(
        monday, ending_from(MONDAY), people, Plan.of(people, monday, monday + timedelta(days=6))
    )
    assert (found.ending, found.unbooked) == (3, 2)
    assert any(said.startswith("Tess Alder") for said in found.away)
    shown = week(dispatcher_client).context["ahead"][0]
    assert (shown.ending, shown.unbooked, shown.away) == (3, 2, found.away)


# --- a free stretch -------------------------------------------------------------------------------


def stretch(client, person, day=TOMORROW, hour="09:00"):
    return client.get(
        reverse("free-stretch"), {"person": person.pk, "from": f"{day.isoformat()}T{hour}"}
    )


def due(town, **fields):
    train = make.make_startup_train(site=make.make_site(town=town))
    return make.make_follow_up(train=train, due_on=TOMORROW - timedelta(days=3), **fields)


def test_the_free_time_of_the_week_leads_to_who_waits_and_one_press_books(dispatcher_client, lead):
    visit_at(lead, 8, 60)
    far, near = due("Fenn Hollow"), due("Larkmoor")
    text = week(dispatcher_client).content.decode()
    where = re.findall(rf'href="({reverse("free-stretch")}\?person={lead.pk}[^"]+)"', text)
    assert where
    page = stretch(dispatcher_client, lead)
    assert [each.row.follow_up for each in page.context["fitting"]] == [near, far]
    value = page.context["fitting"][0].value
    assert f'name="when" value="{value}"' in page.content.decode()
    answer = dispatcher_client.post(reverse("follow-up-book", args=[near.pk]), {"when": value})
    assert answer.url == reverse("worklist")
    near.refresh_from_db()
    assert (near.status, near.visit.lead) == ("booked", lead)
    # ten minutes of driving within the town, from nine
    assert page.context["stretch"][0] == at_hour(TOMORROW, 9)
    assert near.visit.starts_at == at_hour(TOMORROW, 9, 15)
    again = stretch(dispatcher_client, lead)
    assert near not in [each.row.follow_up for each in again.context["fitting"]]


def test_what_takes_longer_than_the_stretch_is_not_offered(dispatcher_client, lead):
    fits = due("Larkmoor")
    due("Larkmoor", rule=make.make_rule("f11", minutes=75))
    visit_at(lead, 7, 120)
    job = opened(make.make_train(site=make.make_site(town="Larkmoor")))
    booked(job, lead, at=at_hour(TOMORROW, 10, 30), now=NOW, hours=1.5)
    page = stretch(dispatcher_client, lead)
    assert page.context["stretch"] == (at_hour(TOMORROW, 9), at_hour(TOMORROW, 10, 30))
    assert fits.terms.minutes == 60  # and ten minutes of driving before and after
    assert [each.row.follow_up for each in page.context["fitting"]] == [fits]


def test_a_time_that_is_taken_says_so_and_names_what_is_free(dispatcher_client, lead):
    visit_at(lead, 9, 60)
    page = stretch(dispatcher_client, lead)
    assert page.context["stretch"] is None
    assert "has no free hour then" in page.content.decode()
    assert "10:00 to" in " ".join(page.content.decode().split())


@pytest.mark.parametrize("asked", [{}, {"person": "x"}, {"from": "soon"}, {"from": "1800-01-01"}])
def test_an_address_without_a_person_or_a_moment_leads_nowhere(dispatcher_client, lead, asked):
    given = {"person": lead.pk, "from": f"{TOMORROW}T09:00"} | asked if asked else {}
    assert dispatcher_client.get(reverse("free-stretch"), given).status_code == 404


def test_days_on_which_the_clock_changes_keep_their_hours(dispatcher_client, lead):
    for day in (date(2026, 11, 2), date(2027, 3, 15)):  # the Mondays after
        found = cell(dispatcher_client, lead, day)
        assert hours(found.free[0])[1] == "12:00"
