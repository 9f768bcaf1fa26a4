"""One visit runs over: what becomes of those behind it, who must be called, and one act for all."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Company, OutboxMail, Visit, VisitTold
from jobs.schedule.free_times import at_hour
from tests.acts import arrived, booked, closed, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_customer, make_site, make_staff, make_train
from tests.jobs.people_at_work import TOMORROW
from tests.jobs.test_ill_today import letters_leave

pytestmark = pytest.mark.django_db


def at(hour, minute=0):
    return at_hour(TOMORROW, hour, minute)


@pytest.fixture(autouse=True)
def company(clock):
    row = Company.load()
    row.drive_in_town_min, row.drive_min = 15, 15
    row.lunch_from, row.lunch_until = "12:00", "12:30"
    row.save()
    return row


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Bram", last_name="Oxley")


@pytest.fixture
def other():
    return make_staff("technician", first_name="Jess", last_name="Amery")


def visit_at(lead, begins, ends, **more):
    site = make_site(customer=make_customer(), street=f"{begins:%H%M} Quarry Steps")
    hours = (ends - begins) / timedelta(hours=1)
    return booked(opened(make_train(site=site)), lead, at=begins, hours=hours, now=NOW, **more)


@pytest.fixture
def five(lead):
    """Held 8:30, 10:15, 11:15, 12:45 after lunch, 14:30; each told from its beginning on."""
    spans = (
        (at(8, 30), at(10)),
        (at(10, 15), at(11)),
        (at(11, 15), at(12)),
        (at(12, 45), at(13, 30)),
        (at(14, 30), at(15, 15)),
    )
    visits = [visit_at(lead, *span) for span in spans]
    letters_leave()
    return visits


@pytest.fixture
def late(five, clock):
    """Eleven o'clock, and the first, held until ten, is not done."""
    arrived(five[0])
    clock(at(11))
    return five


def day(dispatcher):
    """Signed in at the hour of the clock: a session does not last from the day before."""
    return signed_in(dispatcher).get(reverse("day"), {"on": TOMORROW.isoformat()})


def coming(page, visit):
    drawn = [each for row in page.context["rows"] for each in row.drawn]
    return next(each.coming for each in drawn if each.visit.pk == visit.pk)


def page_of(person, lead):
    where = reverse("day-late", args=[lead.pk])
    return signed_in(person).get(where, {"on": TOMORROW.isoformat()})


def as_marked(page, **changed):
    form = page.context["form"]
    shown = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in shown.items() if value not in (None, False)}
    return {**sent, "once": page.context["once"], **changed}


def send(dispatcher, lead, sent):
    return signed_in(dispatcher).post(f"{reverse('day-late', args=[lead.pk])}?on={TOMORROW}", sent)


def begins(visits):
    return [Visit.objects.get(pk=visit.pk).starts_at for visit in visits]


# --- when each would be come to -----------------------------------------------------------------


def test_who_is_on_time_holds_nobody_up(dispatcher, five, clock):
    arrived(five[0])
    clock(at(9, 59))
    page = day(dispatcher)
    assert [coming(page, visit).starts_at for visit in five[1:]] == begins(five[1:])
    assert page.context["wanted"] == []
    assert "runs late" not in page.content.decode()


def test_lateness_goes_on_by_drive_and_lunch_until_the_day_takes_it_up(dispatcher, late):
    # 11:00 and 15 min of driving; 45 min of work and 15 of driving; lunch of 30 and 15 of driving;
    # the last is told until 15:15 and would be come to at 14:45: worked out by hand
    page = day(dispatcher)
    comes = [coming(page, visit).starts_at for visit in late]
    assert comes == [at(8, 30), at(11, 15), at(12, 15), at(13, 45), at(14, 45)]
    assert [coming(page, visit).breaks_word for visit in late] == [False, True, True, True, False]
    (row,) = [row for row in page.context["rows"] if row.drawn]
    assert [each.word for each in row.drawn] == ["1\u00a0h late", "call", "call", "call", ""]


def test_who_must_be_called_stands_first_with_why(dispatcher, late):
    page = day(dispatcher)
    wanted = page.context["wanted"]
    assert [row.visit.pk for row in wanted] == [visit.pk for visit in late[1:4]]
    assert "Told 10:15 to 11:00. Bram Oxley is still at" in wanted[0].why
    assert wanted[0].why.endswith("Would come about 11:15.")
    assert "Comes after" in wanted[1].why
    text = page.content.decode()
    assert "Who must be called, and why" in text
    assert reverse("day-late", args=[late[0].lead_id]) in text


def test_who_left_early_is_waited_for_by_nobody(dispatcher, five, clock):
    arrived(five[0])
    closed(five[0], at=at(9, 15))
    clock(at(9, 20))
    page = day(dispatcher)
    assert coming(page, five[1]).starts_at == at(10, 15)
    assert page.context["wanted"] == []


def test_who_left_late_is_waited_for_from_then_on_not_from_now(dispatcher, five, clock):
    arrived(five[0])
    closed(five[0], at=at(10, 15), now=at(10, 40))
    clock(at(10, 40))
    # 10:15 and 15 min of driving is past: from now on it is the next quarter of an hour
    assert coming(day(dispatcher), five[1]).starts_at == at(10, 45)


def test_a_drive_longer_than_the_time_booked_for_it_makes_nobody_late(
    dispatcher, five, company, clock
):
    company.drive_in_town_min = company.drive_min = 90
    company.save()
    arrived(five[0])
    clock(at(9))
    page = day(dispatcher)
    assert [coming(page, visit).starts_at for visit in five[1:]] == begins(five[1:])


def test_nobody_has_arrived_and_the_hours_are_over(dispatcher, five, clock):
    clock(at(9, 50))
    row = day(dispatcher).context["wanted"][0]
    assert row.visit.pk == five[0].pk
    assert "Nobody has arrived. Would come about 10:00." in row.why


def test_a_time_that_is_only_held_needs_no_call(dispatcher, lead, clock):
    visit_at(lead, at(8, 30), at(9, 30), status="tentative")
    clock(at(11))
    (row,) = day(dispatcher).context["wanted"]
    assert row.reason == "open"


def test_a_visit_of_two_waits_for_the_later_of_them(dispatcher, lead, other, clock):
    first = visit_at(other, at(8), at(9))
    both = visit_at(lead, at(10), at(12), helper=other)
    arrived(first)
    clock(at(11))
    page = day(dispatcher)
    assert coming(page, both).starts_at == at(11, 15)
    rows = {row.person.pk: row for row in page.context["rows"]}
    assert rows[lead.pk].drawn[0].other == "with Amery"
    assert rows[other.pk].drawn[1].other == "helps Oxley"


# --- one act --------------------------------------------------------------------------------------


def test_all_behind_are_put_back_in_one_act_and_each_is_told_once(dispatcher, lead, late):
    page = page_of(dispatcher, lead)
    assert [row.visit.pk for row in page.context["rows"]] == [visit.pk for visit in late[1:]]
    second = late[1]
    told = {f"told_{second.pk}": "on"}
    assert send(dispatcher, lead, as_marked(page, **told)).status_code == 302
    assert begins(late) == [at(8, 30), at(11, 15), at(12, 15), at(13, 45), at(14, 30)]
    letters = OutboxMail.objects.filter(template="visit_moved", state="queued")
    assert sorted(mail.visit_id for mail in letters) == [visit.pk for visit in late[1:4]]
    newest = VisitTold.objects.filter(visit=second).latest("pk")
    assert (newest.how, newest.arrive_from) == ("telephone", at(11, 15))
    assert day(dispatcher).context["wanted"] == []


def test_the_same_form_twice_puts_back_once(dispatcher, lead, late):
    sent = as_marked(page_of(dispatcher, lead))
    assert send(dispatcher, lead, sent).status_code == 302
    assert send(dispatcher, lead, sent).status_code == 302
    assert begins(late)[1] == at(11, 15)
    assert OutboxMail.objects.filter(template="visit_moved").count() == 3


def test_one_of_them_goes_to_somebody_else_and_one_is_left(dispatcher, lead, other, late):
    page = page_of(dispatcher, lead)
    row = page.context["rows"][0]
    theirs = next(option for option in row.options if option.who == "Jess Amery")
    sent = as_marked(page, **{f"take_{late[1].pk}": theirs.value})
    sent.pop(f"take_{late[2].pk}")
    assert send(dispatcher, lead, sent).status_code == 302
    second, third = (Visit.objects.get(pk=visit.pk) for visit in late[1:3])
    assert second.lead == other
    assert (third.lead, third.starts_at) == (lead, at(11, 15))


def test_the_second_of_two_dispatchers_gets_one_clear_sentence(dispatcher, lead, late):
    sent = as_marked(page_of(dispatcher, lead))
    send(dispatcher, lead, as_marked(page_of(dispatcher, lead)))
    again = send(dispatcher, lead, {**sent, "once": "another"})
    assert again.status_code == 409
    assert "Somebody else settled some of these visits meanwhile." in again.content.decode()
    assert OutboxMail.objects.filter(template="visit_moved").count() == 3


def test_an_hour_after_work_is_said(dispatcher, lead, clock):
    first, last = visit_at(lead, at(13), at(14)), visit_at(lead, at(15), at(16, 30))
    arrived(first)
    clock(at(15, 50))
    (row,) = page_of(dispatcher, lead).context["rows"]
    assert row.visit.pk == last.pk
    # 15:50 and 15 min, the next whole quarter, and an hour and a half of work
    assert "16:15" in row.options[0].said
    assert "ends 17:45, after work" in row.options[0].said


def test_nobody_late_is_said(dispatcher, lead, five):
    text = page_of(dispatcher, lead).content.decode()
    assert "No visit ahead would begin later than it is held for." in text


def test_only_who_plans_opens_it(technician, lead):
    assert page_of(technician, lead).status_code == 403
