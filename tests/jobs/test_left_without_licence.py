"""Visits that are booked after a licence ended: who takes them, and what the worklist counts."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import OutboxMail, Visit
from jobs.schedule.free_times import at_hour
from tests.acts import arrived
from tests.calls import worklist
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.forms import filled
from tests.jobs.people_at_work import TODAY, TOMORROW
from tests.licences import corrected, entered, left_out, needs, renewed, shown, visit_of

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def _clock(clock):
    return clock


@pytest.fixture
def tess():
    return make_staff("technician", first_name="Tess", last_name="Alder")


@pytest.fixture
def ivo():
    return make_staff("technician", first_name="Ivo", last_name="Sedge")


# --- visits that are left without ----------------------------------------------------------------


@pytest.fixture
def left(owner_client, tess, ivo):
    """Tess is booked for tomorrow and for the day after her licence came to end; Ivo holds one."""
    mine = entered(owner_client, tess, "Wells", TODAY + 365 * DAY)
    entered(owner_client, ivo, "Wells")
    needs(owner_client)
    visits = [visit_of(tess, TOMORROW), visit_of(tess, TOMORROW + DAY)]
    visit_of(tess, TOMORROW + DAY, hour=13, kind="service")
    corrected(owner_client, mine, TOMORROW)
    return mine, visits


def test_visits_after_the_end_are_work_to_move(dispatcher_client, owner_client, tess, left):
    licence, (_, after) = left
    page = shown(dispatcher_client)
    (row,) = page.context["left"]
    assert (row.person, row.visits, row.licences) == (tess, [after], ["Wells"])
    assert {row.licence.person_id: row.lacking for row in page.context["rows"]}[tess.pk] == 1
    assert reverse("licence-visits", args=[tess.pk]) in page.content.decode()
    detail = dispatcher_client.get(reverse("licence-detail", args=[licence.pk])).content.decode()
    assert "1\n          visit" in detail
    renewed(owner_client, licence, TODAY + 500 * DAY)
    assert shown(dispatcher_client).context["left"] == []


def test_somebody_who_holds_it_takes_them(dispatcher_client, tess, ivo, left):
    _, (_, after) = left
    make_staff("technician", first_name="Una", last_name="Reed")
    where = reverse("licence-visits", args=[tess.pk])
    sent = {key: value for key, value in filled(dispatcher_client, "licence-visits", tess).items()}
    options = dispatcher_client.get(where).context["rows"][0].options
    assert {option.who for option in options} == {"Ivo Sedge"}
    answer = dispatcher_client.post(where, sent)
    assert answer.status_code == 302
    after.refresh_from_db()
    assert (after.lead, after.starts_at) == (ivo, at_hour(TOMORROW + DAY, 9))
    assert OutboxMail.objects.filter(template="visit_moved", visit=after).exists()
    assert "No visit to come of this person" in dispatcher_client.get(where).content.decode()
    again = dispatcher_client.post(where, sent)
    assert again.status_code == 409


def test_a_licence_out_of_use_leaves_its_visits_to_be_moved(
    dispatcher_client, owner_client, tess, left
):
    licence, visits = left
    left_out(owner_client, licence)
    (row,) = shown(dispatcher_client).context["left"]
    assert row.visits == visits
    (gone,) = shown(dispatcher_client, show="out").context["rows"]
    assert gone.lacking == 2
    page = dispatcher_client.get(reverse("licence-visits", args=[tess.pk]))
    assert [number for _, number in page.context["days"]] == [1]
    other = dispatcher_client.get(
        reverse("licence-visits", args=[tess.pk]), {"on": (TOMORROW + DAY).isoformat()}
    )
    assert [row.visit for row in other.context["rows"]] == visits[1:]


def test_whose_licence_ended_comes_with_somebody_who_holds_it(
    dispatcher_client, owner_client, tess, ivo
):
    """One of the two must hold it; a helper in the place of who held it holds it too."""
    mine = entered(owner_client, ivo, "Wells", TODAY + 365 * DAY)
    needs(owner_client)
    visit = visit_of(tess, TOMORROW, helper=ivo)
    assert shown(dispatcher_client).context["left"] == []
    corrected(owner_client, mine, TODAY)
    una, _ = (
        make_staff("technician", first_name=name, last_name="Reed") for name in ("Una", "Ann")
    )
    entered(owner_client, una, "Wells", TOMORROW)
    rows = dispatcher_client.get(reverse("licence-visits", args=[ivo.pk])).context["rows"]
    assert [option.who for option in rows[0].options] == ["Una Reed helps"]
    sent = filled(dispatcher_client, "licence-visits", ivo)
    assert dispatcher_client.post(reverse("licence-visits", args=[ivo.pk]), sent).status_code == 302
    assert Visit.objects.get(pk=visit.pk).helper == una


def test_work_that_nobody_may_do_soon_is_named(dispatcher_client, owner_client, tess, ivo):
    first = entered(owner_client, tess, "Wells", TODAY + 10 * DAY)
    last = entered(owner_client, ivo, "Wells", TODAY + 60 * DAY)
    needs(owner_client)
    (row,) = shown(dispatcher_client).context["endings"]
    assert (row.work, row.last) == ("Disinfection of well and plumbing", last.expires_on)
    renewed(owner_client, first, TODAY + 61 * DAY)
    assert shown(dispatcher_client).context["endings"] == []
    for licence in (first, last):
        left_out(owner_client, licence)
    (row,) = shown(dispatcher_client).context["endings"]
    assert row.last is None
    assert "nobody holds “Wells”" in shown(dispatcher_client).content.decode()


def test_one_without_an_end_is_enough(dispatcher_client, owner_client, tess, ivo):
    entered(owner_client, tess, "Wells", TODAY)
    entered(owner_client, ivo, "wells")
    needs(owner_client)
    assert shown(dispatcher_client).context["endings"] == []


def test_visits_that_are_over_are_not_moved(dispatcher, clock, tess, left):
    for days, number in ((2, 1), (3, 0)):
        clock(NOW + days * DAY)
        assert len(shown(signed_in(dispatcher)).context["left"]) == number


def test_a_visit_that_is_under_way_is_not_moved(dispatcher_client, owner_client, tess, left):
    licence, (first, _) = left
    corrected(owner_client, licence, TODAY)
    arrived(first)
    assert [row.visits for row in shown(dispatcher_client).context["left"]] == [left[1][1:]]


# --- the worklist --------------------------------------------------------------------------------


def test_the_worklist_counts_what_has_ended_and_what_ends(
    dispatcher_client, owner_client, tess, ivo
):
    entered(owner_client, tess, "Wells", TODAY + 60 * DAY)
    entered(owner_client, ivo, "Wells", TODAY + 60 * DAY)
    entered(owner_client, None, "Over", TODAY - DAY)
    entered(owner_client, None, "Good", TODAY + 61 * DAY)
    left_out(owner_client, entered(owner_client, None, "Old", TODAY))
    said = worklist(dispatcher_client)
    assert f'<a href="{reverse("licences")}">licences <b>3</b></a>' in said
    sent = filled(owner_client, "company")
    owner_client.post(reverse("company"), {**sent, "licence_lead_days": 59})
    assert "licences <b>1</b>" in worklist(dispatcher_client)


def test_the_worklist_says_nothing_where_nothing_ends(dispatcher_client, owner_client, tess):
    entered(owner_client, tess, "Wells", TODAY + 61 * DAY)
    assert reverse("licences") not in worklist(dispatcher_client)
