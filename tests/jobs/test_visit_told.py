"""Told by mail, by telephone, or not told yet: from booking and calling to page and worklist."""

import re
from datetime import timedelta

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from jobs.mail.about import visit_reminder
from jobs.mail.smtp import Answer, Verdict
from jobs.models import ContactAttempt, OutboxMail, VisitTold
from jobs.models.company import company_day
from jobs.schedule.free_times import at_hour
from jobs.wording.names import person
from jobs.workflows.messages import arrived, send_again
from jobs.workflows.visits import cancel_visit
from tests.acts import booked, moved, opened
from tests.conftest import NOW
from tests.factories import make_customer, make_site, make_staff, make_train
from tests.jobs.mail.letters import text_of
from tests.jobs.workflows.sending import Postbox, send

pytestmark = pytest.mark.django_db
TOMORROW = company_day(NOW) + timedelta(days=1)
NINE = at_hour(TOMORROW, 9)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def lead():
    return make_staff("technician", first_name="Tess", last_name="Alder")


def visit_for(lead, *, kind="disinfect", **customer):
    site = make_site(
        customer=make_customer(name="Odile Reedham", **customer), street="3 Otter Lane"
    )
    return booked(opened(make_train(site=site), kind), lead, at=NINE, now=NOW)


def newest_letter(visit):
    return OutboxMail.objects.filter(visit=visit, mail_class="customer").latest("pk")


def worklist(client):
    return client.get(reverse("worklist")).content.decode()


def page_of(client, visit):
    text = client.get(reverse("visit-detail", args=[visit.pk])).content.decode()
    return " ".join(text.split())


def telephone(client, visit, **typed):
    where = reverse("visit-tell", args=[visit.pk])
    form = client.get(where).context["form"]
    sent = {"sequence": form["sequence"].value(), "number": form["number"].value()}
    sent |= {"whom": "Odile Reedham", "read_back": "on", **typed}
    return client.post(where, sent)


# --- the three states -----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("customer", "why"),
    [
        ({"email": ""}, "no mail address on file"),
        ({"mail_wanted": False}, "wants no mail"),
        ({"mail_state": "refused"}, "mail to this address is refused"),
    ],
)
def test_who_cannot_be_mailed_is_not_told_until_somebody_telephones(
    dispatcher_client, dispatcher, lead, customer, why
):
    visit = visit_for(lead, **customer)
    tell = reverse("visit-tell", args=[visit.pk])
    assert tell in worklist(dispatcher_client)
    assert why in worklist(dispatcher_client)
    assert "not told yet" in page_of(dispatcher_client, visit)
    assert telephone(dispatcher_client, visit).url == reverse("worklist")
    assert tell not in worklist(dispatcher_client)
    page = page_of(dispatcher_client, visit)
    assert "told by telephone: Odile Reedham, (518) 555-01" in page
    assert "by Dana Birch, 10 June 2026, 10:00" in page
    assert "not told yet" not in page


def test_a_letter_tells_when_it_was_sent_and_not_before(dispatcher_client, lead):
    visit = visit_for(lead)
    assert "not told yet" in page_of(dispatcher_client, visit)
    assert "Needs a call" not in worklist(dispatcher_client)  # it is on its way
    send(newest_letter(visit), Postbox(), at=NOW + timedelta(minutes=1))
    assert "told by mail: sent 10 June 2026, 10:01" in page_of(dispatcher_client, visit)
    assert "Needs a call" not in worklist(dispatcher_client)


def test_a_letter_that_does_not_leave_is_not_waited_for(dispatcher_client, lead, clock):
    visit_for(lead)
    clock(NOW + timedelta(minutes=31))
    page = worklist(dispatcher_client)
    assert "Not told yet" in page
    assert "the letter: waiting" in page


def test_a_letter_that_died_or_is_in_doubt_tells_nobody(dispatcher_client, dispatcher, lead):
    visit = visit_for(lead)
    mail = send(newest_letter(visit), Postbox(Answer(Verdict.UNCERTAIN, "")))
    assert "the letter: not known whether it arrived" in worklist(dispatcher_client)
    mail = send_again(mail=mail, by=dispatcher, now=NOW)
    assert "Needs a call" not in worklist(dispatcher_client)
    mail = send(mail, Postbox(Answer(Verdict.UNCERTAIN, "")))
    arrived(mail=mail, by=dispatcher, now=NOW)
    assert "Needs a call" not in worklist(dispatcher_client)
    assert VisitTold.objects.get().mail == mail


def test_an_opened_link_counts_when_somebody_in_the_office_decides_so(
    client, dispatcher_client, dispatcher, lead
):
    """A mail program opens links too: looking changes nothing, and the call says who decides."""
    visit = visit_for(lead)
    mail = send(newest_letter(visit), Postbox(Answer(Verdict.UNCERTAIN, "")))
    client.get(re.search(r"http://testserver(/v/[^\s#]+)", text_of(mail))[1])
    assert "the letter: not known whether it arrived" in worklist(dispatcher_client)
    call = dispatcher_client.get(reverse("visit-tell", args=[visit.pk])).content.decode()
    letter = reverse("message-detail", args=[mail.pk])
    assert "an opened link counts when you decide so" in " ".join(call.split())
    assert f'href="{letter}"' in call
    assert "They have seen it" in dispatcher_client.get(letter).content.decode()
    dispatcher_client.post(reverse("message-arrived", args=[mail.pk]))
    said = f"told by mail: seen, says {person(dispatcher)}, 10 June 2026"
    assert said in page_of(dispatcher_client, visit)
    assert "Needs a call" not in worklist(dispatcher_client)


def test_who_answers_our_letter_has_read_it_whatever_the_server_said(
    client, dispatcher_client, lead
):
    visit = visit_for(lead)
    mail = send(newest_letter(visit), Postbox(Answer(Verdict.UNCERTAIN, "")))
    address = re.search(r"http://testserver(/v/[^\s#]+)", text_of(mail))[1]
    client.post(address, {"answer": "confirm"})
    client.post(address, {"answer": "move"})
    assert "told by mail: answered 10 June 2026" in page_of(dispatcher_client, visit)
    assert VisitTold.objects.get().how == "answer"


def test_a_visit_that_is_over_asks_for_no_call(dispatcher_client, lead, clock):
    site = make_site(customer=make_customer(email=""))
    visit = booked(opened(make_train(site=site)), lead, at=NOW + timedelta(hours=1), now=NOW)
    clock(visit.arrive_until)
    assert "Needs a call" in worklist(dispatcher_client)
    clock(visit.arrive_until + timedelta(minutes=1))
    assert "Needs a call" not in worklist(dispatcher_client)


@pytest.mark.parametrize("kind", ["moved", "cancelled", "reminder"])
def test_each_letter_that_says_when_we_come_or_that_we_do_not_tells(lead, dispatcher, kind):
    visit = visit_for(lead)
    send(newest_letter(visit), Postbox())
    if kind == "moved":
        moved(visit, at=at_hour(TOMORROW, 13), now=NOW)
    elif kind == "cancelled":
        cancel_visit(visit=visit, reason="pump broken", by=dispatcher, now=NOW)
    else:
        visit_reminder.write(visit=visit, kind="day", now=NOW)
    send(newest_letter(visit), Postbox())
    visit.refresh_from_db()
    assert VisitTold.objects.filter(sequence=visit.sequence).latest("pk").mail == newest_letter(
        visit
    )


# --- what is told is the visit as it stands -----------------------------------------------------


def test_after_a_move_the_first_hours_are_what_they_believe(dispatcher_client, lead):
    visit = visit_for(lead, email="")
    telephone(dispatcher_client, visit)
    visit = moved(visit, at=at_hour(TOMORROW, 13), now=NOW)
    page = page_of(dispatcher_client, visit)
    assert "not told yet" in page
    assert "they believe: Thursday 11 June 2026, 09:00 to 10:00, Tess Alder" in page
    assert reverse("visit-tell", args=[visit.pk]) in worklist(dispatcher_client)


def test_what_was_read_out_before_somebody_moved_it_is_not_told(dispatcher_client, lead):
    """Two at the desk: one telephones, the other moves. What was typed stays, the tick does not."""
    visit = visit_for(lead, email="")
    moved(visit, at=at_hour(TOMORROW, 13), now=NOW)
    answer = telephone(dispatcher_client, visit, sequence=0)
    page = answer.content.decode()
    assert answer.status_code == 409
    assert "The visit changed while you telephoned" in page
    assert "between 1:00 pm and 2:00 pm" in page
    assert 'value="Odile Reedham"' in page
    assert not answer.context["form"]["read_back"].value()
    assert answer.context["form"]["sequence"].value() == "1"
    assert not VisitTold.objects.exists()


def test_who_was_told_of_a_visit_is_told_that_nobody_comes(dispatcher_client, dispatcher, lead):
    known, unknown = visit_for(lead, email=""), None
    telephone(dispatcher_client, known)
    unknown = booked(known.job, lead, at=at_hour(TOMORROW, 15), now=NOW)
    for visit in (known, unknown):
        cancel_visit(visit=visit, reason="pump broken", by=dispatcher, now=NOW)
    page = worklist(dispatcher_client)
    assert "that we do not come" in page
    assert reverse("visit-tell", args=[unknown.pk]) not in page
    where = reverse("visit-tell", args=[known.pk])
    assert "is cancelled. We do not come." in dispatcher_client.get(where).content.decode()
    telephone(dispatcher_client, known)
    assert "Needs a call" not in worklist(dispatcher_client)


# --- the call -----------------------------------------------------------------------------------


def test_the_call_reads_out_what_the_letter_says(dispatcher_client, lead):
    visit = visit_for(lead, email="", phone="+16075550142")
    page = dispatcher_client.get(reverse("visit-tell", args=[visit.pk])).content.decode()
    assert 'href="tel:+1-607-555-0142"' in page
    assert "between 9:00 am and 10:00 am, to 3 Otter Lane" in page
    assert "Tess Alder comes to disinfect the well and the pipes of the house." in page
    assert "Strong chlorine stands in the well" in page


@pytest.mark.parametrize(
    ("typed", "said"),
    [
        ({"read_back": ""}, "A voice mail is not told"),
        ({"whom": " "}, "This is needed."),
        ({"number": ""}, "This is needed."),
    ],
)
def test_told_is_a_name_a_number_and_said_back(dispatcher_client, lead, typed, said):
    visit = visit_for(lead, email="")
    answer = telephone(dispatcher_client, visit, **typed)
    assert answer.status_code == 422
    assert said in answer.content.decode()
    assert not VisitTold.objects.exists()


def test_a_voice_mail_is_noted_and_tells_nobody(dispatcher_client, lead):
    visit = visit_for(lead, email="")
    where = reverse("visit-not-reached", args=[visit.pk])
    dispatcher_client.post(where, {"how": "message", "note": "asked to call"})
    assert reverse("visit-tell", args=[visit.pk]) in worklist(dispatcher_client)
    tell = dispatcher_client.get(reverse("visit-tell", args=[visit.pk])).content.decode()
    assert "Left a message" in tell
    assert "Dana Birch: asked to call" in " ".join(tell.split())
    assert dispatcher_client.post(where, {"how": "called"}).status_code == 422
    assert ContactAttempt.objects.count() == 1


def test_a_telling_is_not_changed_afterwards(dispatcher_client, lead):
    telephone(dispatcher_client, visit_for(lead, email=""))
    with pytest.raises(DatabaseError, match="insert-only"), transaction.atomic():
        VisitTold.objects.update(whom="somebody else")


def test_many_calls_cost_no_more_queries(dispatcher_client, lead, django_assert_max_num_queries):
    for number in range(9):
        site = make_site(customer=make_customer(email="", phone=f"+1518555011{number}"))
        booked(opened(make_train(site=site)), lead, at=NINE + timedelta(hours=number), now=NOW)
    with django_assert_max_num_queries(12):
        assert worklist(dispatcher_client).count("Not told yet") == 8
    with django_assert_max_num_queries(12):
        page = dispatcher_client.get(reverse("worklist"), {"show": "calls"}).content.decode()
    assert page.count("Not told yet") == 9
