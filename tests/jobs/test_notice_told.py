"""A notice without a sample is told person by person; one of the wrong house is taken back."""

from datetime import timedelta

import pytest
from django.core.management import call_command
from django.urls import reverse

from jobs.errors import WrongState
from jobs.models import DoNotUse, FollowUp, LogEntry, NoticeTold, OutboxMail, PhoneCall, SiteTenure
from jobs.models.notice_told import untold_notices
from jobs.workflows.notice_telling import take_back_notice
from tests import factories as make
from tests.acts import booked, opened
from tests.calls import taken, worklist
from tests.conftest import NOW, signed_in

pytestmark = pytest.mark.django_db
BY_PHONE = {"how": "telephone", "number": "607-555-0142", "read_back": "on"}
WHY = "Two houses of one name, the other one was flooded."


@pytest.fixture(autouse=True)
def _at_noon(clock):
    return clock


@pytest.fixture
def well():
    call_command("load_rules", verbosity=0)
    owner = make.make_customer(name="C. Prudhomme", phone="+16075550142", email="c@example.com")
    return make.make_well(site=make.make_site(customer=owner))


@pytest.fixture
def tenant(well):
    """Lives there and has no mail address."""
    customer = make.make_customer(name="A. Weir", phone="+16075550143", email="")
    row = make.make_tenure(site=well.site, customer=customer, part="tenant", is_contact=False)
    return row.customer


def flooded(client, well, **said):
    """The call on which somebody tells of the flood."""
    sent = {"dangers": "flood", "read_out": "on", "symptom": "The creek.", "do": "keep", **said}
    taken(client, well.site, **sent)
    return DoNotUse.objects.get()


def told_page(client, notice):
    return " ".join(client.get(reverse("notice-told", args=[notice.pk])).content.decode().split())


def tell(client, notice, customer, **said):
    sent = {"person": f"{notice.site_id}-{customer.pk}", "whom": customer.name, **BY_PHONE, **said}
    once = {"once": str(make.next_number())}
    return client.post(reverse("notice-told", args=[notice.pk]), sent | once)


def take_back(client, notice, reason=WHY):
    where = reverse("notice-take-back", args=[notice.pk])
    return client.post(where, {"reason": reason, "once": str(make.next_number())})


def back_letters():
    return OutboxMail.objects.filter(template="notice_taken_back")


# --- told ----------------------------------------------------------------------------------------


def test_the_caller_knows_and_who_lives_there_is_called(dispatcher_client, well, tenant):
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    known = NoticeTold.objects.get()
    assert (known.whom, known.how, known.number) == ("C. Prudhomme", "telephone", "(607) 555-0142")
    assert reverse("notice-told", args=[notice.pk]) in worklist(dispatcher_client)
    page = told_page(dispatcher_client, notice)
    assert "C. Prudhomme was told by telephone" in page
    assert "not told yet" in page
    assert "bottled water only" in page  # read out: what boiling leaves in the water
    assert tell(dispatcher_client, notice, tenant).status_code == 302
    assert not untold_notices().exists()
    assert "Call now" not in worklist(dispatcher_client)
    house = dispatcher_client.get(reverse("site-detail", args=[well.site_id])).content.decode()
    assert "A. Weir knows" in " ".join(house.split())
    assert LogEntry.objects.filter(verb="notice_told").count() == 2


def test_a_neighbour_who_calls_does_not_count_for_the_house(dispatcher_client, well):
    notice = flooded(dispatcher_client, well, caller="The neighbour", number="607-555-0199")
    assert not NoticeTold.objects.exists()
    assert untold_notices().get() == notice
    assert "not everybody told" in worklist(dispatcher_client)


def test_what_was_not_read_out_is_not_told(dispatcher_client, well):
    flooded(dispatcher_client, well, caller="C. Prudhomme", read_out="")
    assert untold_notices().exists()


@pytest.mark.parametrize(
    ("level", "cause", "is_asked"),
    [
        ("no_use", "oxidant", True),
        ("no_drinking", "suspected", True),
        ("no_drinking", "opened", True),
        ("no_use", "other", True),
        ("sample_pending", "disinfected", False),
    ],
)
def test_what_somebody_opens_by_hand_is_told_as_well(
    dispatcher_client, well, level, cause, is_asked
):
    sent = {"level": level, "cause": cause, "reason": "seen on site", "once": "1"}
    answer = dispatcher_client.post(reverse("notice-new", args=[well.site_id]), sent)
    assert answer.status_code == 302
    assert untold_notices().filter(level=level).exists() == is_asked
    assert ("Call now" in worklist(dispatcher_client)) == is_asked


def test_every_house_on_the_well_is_told(dispatcher_client, well):
    other = make.make_site(customer=make.make_customer(name="K. Lumb"))
    well.also_serves.add(other)
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    assert "not every house told" in worklist(dispatcher_client)
    empty = make.make_site()
    SiteTenure.objects.filter(site=empty).delete()
    well.also_serves.add(empty)
    assert "nobody of this house is on file: go there" in told_page(dispatcher_client, notice)
    for who in (f"{other.pk}-{SiteTenure.objects.get(site=other).customer_id}", f"{empty.pk}-0"):
        sent = {"person": who, "whom": "An adult", **BY_PHONE, "once": who}
        dispatcher_client.post(reverse("notice-told", args=[notice.pk]), sent)
    assert not untold_notices().exists()


def test_told_is_an_adult_by_name_who_said_it_back(dispatcher_client, well, tenant):
    notice = flooded(dispatcher_client, well)
    for wrong in ({"whom": " "}, {"number": ""}, {"read_back": ""}):
        assert tell(dispatcher_client, notice, tenant, **wrong).status_code == 422
    for _ in range(2):
        tell(dispatcher_client, notice, tenant)
    assert NoticeTold.objects.filter(customer=tenant).count() == 1


# --- taken back ----------------------------------------------------------------------------------


def test_taken_back_it_ends_by_name_and_counts_as_lifted_by_nothing(
    dispatcher_client, dispatcher, well
):
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    house = reverse("site-detail", args=[well.site_id])
    assert (
        reverse("notice-take-back", args=[notice.pk])
        in dispatcher_client.get(house).content.decode()
    )
    asked = dispatcher_client.get(reverse("notice-take-back", args=[notice.pk])).content.decode()
    assert "A letter says so to C. Prudhomme" in " ".join(asked.split())
    assert take_back(dispatcher_client, notice).status_code == 302
    notice.refresh_from_db()
    assert (notice.lifted_by, notice.taken_back_why) == (dispatcher, WHY)
    assert (notice.lifted_on_reading, notice.lifted_on_words, notice.lifted_on_sample) == (
        "",
        "",
        None,
    )
    assert not DoNotUse.objects.standing().exists()
    assert not FollowUp.objects.open().exists()  # disinfection and sample were for the other house
    page = " ".join(dispatcher_client.get(house).content.decode().split())
    assert "Taken back, raised at the wrong house" in page
    assert WHY in page
    assert LogEntry.objects.get(verb="notice_taken_back").reason == WHY


def test_who_heard_of_it_gets_the_letter_and_nobody_else(dispatcher_client, well, tenant):
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    take_back(dispatcher_client, notice)
    assert [mail.recipient for mail in back_letters()] == ["c@example.com"]
    assert not untold_notices().exists()  # the tenant had not heard of it


def test_two_wells_of_one_call_go_together_with_one_letter(dispatcher_client, well):
    make.make_well(site=well.site)
    taken(dispatcher_client, well.site, dangers="flood", read_out="on", symptom="x", do="keep")
    first, second = DoNotUse.objects.standing()
    take_back(dispatcher_client, first)
    assert not DoNotUse.objects.standing().exists()
    assert back_letters().count() == 1
    assert not untold_notices().exists()
    assert second.pk in {row.pk for row in DoNotUse.objects.exclude(taken_back_why="")}


def test_nobody_heard_of_it_and_no_letter_goes(dispatcher_client, well):
    notice = flooded(dispatcher_client, well, read_out="")
    assert (
        "no letter goes"
        in dispatcher_client.get(reverse("notice-take-back", args=[notice.pk])).content.decode()
    )
    take_back(dispatcher_client, notice)
    assert not back_letters().exists()
    assert "Call now" not in worklist(dispatcher_client)


def test_a_letter_about_a_visit_told_it_too(dispatcher_client, dispatcher, well):
    notice = flooded(dispatcher_client, well, read_out="")
    lead = make.make_staff("technician")
    train = make.make_train(site=well.site)
    booked(opened(train), lead, at=NOW + timedelta(days=3), now=NOW)
    OutboxMail.objects.update(state="sent", sent_at=NOW + timedelta(minutes=1))
    take_back(dispatcher_client, notice)
    assert [mail.recipient for mail in back_letters()] == ["c@example.com"]


def test_who_was_told_and_has_no_mail_is_called(dispatcher_client, well, tenant):
    notice = flooded(dispatcher_client, well, read_out="")
    tell(dispatcher_client, notice, tenant)
    answer = take_back(dispatcher_client, notice)
    assert answer.url == reverse("notice-told", args=[notice.pk])
    assert "our notice was a mistake" in " ".join(worklist(dispatcher_client).split())
    page = told_page(dispatcher_client, notice)
    assert "Who knows that our notice was a mistake?" in page
    assert "You may use your water as you did before." in page
    assert "Prudhomme" not in page.partition("Whom to call")[2]  # never heard of it
    assert tell(dispatcher_client, notice, tenant).status_code == 302
    assert NoticeTold.objects.filter(is_taken_back=True).get().whom == "A. Weir"
    assert "our notice was a mistake" not in worklist(dispatcher_client)


def test_who_has_moved_out_since_is_not_called(dispatcher_client, well, tenant):
    notice = flooded(dispatcher_client, well, read_out="")
    tell(dispatcher_client, notice, tenant)
    take_back(dispatcher_client, notice)
    assert untold_notices().exists()
    tenant.tenures.update(until_on=NOW.date())
    assert not untold_notices().exists()


def test_a_letter_that_could_not_be_sent_is_no_telling(dispatcher_client, well):
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    take_back(dispatcher_client, notice)
    back_letters().update(state="dead")
    assert untold_notices().get() == notice


@pytest.mark.parametrize("reason", ["", "wrong"])
def test_a_reason_of_ten_letters_is_asked(dispatcher_client, well, reason):
    notice = flooded(dispatcher_client, well)
    assert take_back(dispatcher_client, notice, reason).status_code == 422
    assert DoNotUse.objects.standing().exists()


def test_what_a_bottle_showed_is_no_mistake_about_the_house(dispatcher_client, dispatcher, well):
    notice = flooded(dispatcher_client, well)
    sample = make.make_sample(site=well.site, well=well, taken_at=NOW - timedelta(days=1))
    sent = {"outcome": "positive", "result_on": NOW.date().isoformat(), "once": "9"}
    dispatcher_client.post(reverse("sample-result", args=[sample.pk]), sent)
    with pytest.raises(WrongState, match="Bacteria were found"):
        take_back_notice(notice=notice, reason=WHY, by=dispatcher, now=NOW)


def test_taking_back_twice_leads_where_the_first_led(dispatcher_client, well):
    """A double click, and a second person who had the page open: by whom it ended, no 404."""
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    page, house = (
        reverse("notice-take-back", args=[notice.pk]),
        reverse("site-detail", args=[well.site_id]),
    )
    for _ in range(2):
        assert dispatcher_client.post(page, {"reason": WHY, "once": "one"}).status_code == 302
    other = signed_in(make.make_staff("dispatcher"))
    assert take_back(other, notice).url == house
    assert "was taken back by Dana Birch on June 10, 2026" in other.get(page, follow=True).text
    notice.refresh_from_db()
    assert (notice.lifted_by.username, back_letters().count()) == ("dana", 1)


def test_a_notice_that_was_lifted_is_told_and_taken_back_by_nobody(dispatcher_client, well, tenant):
    """Water that stung, over in words: whoever still has a page open reads who ended it."""
    sent = {"level": "no_drinking", "cause": "other", "reason": "water stings", "once": "1"}
    dispatcher_client.post(reverse("notice-new", args=[well.site_id]), sent)
    notice = DoNotUse.objects.get()
    lift = reverse("notice-lift", args=[notice.pk])
    ended = {
        "what": "The laboratory found nothing, paper of 9 June.",
        "said_by": "A laboratory",
        "found_at": "2026-06-10T10:00",
    }
    answer = dispatcher_client.post(lift, ended | {"once": "2"})
    assert answer.status_code == 302, answer.context["form"].errors
    notice.refresh_from_db()
    assert notice.lifted_at
    assert tell(dispatcher_client, notice, tenant).url == reverse(
        "site-detail", args=[well.site_id]
    )
    assert "was lifted by Dana Birch" in worklist(dispatcher_client)
    assert not NoticeTold.objects.exists()
    other = signed_in(make.make_staff("dispatcher"))
    assert take_back(other, notice).status_code == 422
    assert "was lifted by Dana Birch" in other.get(lift, follow=True).content.decode()
    answer = other.post(lift, ended | {"once": "3"}, follow=True)
    assert "was lifted by Dana Birch" in answer.content.decode()


def test_another_notice_goes_on_standing(dispatcher_client, well):
    notice = flooded(dispatcher_client, well, caller="C. Prudhomme")
    sent = {"level": "no_use", "cause": "oxidant", "reason": "water stings", "once": "7"}
    dispatcher_client.post(reverse("notice-new", args=[well.site_id]), sent)
    take_back(dispatcher_client, notice)
    assert DoNotUse.objects.standing().get().cause == "oxidant"
    assert "This still holds" in told_page(dispatcher_client, notice)


def test_the_call_may_go_once_its_notice_is_taken_back(dispatcher_client, well):
    notice = flooded(dispatcher_client, well)
    call = PhoneCall.objects.get()
    where, sent = reverse("call-take-back", args=[call.pk]), {"reason": "the wrong house"}
    assert dispatcher_client.post(where, sent | {"once": "1"}).status_code == 422
    take_back(dispatcher_client, notice)
    assert dispatcher_client.post(where, sent | {"once": "2"}).status_code == 302


def test_a_technician_takes_nothing_back(well, dispatcher_client):
    notice = flooded(dispatcher_client, well)
    client = signed_in(make.make_staff("technician"))
    assert client.post(reverse("notice-take-back", args=[notice.pk])).status_code == 403
