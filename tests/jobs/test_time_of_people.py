"""Time away: what booking refuses, who reads why, and clocks that change."""

import re
from datetime import UTC, date, datetime, time, timedelta

import pytest
from django.urls import reverse

from jobs.errors import BadEntry
from jobs.models import Absence, LogEntry, OutboxMail, Visit
from jobs.schedule.free_times import at_hour
from jobs.schedule.working_time import span_words
from jobs.workflows import absences
from jobs.workflows.absences import Away
from tests.acts import booked, moved, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_site, make_staff, make_train
from tests.jobs.people_at_work import TODAY, TOMORROW, errors, goes_away, send, typed

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


# --- away ----------------------------------------------------------------------------------------


def test_who_is_away_is_refused_at_the_field_and_nothing_typed_is_lost(
    dispatcher_client, lead, other, site
):
    goes_away(dispatcher_client, lead, TOMORROW, TOMORROW + timedelta(days=4))
    answer = send(dispatcher_client, site, typed(lead))
    said = "Tess Alder is away, Thursday 11 June 2026 to Monday 15 June 2026"
    assert answer.status_code == 422
    assert said in errors(answer, "lead")
    assert "smell is back" in answer.content.decode()
    helped = send(dispatcher_client, site, typed(other, helper=lead.pk))
    assert said in errors(helped, "helper")
    assert not Visit.objects.exists()
    assert send(dispatcher_client, site, typed(other)).status_code == 302


def test_a_visit_is_not_moved_into_time_away_and_may_be_moved_out_of_it(
    dispatcher_client, lead, other
):
    at = at_hour(TOMORROW, 9)
    visit = booked(opened(make_train()), lead, at=at, now=NOW)
    goes_away(dispatcher_client, lead, TOMORROW)
    with pytest.raises(BadEntry, match="Tess Alder is away"):
        moved(visit, at=at + timedelta(hours=2))
    visit = moved(visit, at=at, lead=other)
    assert visit.lead == other
    with pytest.raises(BadEntry, match="Tess Alder is away") as refused:
        moved(visit, at=at, lead=lead)
    assert refused.value.field == "lead"


def test_what_stands_in_time_away_may_be_told_other_hours(dispatcher_client, lead):
    """Who went away left it standing; nothing of who and when changes."""
    at = at_hour(TOMORROW, 9)
    visit = booked(opened(make_train()), lead, at=at, hours=2, now=NOW)
    goes_away(dispatcher_client, lead, TOMORROW)
    told = {"arrive_from": at, "arrive_until": at + timedelta(hours=2)}
    assert moved(visit, at=at, hours=2, **told).arrive_until == at + timedelta(hours=2)


def test_half_a_day_away_leaves_the_other_half(dispatcher_client, lead, site):
    goes_away(dispatcher_client, lead, TOMORROW, from_at="13:00", kind="course")
    assert send(dispatcher_client, site, typed(lead, start="14:00")).status_code == 422
    assert send(dispatcher_client, site, typed(lead, start="09:00")).status_code == 302
    assert span_words(Absence.objects.get()) == "Thursday 11 June 2026, 13:00 to 24:00"


def test_absence_on_a_day_with_visits_opens_who_takes_these(dispatcher_client, lead):
    train = make_train(site=make_site(street="8 Lapwick Row"))
    booked(opened(train), lead, at=at_hour(TOMORROW, 9), now=NOW)
    before = OutboxMail.objects.count()
    answer = goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    page = dispatcher_client.get(answer.url).content.decode()
    assert answer.url == reverse("absence", args=[Absence.objects.get().pk])
    assert "8 Lapwick Row" in page
    assert OutboxMail.objects.count() == before
    empty = goes_away(dispatcher_client, lead, TOMORROW + timedelta(days=1), kind="ill")
    assert empty.url == reverse("people-time")


@pytest.mark.parametrize(
    ("changed", "field", "said"),
    [
        ({"until_on": TODAY.isoformat()}, "until_on", "end must come after the beginning"),
        ({"until_on": "2028-01-01"}, "until_on", "At most 400 days"),
        ({"from_on": "2026-01-01"}, "from_on", "At most 60 days back"),
        ({"kind": ""}, "kind", "Choose one of these"),
        ({"kind": "holiday"}, "kind", "Choose one of those offered"),
        ({"until_at": "09:00", "from_at": "10:00"}, "until_on", "end must come after"),
    ],
)
def test_time_away_that_cannot_be_is_refused_at_its_field(
    dispatcher_client, lead, changed, field, said
):
    answer = goes_away(dispatcher_client, lead, TOMORROW.isoformat(), **changed)
    assert answer.status_code == 422
    assert said in errors(answer, field)
    assert not Absence.objects.exists()


def test_the_same_time_is_not_entered_twice_and_is_made_longer_instead(dispatcher_client, lead):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    again = goes_away(dispatcher_client, lead, TOMORROW, TOMORROW + timedelta(days=1), kind="ill")
    assert "is away then already" in errors(again, "from_on")
    row = Absence.objects.get()
    sent = {"kind": "ill", "from_on": TOMORROW, "until_on": TOMORROW + timedelta(days=1)}
    dispatcher_client.post(reverse("absence-change", args=[row.pk]), sent)
    row.refresh_from_db()
    assert row.ends_at == at_hour(TOMORROW + timedelta(days=1), 24)
    kept = LogEntry.objects.get(verb="absence_changed")
    assert kept.data["was"]["ends"] == at_hour(TOMORROW, 24).astimezone(UTC).isoformat()


def test_who_comes_after_all_can_be_booked_again(dispatcher_client, lead, site):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill")
    row = Absence.objects.get()
    dispatcher_client.post(reverse("absence-end", args=[row.pk]), {"once": "one-opening"})
    assert send(dispatcher_client, site, typed(lead)).status_code == 302
    assert LogEntry.objects.filter(verb="absence_ended", by__isnull=False).count() == 1
    twice = dispatcher_client.post(reverse("absence-end", args=[row.pk]), {"once": "one-opening"})
    assert twice.status_code == 404


def test_who_comes_back_early_was_away_until_then(dispatcher, dispatcher_client, lead, clock):
    goes_away(dispatcher_client, lead, TODAY, TODAY + timedelta(days=3))
    later = NOW + timedelta(days=1)
    clock(later)
    signed_in(dispatcher).post(
        reverse("absence-end", args=[Absence.objects.get().pk]), {"once": "back"}
    )
    row = Absence.objects.standing().get()
    assert (row.starts_at, row.ends_at) == (at_hour(TODAY, 0), later)


def test_the_reason_stands_only_where_who_plans_reads_it(dispatcher_client, lead):
    goes_away(dispatcher_client, lead, TOMORROW, kind="ill", note="hospital until Friday")
    on = {"on": TOMORROW.isoformat()}
    for name in ("day", "week", "day-sheet"):
        page = dispatcher_client.get(reverse(name), on).content.decode()
        assert re.search(r">\s*away", page), name
        assert "hospital" not in page
        assert not re.search(r"\bill\b", page)
    free = dispatcher_client.get(reverse("visit-free"), {"day": TOMORROW.isoformat()})
    assert "away" in free.content.decode()
    assert "hospital" not in free.content.decode()
    planner = dispatcher_client.get(reverse("absence", args=[Absence.objects.get().pk]))
    assert "hospital until Friday" in planner.content.decode()
    assert "hospital" not in str(list(LogEntry.objects.values_list("data", "reason")))


def test_a_visit_in_time_away_wants_a_decision(dispatcher_client, lead):
    booked(opened(make_train()), lead, at=at_hour(TOMORROW, 9), now=NOW)
    goes_away(dispatcher_client, lead, TOMORROW)
    page = dispatcher_client.get(reverse("day"), {"on": TOMORROW.isoformat()}).content.decode()
    assert "Tess Alder is away: 1 visit" in " ".join(page.split())


# --- days of the company, clocks ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("first", "last", "begins", "hours"),
    [
        # clocks go forward on 8 March 2026 and back on 1 November 2026 (Energy Policy Act of
        # 2005, section 110): such a day has 23 or 25 hours
        (date(2026, 3, 8), date(2026, 3, 8), datetime(2026, 3, 8, 5, tzinfo=UTC), 23),
        (date(2026, 11, 1), date(2026, 11, 1), datetime(2026, 11, 1, 4, tzinfo=UTC), 25),
        (date(2026, 6, 11), date(2026, 6, 12), datetime(2026, 6, 11, 4, tzinfo=UTC), 48),
        (date(2026, 12, 31), date(2027, 1, 1), datetime(2026, 12, 31, 5, tzinfo=UTC), 48),
    ],
)
def test_whole_days_away_by_the_clock_on_the_wall(lead, first, last, begins, hours):
    starts_at, ends_at = Away("leave", first, last).span
    assert starts_at == begins
    assert ends_at - starts_at == timedelta(hours=hours)


def test_away_over_midnight_holds_both_days(dispatcher, lead):
    away = Away("other", TOMORROW, TOMORROW + timedelta(days=1), time(22), time(6))
    row = absences.enter_absence(person=lead, away=away, by=dispatcher, now=NOW)
    assert row.ends_at - row.starts_at == timedelta(hours=8)
    assert span_words(row) == "Thursday 11 June 2026, 22:00 to Friday 12 June 2026, 06:00"
    with pytest.raises(BadEntry, match="is away"):
        booked(opened(make_train()), lead, at=at_hour(TOMORROW + timedelta(days=1), 5), now=NOW)
    booked(opened(make_train()), lead, at=at_hour(TOMORROW + timedelta(days=1), 6), now=NOW)
