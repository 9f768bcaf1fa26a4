"""Licences and certificates: the list, renewals, corrections, and visits that are left without."""

import csv
from datetime import date, timedelta
from io import BytesIO, StringIO

import openpyxl
import pytest
from django.urls import reverse

from jobs.errors import BadEntry, EditedMeanwhile, WrongState
from jobs.models import Company, LogEntry, Skill
from jobs.workflows import licences as workflow
from jobs.workflows.owner_edits import version_of
from jobs.workflows.people import close_account
from tests.conftest import NOW, signed_in
from tests.factories import make_site, make_staff, make_train
from tests.forms import filled
from tests.jobs.people_at_work import TODAY, TOMORROW, errors, send, typed
from tests.licences import (
    acted,
    corrected,
    entered,
    left_out,
    needs,
    renewed,
    shown,
    visit_of,
)

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


def rows_of(page):
    return [(row.whose, row.licence.name, row.standing.said) for row in page.context["rows"]]


def refused(answer, field):
    assert answer.status_code == 422
    return errors(answer, field)


# --- the list ------------------------------------------------------------------------------------


def test_what_ends_first_stands_first_and_each_state_is_said(owner_client, tess, ivo):
    entered(owner_client, tess, "No end")
    entered(owner_client, tess, "Good", TODAY + 61 * DAY)
    entered(owner_client, None, "Registration", TODAY + 60 * DAY)
    entered(owner_client, ivo, "Today", TODAY)
    entered(owner_client, ivo, "Over", TODAY - DAY)
    assert rows_of(shown(owner_client)) == [
        ("Ivo Sedge", "Over", "ended yesterday"),
        ("Ivo Sedge", "Today", "ends today"),
        ("the company", "Registration", "ends in 60\u00a0days"),
        ("Tess Alder", "Good", "good"),
        ("Tess Alder", "No end", "no end day"),
    ]


def test_the_list_is_narrowed_by_its_address(owner_client, dispatcher_client, tess, ivo):
    for who, name, ends in (
        (tess, "Wells", TODAY - DAY),
        (ivo, "Wells", TODAY + DAY),
        (None, "Registration", TODAY + DAY),
    ):
        entered(owner_client, who, name, ends)
    assert [whose for whose, *_ in rows_of(shown(dispatcher_client, show="ended"))] == [
        "Tess Alder"
    ]
    soon = shown(dispatcher_client, show="soon")
    assert [whose for whose, *_ in rows_of(soon)] == ["Ivo Sedge", "the company"]
    assert 'href="?show=ended"' in soon.content.decode()
    (row,) = rows_of(shown(dispatcher_client, show="soon", who="company"))
    assert row[1] == "Registration"
    assert rows_of(shown(dispatcher_client, who=tess.pk)) == [
        ("Tess Alder", "Wells", "ended yesterday")
    ]
    parts = {part.label: part.count for part in soon.context["parts"]}
    assert parts == {"all": 3, "ended": 1, "ends within 60\u00a0days": 2}


def test_the_company_says_how_early_an_end_is_told(owner_client, tess):
    entered(owner_client, tess, "Wells", TODAY + 30 * DAY)
    sent = filled(owner_client, "company")
    answer = owner_client.post(reverse("company"), {**sent, "licence_lead_days": 29})
    assert answer.status_code == 302
    page = shown(owner_client)
    assert rows_of(page) == [("Tess Alder", "Wells", "good")]
    assert "from 29 days before the end" in page.content.decode()
    assert "none within 29 days" in owner_client.get(reverse("people-time")).content.decode()
    none = owner_client.post(reverse("company"), {**sent, "licence_lead_days": 0})
    assert none.status_code == 422


def test_who_left_is_not_on_the_list(owner_client, owner, tess):
    entered(owner_client, tess, "Wells", TODAY)
    close_account(user=tess, by=owner, now=NOW)
    assert rows_of(shown(owner_client)) == []


def test_files_hold_the_rows_of_the_page(dispatcher_client, owner_client, tess):
    needs_it = entered(owner_client, tess, "Wells", TODAY + DAY, number="=7")
    needs(owner_client)
    entered(owner_client, None, "Registration")
    answer = dispatcher_client.get(reverse("licence-file"), {"who": tess.pk, "as": "csv"})
    head, row = csv.reader(StringIO(answer.content.decode("utf-8-sig")))
    assert head[:3] == ["Ends on", "Days left", "State"]
    ends = needs_it.expires_on.isoformat()
    work = "Disinfection of well and plumbing"
    assert row == [ends, "1", "ends tomorrow", "Tess Alder", "Wells", "'=7", work, "0"]
    book = dispatcher_client.get(reverse("licence-file"), {"as": "xlsx"})
    sheet = openpyxl.load_workbook(BytesIO(book.content)).active
    assert sheet.max_row == 3
    wrong = dispatcher_client.get(reverse("licence-file"), {"as": "exe"})
    assert wrong.status_code == 400


def test_the_list_asks_a_fixed_number_of_times(
    owner_client, dispatcher_client, tess, django_assert_max_num_queries
):
    entered(owner_client, tess, "Wells", TOMORROW)
    needs(owner_client)
    for number in range(9):
        entered(owner_client, make_staff("technician"), "Wells", TODAY + number * DAY)
        visit_of(tess, TOMORROW, hour=7 + number)
    corrected(owner_client, Skill.objects.get(person=tess), TODAY)
    with django_assert_max_num_queries(12):
        (left,) = shown(dispatcher_client).context["left"]
    assert len(left.visits) == 9


# --- entered and renewed -------------------------------------------------------------------------


def test_a_licence_is_entered_once_for_each_who_holds_it(owner_client, tess, ivo):
    entered(owner_client, tess, "Well work", "2027-01-01", number="W-1")
    again = {"who": tess.pk, "name": " well  WORK ", "expires_on": "2028-01-01"}
    said = refused(owner_client.post(reverse("licence-new"), again), "name")
    assert said == "Tess Alder has “Well work” on file already: renew or correct it."
    entered(owner_client, ivo, "Well work")
    entered(owner_client, None, "Well work")
    company = {"who": "company", "name": "Well work"}
    assert "The company has" in refused(owner_client.post(reverse("licence-new"), company), "name")
    nobody = owner_client.post(reverse("licence-new"), {"who": "", "name": "Well work"})
    assert refused(nobody, "who")
    assert Skill.objects.count() == 3


def test_a_renewal_ends_later_and_the_history_keeps_both(owner_client, owner, tess):
    licence = entered(owner_client, tess, "Wells", TODAY - 3 * DAY, number="W-1")
    renewed(owner_client, licence, TODAY + 400 * DAY, number="W-2")
    assert (licence.expires_on, licence.number) == (TODAY + 400 * DAY, "W-2")
    act = LogEntry.objects.get(verb="licence_renewed")
    assert (act.by, act.subject_id) == (owner, licence.pk)
    page = owner_client.get(reverse("licence-detail", args=[licence.pk])).content.decode()
    assert f"{TODAY - 3 * DAY} &rarr; {TODAY + 400 * DAY}" in page
    assert "W-1 &rarr; W-2" in page
    people = owner_client.get(reverse("who-changed"), {"subject": "people"}).content.decode()
    assert "Renewed a licence" in people
    assert rows_of(shown(owner_client, show="ended")) == []


@pytest.mark.parametrize(
    ("ends", "said"),
    [
        ("", "Write the last day"),
        (TODAY + 5 * DAY, "a renewed one ends later"),
        (TODAY + 4 * DAY, "a renewed one ends later"),
        (TODAY + 7322 * DAY, "look at the year"),
    ],
)
def test_what_is_no_renewal_is_refused(owner_client, tess, ends, said):
    licence = entered(owner_client, tess, "Wells", TODAY + 5 * DAY)
    assert said in refused(
        acted(owner_client, "licence-renew", licence, expires_on=ends), "expires_on"
    )
    licence.refresh_from_db()
    assert licence.expires_on == TODAY + 5 * DAY


def test_a_renewal_that_is_over_itself_is_refused_and_one_of_today_is_not(owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY - 9 * DAY)
    late = acted(owner_client, "licence-renew", licence, expires_on=TODAY - DAY)
    assert "This day is over" in refused(late, "expires_on")
    renewed(owner_client, licence, TODAY)


def test_what_has_no_end_is_not_renewed(owner, owner_client, tess):
    licence = entered(owner_client, tess, "Wells")
    detail = owner_client.get(reverse("licence-detail", args=[licence.pk])).content.decode()
    assert reverse("licence-renew", args=[licence.pk]) not in detail
    with pytest.raises(WrongState, match="no end day"):
        workflow.renew_licence(licence=licence, expires_on=TOMORROW, number="", by=owner, now=NOW)


def test_the_second_of_two_who_renew_is_told(owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY)
    first, second = (filled(owner_client, "licence-renew", licence) for _ in range(2))
    where = reverse("licence-renew", args=[licence.pk])
    ends = TODAY + 365 * DAY
    assert owner_client.post(where, {**first, "expires_on": ends}).status_code == 302
    late = owner_client.post(where, {**second, "expires_on": ends + DAY})
    assert late.status_code == 409
    assert ("Ends on", str(ends + DAY), str(ends)) in late.context["differences"]
    seen = late.context["form"]["seen"].value()
    again = {**second, "seen": seen, "expires_on": ends + DAY}
    assert owner_client.post(where, again).status_code == 302
    assert Skill.objects.get().expires_on == ends + DAY


def test_the_second_of_two_with_the_same_day_learns_that_it_stands(owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY)
    second, where = filled(owner_client, "licence-renew", licence), TODAY + 365 * DAY
    renewed(owner_client, licence, where)
    page = reverse("licence-renew", args=[licence.pk])
    late = owner_client.post(page, {**second, "expires_on": where})
    assert late.status_code == 409
    seen = late.context["form"]["seen"].value()
    again = owner_client.post(page, {**second, "seen": seen, "expires_on": where})
    assert "ends on 10 June 2027 as it is" in refused(again, "expires_on")


def test_a_form_sent_twice_renews_once(owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY)
    page = reverse("licence-renew", args=[licence.pk])
    once = owner_client.get(page).context["once"]
    sent = {**filled(owner_client, "licence-renew", licence), "once": once}
    answers = [owner_client.post(page, {**sent, "expires_on": TOMORROW}) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [302, 302]
    assert licence.history.count() == 2


def test_a_stale_version_is_refused_before_anything_else(owner, owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY)
    with pytest.raises(EditedMeanwhile):
        workflow.withdraw_licence(
            licence=licence,
            reason="",
            by=owner,
            now=NOW,
            seen=version_of(licence) - 1,
        )


# --- corrected, left out of use ------------------------------------------------------------------


def test_a_mistake_is_corrected_with_a_reason(owner_client, tess):
    licence = entered(owner_client, tess, "Wells", TODAY + 365 * DAY, number="W-1")
    same = acted(owner_client, "licence-correct", licence, reason="The year was mistyped.")
    assert "stands there already" in refused(same, "expires_on")
    short = acted(owner_client, "licence-correct", licence, expires_on=TODAY, reason="typo")
    assert "ten letters" in refused(short, "reason")
    corrected(owner_client, licence, TODAY - DAY)
    assert licence.expires_on == TODAY - DAY
    detail = owner_client.get(reverse("licence-detail", args=[licence.pk])).content.decode()
    assert "The year was mistyped." in detail
    corrected(owner_client, licence, "", reason="It has no end at all.")
    assert licence.expires_on is None


def test_what_is_out_of_use_allows_nothing_until_it_is_taken_up(
    owner_client, dispatcher_client, tess
):
    licence = entered(owner_client, tess, "Wells", TODAY + 365 * DAY)
    needs(owner_client)
    site = make_train(site=make_site()).site
    left_out(owner_client, licence)
    assert licence.withdrawn_on == TODAY
    answer = send(dispatcher_client, site, typed(tess, kind="disinfect"))
    assert "nobody does" in errors(answer, "lead")
    assert rows_of(shown(owner_client)) == []
    assert rows_of(shown(owner_client, show="out")) == [("Tess Alder", "Wells", "out of use")]
    for page, sent in (
        ("licence-renew", {"expires_on": TODAY + 500 * DAY}),
        ("licence-correct", {"number": "W-2", "reason": "Another number."}),
        ("licence-withdraw", {"reason": "Once more, to be sure."}),
    ):
        assert "is out of use" in refused(acted(owner_client, page, licence, **sent), "__all__")
    anew = owner_client.post(reverse("licence-new"), {"who": tess.pk, "name": "Wells"})
    assert "take it into use again" in refused(anew, "name")
    back = acted(owner_client, "licence-again", licence, reason="Left out by mistake.")
    assert back.status_code == 302
    twice = acted(owner_client, "licence-again", licence, reason="Left out by mistake.")
    assert "is in use" in refused(twice, "__all__")
    assert send(dispatcher_client, site, typed(tess, kind="disinfect")).status_code == 302


def test_only_the_owner_enters_and_changes(
    dispatcher_client, technician_client, owner_client, tess
):
    licence = entered(owner_client, tess, "Wells", TOMORROW)
    detail = reverse("licence-detail", args=[licence.pk])
    page = dispatcher_client.get(detail).content.decode()
    assert reverse("licence-renew", args=[licence.pk]) not in page
    assert reverse("licence-new") not in shown(dispatcher_client).content.decode()
    renew = reverse("licence-renew", args=[licence.pk])
    assert dispatcher_client.post(renew, {"expires_on": TODAY}).status_code == 403
    assert technician_client.get(detail).status_code == 403


def test_the_figure_of_days_is_that_of_common_practice():
    """60 days before the end: common practice, no source."""
    assert Company.load().licence_lead_days == 60
    assert date(2026, 6, 10) == TODAY


def test_an_end_far_ahead_is_a_slip(owner, tess):
    with pytest.raises(BadEntry, match="look at the year"):
        workflow.enter_licence(
            person=tess, name="Wells", expires_on=date(2206, 1, 1), by=owner, now=NOW
        )


def test_each_person_sees_their_own_and_nobody_else_s(owner_client, tess, ivo):
    entered(owner_client, tess, "Wells", TODAY + 3 * DAY, number="W-7")
    left_out(owner_client, entered(owner_client, tess, "Old one", TODAY))
    entered(owner_client, ivo, "Backflow", TODAY)
    page = " ".join(signed_in(tess).get(reverse("account")).content.decode().split())
    assert "<strong>Wells</strong>, W-7: ends in 3 days, 13 June 2026" in page
    assert "Old one" not in page
    assert "Backflow" not in page
