"""A technician is away, others take the visits: one act, letters with a reason, and back again."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Absence, Customer, FollowUp, Giving, LogEntry, OutboxMail, Visit, VisitTold
from jobs.models.company import Company, company_day
from jobs.schedule.free_times import at_hour
from jobs.workflows.giving import Choice, give_visits
from jobs.workflows.licences import enter_licence
from jobs.workflows.visits import move_visit
from tests.acts import booked, held, opened
from tests.conftest import NOW, make_person, signed_in
from tests.factories import make_customer, make_follow_up, make_site, make_staff, make_train
from tests.jobs.people_at_work import TOMORROW, errors, goes_away

pytestmark = pytest.mark.django_db
HOURS = (7.0, 8.0, 9.0, 10.0, 13.0, 14.0, 15.0)
EARLY = at_hour(TOMORROW, 6)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Emeric", last_name="Fallow")


@pytest.fixture
def others():
    names = (("Birk", "Oram"), ("Jess", "Amery"), ("Sunniva", "Tarr"))
    return [make_staff("technician", first_name=a, last_name=b) for a, b in names]


def visit_at(lead, hour, *, customer=None, **more):
    site = make_site(customer=customer or make_customer(), street=f"{hour:g} Quarry Steps")
    at = at_hour(TOMORROW, int(hour), round(hour % 1 * 60))
    return booked(opened(make_train(site=site), **more), lead, at=at, now=NOW)


@pytest.fixture
def seven(lead):
    """Seven visits of an hour each, all told: six by their letter, one by telephone alone."""
    visits = [visit_at(lead, hour) for hour in HOURS[:6]]
    visits.append(visit_at(lead, HOURS[6], customer=make_customer(email="")))
    letters_leave()
    return visits


def letters_leave():
    """The mail server took what waits."""
    from jobs.workflows.telling import told_by_mail

    for mail in OutboxMail.objects.filter(state="queued"):
        OutboxMail.objects.filter(pk=mail.pk).update(state="sent", sent_at=NOW)
        told_by_mail(mail=mail, now=NOW)


def page_of(client, on=TOMORROW):
    where = reverse("absence", args=[Absence.objects.get().pk])
    return client.get(where, {"on": on.isoformat()})


def as_marked(page):
    """What the page sends when nothing is changed on it."""
    form = page.context["form"]
    shown = {name: form[name].value() for name in form.fields}
    sent = {name: value for name, value in shown.items() if value not in (None, False)}
    return {**sent, "once": page.context["once"]}


def give(client, sent, on=TOMORROW):
    return client.post(f"{reverse('absence', args=[Absence.objects.get().pk])}?on={on}", sent)


def moved_letters():
    return OutboxMail.objects.filter(template="visit_moved")


# --- one act -------------------------------------------------------------------------------------


def test_seven_visits_are_given_in_one_act_with_a_letter_for_each_change(
    dispatcher_client, lead, others, seven
):
    answer = goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = dispatcher_client.get(answer.url)
    assert len(page.context["rows"]) == 7
    assert moved_letters().count() == 0
    assert give(dispatcher_client, as_marked(page)).status_code == 302
    assert not Visit.objects.of_technician(lead).to_come().exists()
    # whoever took one comes at the hour that was told: the person alone is new, and that is told
    for before in seven:
        after = Visit.objects.get(pk=before.pk)
        assert (after.arrive_from, after.arrive_until) == (before.arrive_from, before.arrive_until)
        assert after.lead in others
        assert after.slots.filter(technician=after.lead).count() == 4
    wanted = {visit.pk for visit in seven if visit.job.customer_id and _mail_of(visit)}
    assert {mail.visit_id for mail in moved_letters()} == wanted
    assert moved_letters().count() == 6
    assert Giving.objects.count() == 7
    assert LogEntry.objects.filter(verb="moved").count() == 7
    assert LogEntry.objects.get(verb="visits_given").by.username == "dana"


def _mail_of(visit):
    return Customer.objects.get(tenures__site=visit.job.site_id).email


def test_the_same_form_sent_twice_gives_once(dispatcher_client, lead, others, seven):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    sent = as_marked(page_of(dispatcher_client))
    first, second = give(dispatcher_client, sent), give(dispatcher_client, sent)
    assert (first.status_code, second.status_code) == (302, 302)
    assert Giving.objects.count() == 7
    assert moved_letters().count() == 6


def test_the_second_of_two_dispatchers_gets_one_clear_sentence(
    dispatcher_client, lead, others, seven
):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    other = signed_in(make_person("ida", "dispatcher"))
    sent = as_marked(page_of(other))
    give(dispatcher_client, as_marked(page_of(dispatcher_client)))
    late = give(other, sent)
    assert late.status_code == 409
    assert "Somebody else settled some of these visits meanwhile." in late.content.decode()
    assert Giving.objects.count() == 7


def test_one_changed_in_between_keeps_all_of_them_and_may_be_sent_again(
    dispatcher_client, dispatcher, lead, others, seven
):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    sent = as_marked(page_of(dispatcher_client))
    visit = seven[0]
    again = held(others[0], at=visit.starts_at)
    move_visit(visit=visit, version=visit.version, held=again, by=dispatcher, now=NOW)
    refused = give(dispatcher_client, sent)
    assert refused.status_code == 409
    assert not Giving.objects.exists()
    once_more = {**as_marked(refused), "once": "another-opening"}
    answer = give(dispatcher_client, once_more)
    assert answer.status_code in (302, 422)
    if answer.status_code == 422:
        assert "already has a visit in that time" in answer.content.decode()


def test_two_visits_for_one_person_at_one_time_keep_nothing(dispatcher_client, lead, others):
    first, second = visit_at(lead, 9.0), visit_at(lead, 10.0)
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    sent = as_marked(page_of(dispatcher_client))
    clash = f"{others[0].pk}|{first.starts_at.isoformat()}"
    sent |= {f"take_{first.pk}": clash, f"take_{second.pk}": clash}
    answer = give(dispatcher_client, sent)
    assert answer.status_code == 422
    said = errors(answer, f"take_{second.pk}") if second.pk else ""
    assert "Birk Oram already has a visit in that time" in said
    assert not Giving.objects.exists()
    assert not moved_letters().exists()


# --- who could take it ---------------------------------------------------------------------------


def test_who_knows_the_house_comes_first_and_nobody_without_the_licence(
    dispatcher_client, owner_client, owner, lead, others
):
    enter_licence(person=others[2], name="Wells", expires_on=TOMORROW, by=owner, now=NOW)
    owner_client.post(reverse("work-needs"), {"licence_disinfect": "Wells"})
    plain = visit_at(lead, 9.0)
    for hour in (7.0, 8.0):  # both of the others are busier than Birk
        visit_at(others[1], hour)
    enter_licence(person=lead, name="Wells", expires_on=TOMORROW, by=owner, now=NOW)
    licensed = visit_at(lead, 13.0, kind="disinfect")
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    rows = {row.visit.pk: row for row in page_of(dispatcher_client).context["rows"]}
    that_day = [row.who for row in rows[licensed.pk].options if not row.other_day]
    assert that_day == ["Sunniva Tarr"]
    assert len([row for row in rows[plain.pk].options if not row.other_day]) == 3


def test_other_hours_are_said_and_told_with_their_letter(dispatcher_client, lead, others):
    for who in others[1:]:
        goes_away_all_day(dispatcher_client, who)
    visit_at(others[0], 9.0)
    visit = visit_at(lead, 9.0)
    letters_leave()
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = dispatcher_client.get(
        reverse("absence", args=[Absence.objects.get(person=lead).pk]), {"on": TOMORROW}
    )
    (row,) = page.context["rows"]
    assert not row.first.is_same_hours
    assert row.needs_call
    assert "other hours: call" in page.content.decode()
    where = reverse("absence", args=[Absence.objects.get(person=lead).pk])
    dispatcher_client.post(f"{where}?on={TOMORROW}", as_marked(page))
    after = Visit.objects.get(pk=visit.pk)
    assert after.arrive_from - after.starts_at == visit.arrive_from - visit.starts_at
    assert after.arrive_from != visit.arrive_from
    assert moved_letters().get().visit == visit


def goes_away_all_day(client, who):
    goes_away(client, who, TOMORROW, TOMORROW + timedelta(days=10), kind="leave")


def test_a_visit_nobody_can_take_stays_on_the_worklist_with_its_promise(dispatcher_client, lead):
    site = make_site(street="9 Quarry Steps")
    train = make_train(site=site)
    promise = make_follow_up(train=train, now=NOW)
    at = at_hour(TOMORROW, 9)
    visit = booked(opened(train), lead, at=at, now=NOW, follow_ups=[promise])
    letters_leave()
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = page_of(dispatcher_client)
    assert page.context["rows"][0].options == []
    give(dispatcher_client, as_marked(page))
    worklist = dispatcher_client.get(reverse("worklist")).content.decode()
    assert "Nobody comes yet" in worklist
    assert "Who takes it" in worklist
    promise.refresh_from_db()
    assert (promise.status, promise.visit) == (FollowUp.Status.BOOKED, visit)
    assert not moved_letters().exists()


def test_somebody_who_only_helps_is_replaced_without_a_letter(dispatcher_client, lead, others):
    job = opened(make_train())
    visit = booked(job, others[0], at=at_hour(TOMORROW, 8), now=NOW, helper=lead)
    letters_leave()
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = page_of(dispatcher_client)
    offered = [option.who for option in page.context["rows"][0].options]
    assert offered == ["Jess Amery helps", "Sunniva Tarr helps", "Birk Oram alone"]
    give(dispatcher_client, as_marked(page))
    after = Visit.objects.get(pk=visit.pk)
    assert (after.lead, after.helper) == (others[0], others[1])
    assert not moved_letters().exists()


def test_the_helper_who_takes_a_visit_goes_alone_and_told_hours_stay(
    dispatcher_client, lead, others
):
    told = {"arrive_from": at_hour(TOMORROW, 8, 30), "arrive_until": at_hour(TOMORROW, 10)}
    at = at_hour(TOMORROW, 8)
    visit = booked(opened(make_train()), lead, at=at, hours=2, now=NOW, helper=others[0], **told)
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = page_of(dispatcher_client)
    choices = page.context["form"].fields[f"take_{visit.pk}"].choices
    alone = next(value for value, _ in choices if str(value).startswith(f"{others[0].pk}|"))
    give(dispatcher_client, as_marked(page) | {f"take_{visit.pk}": alone})
    after = Visit.objects.get(pk=visit.pk)
    assert (after.lead, after.helper) == (others[0], None)
    assert (after.arrive_from, after.arrive_until) == (told["arrive_from"], told["arrive_until"])


def test_hours_that_were_told_stay_where_the_visit_still_holds_them(
    dispatcher, dispatcher_client, lead, others
):
    """Held from eight to eleven, told nine to ten; half an hour later it still is."""
    told = {"arrive_from": at_hour(TOMORROW, 9), "arrive_until": at_hour(TOMORROW, 10)}
    at = at_hour(TOMORROW, 8)
    visit = booked(opened(make_train()), lead, at=at, hours=3, now=NOW, **told)
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    half_later = Choice(visit.pk, visit.version, others[0], at_hour(TOMORROW, 8, 30))
    absence = Absence.objects.get()
    (after,) = give_visits(absence=absence, choices=[half_later], by=dispatcher, now=NOW)
    assert after.starts_at == at_hour(TOMORROW, 8, 30)
    assert (after.arrive_from, after.arrive_until) == (told["arrive_from"], told["arrive_until"])


# --- told by telephone ---------------------------------------------------------------------------


def test_who_was_called_is_told_by_name_number_and_words_said_back(
    dispatcher_client, lead, others, seven
):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    sent, last = as_marked(page_of(dispatcher_client)), seven[6]
    nameless = {**sent, f"told_{last.pk}": "on", f"whom_{last.pk}": ""}
    refused = give(dispatcher_client, nameless)
    assert "Say the name of the adult you spoke to." in errors(refused, f"told_{last.pk}")
    assert not Giving.objects.exists()
    give(dispatcher_client, {**sent, f"told_{last.pk}": "on"})
    told = VisitTold.objects.get(how="telephone")
    after = Visit.objects.get(pk=last.pk)
    assert (told.visit, told.sequence, told.lead) == (after, after.sequence, after.lead)
    assert told.whom
    assert told.number
    assert told.by.username == "dana"


def test_nobody_is_told_of_a_visit_that_nobody_takes(dispatcher_client, lead, others, seven):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    first = seven[0].pk
    sent = {**as_marked(page_of(dispatcher_client)), f"take_{first}": "", f"told_{first}": "on"}
    answer = give(dispatcher_client, sent)
    assert "Choose who comes, then tell them." in errors(answer, f"told_{first}")
    assert not Giving.objects.exists()


# --- comes after all -----------------------------------------------------------------------------


def test_back_before_a_letter_left_nobody_is_written_to(dispatcher_client, lead, others, seven):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    give(dispatcher_client, as_marked(page_of(dispatcher_client)))
    back = reverse("absence-end", args=[Absence.objects.get().pk])
    page = dispatcher_client.get(back)
    assert len(page.context["givings"]) == 7
    dispatcher_client.post(back, {"back": page.context["form"]["back"].value()})
    assert Visit.objects.of_technician(lead).to_come().count() == 7
    assert not Absence.objects.standing().exists()
    from jobs.mail import visits as letters

    waiting = moved_letters().filter(state="queued")
    assert [letters.stands(mail, NOW) for mail in waiting] == [
        "The visit has changed since; a newer message says so."
    ] * 6
    worklist = dispatcher_client.get(reverse("worklist")).content.decode()
    assert worklist.count("Not told yet") == 1  # who has no mail and was never called


def test_back_after_the_letters_left_each_hears_of_it_once(dispatcher_client, lead, others, seven):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    give(dispatcher_client, as_marked(page_of(dispatcher_client)))
    letters_leave()
    back = reverse("absence-end", args=[Absence.objects.get().pk])
    page = dispatcher_client.get(back)
    chosen = page.context["form"]["back"].value()[:3]
    dispatcher_client.post(back, {"back": chosen})
    assert Visit.objects.of_technician(lead).to_come().count() == 3
    assert moved_letters().filter(state="queued").count() == 3


def test_what_somebody_changed_meanwhile_does_not_go_back(
    dispatcher_client, dispatcher, lead, others, seven
):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    give(dispatcher_client, as_marked(page_of(dispatcher_client)))
    visit = Visit.objects.get(pk=seven[0].pk)
    later = held(visit.lead, at=at_hour(TOMORROW + timedelta(days=1), 15))
    move_visit(visit=visit, version=visit.version, held=later, by=dispatcher, now=NOW)
    page = dispatcher_client.get(reverse("absence-end", args=[Absence.objects.get().pk]))
    assert seven[0].pk not in {row.visit_id for row in page.context["givings"]}


# --- leave next week, size -----------------------------------------------------------------------


def test_leave_of_a_week_is_settled_day_by_day(dispatcher_client, lead, others):
    days = [TOMORROW + timedelta(days=n) for n in (4, 5, 6)]
    for day in days:
        booked(opened(make_train()), lead, at=at_hour(day, 9), now=NOW)
    answer = goes_away(dispatcher_client, lead, days[0], days[-1], kind="leave")
    page = dispatcher_client.get(answer.url)
    assert page.context["on"] == days[0]
    assert [day for day, _ in page.context["days"]] == days[1:]
    for day in days:
        give(dispatcher_client, as_marked(page_of(dispatcher_client, day)), day)
    assert not Absence.objects.get().visits().exists()


def test_the_page_asks_a_fixed_number_of_times(
    dispatcher_client, lead, others, seven, django_assert_max_num_queries
):
    Company.load()
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    with django_assert_max_num_queries(20):
        page_of(dispatcher_client)


def test_today_only_what_is_ahead_is_offered_and_who_is_on_site_stays(
    dispatcher, lead, others, clock
):
    visits = [visit_at(lead, hour) for hour in (8.0, 15.0)]
    from tests.acts import arrived

    arrived(visits[0])
    noon = at_hour(TOMORROW, 11)
    clock(noon)
    client = signed_in(dispatcher)
    goes_away(client, lead, TOMORROW, kind="ill")
    page = page_of(client)
    assert [row.visit.pk for row in page.context["rows"]] == [visits[1].pk]
    assert [visit.pk for visit in page.context["under_way"]] == [visits[0].pk]
    assert company_day(noon) == TOMORROW
