"""Chemicals put in, begun with what people did: a record is closed, tanks are filled."""

import csv
import io
from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import transaction
from django.urls import reverse

from equipment.models import Fill, StoredAssessment
from jobs.models import ChecklistRecord, LossFact
from jobs.models.company import company_day
from jobs.reports import chemicals
from jobs.workflows.fact_corrections import turn_off, turn_on, withdraw_loss
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.records import close_record
from tests.acts import booked, opened
from tests.conftest import NOW, signed_in
from tests.factories import make_staff, make_train, some_user
from tests.forms import filled
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db
DAYS = timedelta(days=1)
#: until the first day of the following year of the clock
LATER = NOW + 60 * DAYS


@pytest.fixture(scope="module")
def _closed(django_db_setup, django_db_blocker):
    """Closed once for all tests, each of which takes back what it adds."""
    with django_db_blocker.unblock(), transaction.atomic():
        record, visit, lead = make_ready()
        close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=5))
        yield record.pk, lead.pk
        transaction.set_rollback(True)


@pytest.fixture
def started(_closed, db, clock):
    """A start-up of today: the tank at 12 gal of 71.6 g/L, three people, set to 20 percent."""
    record, lead = _closed
    stage = ChecklistRecord.objects.get(pk=record).train.stages.get(kind="feeder")
    return stage, User.objects.get(pk=lead)


def fill_on_site(stage, who, clock, *, at=LATER, **typed):
    """A technician on a visit of that day, through the page of the tank."""
    booked(opened(stage.train, "refill", at=at), who, at=at)
    clock(at + timedelta(minutes=30))
    client = signed_in(who)
    sent = filled(client, "fill-new", stage) | {"filled_by": "company"} | typed
    answer = client.post(reverse("fill-new", args=[stage.pk]), sent)
    assert answer.status_code == 302, answer.context["form"].errors
    return Fill.objects.order_by("pk").last()


def page(owner, name="chemicals", **words):
    answer = signed_in(owner).get(reverse(name), words)
    assert answer.status_code == 200
    return answer


def said(owner, name="chemicals", **words):
    return " ".join(page(owner, name, **words).content.decode().split())


def only(owner, **words):
    """The tank of the dosing pump; a start-up puts salt into the softener too."""
    return solution(page(owner, **words).context["report"])


def solution(report):
    (house,) = (house for house in report.houses if not house.is_salt)
    return house


def test_without_a_closed_record_nothing_is_expected(clock, owner):
    """Before all that need one: it stands until the last of them."""
    stage = make_train(stages=("feeder",)).stages.get()
    who = make_staff("technician")
    _pour(stage, who, NOW - 60 * DAYS, strength_g_l=71.6)
    _pour(stage, who, NOW, strength_g_l=71.6)
    text = said(owner)
    assert "No closed record says what is fed" in text
    assert "1 fill, newest first" not in text
    assert "2 fills, newest first" in said(owner, "chemicals-fills", only="not_compared")


def test_a_fill_of_a_technician_stands_beside_what_dose_and_water_say(started, clock, owner):
    """By hand, from the start-up alone: 26 mL in 180 s were drawn at 20 percent, which is left.

    Water: 3 people x 75 gal = 225 gal; the well pump gives 8 gpm, so it runs 28.125 min a day and
    draws 26 / 3 x 28.125 = 243.75 mL of 71.6 g/L: 17.45 g a day, 1.047 kg in sixty days.
    Used: 12 to 4 gal, 8 x 3.7854 L x 71.6 g/L = 2.168 kg. Quotient 2.07: outside.
    """
    stage, lead = started
    fill_on_site(stage, lead, clock, level_before_gal="4", product_gal="8", level_after_gal="12")
    house = only(owner)
    assert house.sum.used == pytest.approx(2.168, abs=0.001)
    assert house.sum.expected == pytest.approx(60 * 26 / 3 * 28.125 * 71.6e-6, rel=1e-3)
    assert (house.sum.fills, house.sum.compared, house.sum.days) == (2, 1, 60)
    assert house.quotient == pytest.approx(2.07, abs=0.01)
    text = said(owner)
    assert "<b>1 tank</b> used less than half or more than twice" in text
    assert "It is no verdict on whoever filled the tank." in text
    assert "outside half to twice" in text
    assert "First fill on file" in text, "the start-up, and why it is not compared"
    listed = said(owner, "chemicals-fills", tank=stage.pk, only="compared")
    assert "1 fill, newest first" in listed
    assert "in 225 gal a day" in listed


def test_what_was_put_in(started, clock, owner):
    """12 gal at the start-up and 8 of half the strength: 3.252 + 1.084 kg of oxidant (by hand)."""
    stage, lead = started
    fill_on_site(
        stage,
        lead,
        clock,
        level_before_gal="4",
        product_gal="4",
        water_gal="4",
        strength_g_l="35.8",
        level_after_gal="12",
    )
    house = only(owner)
    assert (house.sum.volume_gal, house.strengths) == (20, (35.8, 71.6))
    assert house.sum.amount == pytest.approx(3.252 + 1.084, abs=0.002)


def test_what_was_poured_away_is_counted(started, clock, owner):
    stage, lead = started
    fill_on_site(stage, lead, clock, level_before_gal="5", product_gal="12", level_after_gal="12")
    assert only(owner).sum.away_gal == 5
    assert "5.0 gal poured away" in said(owner)
    assert "1 fill, newest first" in said(owner, "chemicals-fills", only="away")


def test_each_person_has_the_own_fills_and_the_household_its_own(started, clock, owner):
    stage, lead = started
    other = make_staff("technician", first_name="Ada", last_name="Quill")
    levels = {"level_before_gal": "9", "product_gal": "3", "level_after_gal": "12"}
    fill_on_site(stage, other, clock, at=NOW + 20 * DAYS, **levels)
    fill_on_site(stage, lead, clock, at=NOW + 40 * DAYS, filled_by="customer", **levels)
    people = page(owner).context["report"].people
    assert [(who.name, who.oxidant.fills, who.oxidant.compared) for who in people] == [
        ("Alder, Tess", 1, 0),
        ("Quill, Ada", 1, 1),
        ("household", 1, 1),
    ]
    assert "In alphabetical order, not ranked" in said(owner)
    assert all(who.quotient is None for who in people), "ten compared fills are asked for"
    listed = said(owner, "chemicals-fills", person=other.pk)
    assert "1 fill, newest first" in listed
    assert "Quill" in listed


def test_from_ten_compared_fills_on_a_person_has_a_quotient(started, owner, clock):
    stage, lead = started
    for week in range(1, 11):
        assert chemicals.report(_all()).people[0].quotient is None, week
        _pour(stage, lead, NOW + week * 7 * DAYS, before=11.7)
    (who,) = chemicals.report(_all()).people
    assert who.quotient == pytest.approx(who.oxidant.used / who.oxidant.expected)


def _all(**words):
    day = company_day(NOW)
    return chemicals.Asked(day - 400 * DAYS, day + 400 * DAYS, **words)


def _pour(stage, who, at, *, before=9.0, **poured):
    told = {"product_gal": 12 - before, "level_before_gal": before, "level_after_gal": 12}
    return record_fill(stage=stage, poured=Poured(at=at, **{**told, **poured}), by=who, now=at)


def test_fewer_than_thirty_days_make_no_quotient(started, clock, owner):
    stage, lead = started
    _pour(stage, lead, NOW + 29 * DAYS)
    assert only(owner).is_short
    assert "Fewer than 30 days compared." in said(owner)
    _pour(stage, lead, NOW + 30 * DAYS)
    assert only(owner).quotient


@pytest.mark.parametrize(("times", "outside"), [(0.49, 1), (0.51, 0), (1.98, 0), (2.02, 1)])
def test_half_and_twice_are_the_bounds(started, times, outside):
    """In eighty days 1.396 kg are expected, 5.15 gal of 71.6 g/L (the sum of the first test)."""
    stage, lead = started
    _pour(stage, lead, NOW + 80 * DAYS, before=12 - 80 * 0.243750 / 3.785412 * times)
    assert chemicals.report(_all()).outside == outside


def test_houses_outside_stand_first_and_the_rest_by_address(started, clock, owner):
    stage, lead = started
    salt = make_train(stages=("softener",))
    salt.site.street = "1 Aaron Street"
    salt.site.save()
    _pour(
        salt.stages.get(),
        lead,
        NOW,
        product_gal=None,
        level_before_gal=None,
        level_after_gal=None,
        salt_lb=40,
    )
    _pour(stage, lead, LATER, before=0)
    houses = page(owner).context["report"].houses
    assert [house.is_salt for house in houses] == [False, True, True]


def test_a_year_is_a_year(started, clock, owner):
    """What is filled on the last day belongs to it, and the fill before it is still known."""
    stage, lead = started
    new_year = NOW.replace(month=12, day=31, hour=20)
    _pour(stage, lead, new_year)
    _pour(stage, lead, new_year + 40 * DAYS)
    clock(new_year + 50 * DAYS)
    first = only(owner, since="2026-01-01", until="2026-12-31")
    second = only(owner)
    assert [first.sum.fills, second.sum.fills] == [2, 1]
    assert second.sum.compared == 1, "since the fill of the old year"
    assert "?since=2026-01-01&amp;until=2026-12-31" in said(owner)


def test_a_day_off_is_not_expected_to_use_anything(started, owner, clock):
    stage, lead = started
    office, day = some_user(), company_day(NOW)
    for first, last in ((5, 15), (20, 55)):
        at = NOW + first * DAYS
        turn_off(
            train=stage.train, on=day + first * DAYS, reason="away for a while", by=office, now=at
        )
        turn_on(train=stage.train, on=day + last * DAYS, by=office, now=NOW + last * DAYS)
    _pour(stage, lead, LATER)
    house = solution(chemicals.report(_all()))
    assert (house.sum.days, house.off_days) == (15, 45)
    clock(LATER)
    assert "Off 45 days, not counted." in said(owner)


def test_off_by_mistake_is_no_day_off(started, owner):
    stage, lead = started
    at = NOW + 5 * DAYS
    turn_off(
        train=stage.train, on=company_day(at), reason="away for a while", by=some_user(), now=at
    )
    row = LossFact.objects.standing().get(train=stage.train)
    withdraw_loss(row=row, reason="another house was meant", by=owner, now=at + DAYS)
    _pour(stage, lead, LATER)
    house = solution(chemicals.report(_all()))
    assert (house.sum.days, house.off_days) == (60, 0)


def test_a_strength_left_out_is_the_one_on_file(started):
    """The form says: empty, as it was."""
    stage, lead = started
    _pour(stage, lead, LATER)
    house = solution(chemicals.report(_all()))
    assert house.strengths == (71.6,)
    assert not house.sum.unweighed


def test_salt_against_the_month_of_the_record(started, clock, owner):
    """The record worked out pounds in a month of 30.44 days; 61 days later 60 lb are put in.

    What the start-up put in itself is the first fill, and in the sum.
    """
    stage, lead = started
    softener = stage.train.stages.get(kind="softener")
    bare = {"product_gal": None, "level_before_gal": None, "level_after_gal": None}
    _pour(softener, lead, NOW + 61 * DAYS, **bare, salt_lb=60)
    month = StoredAssessment.objects.get(name="softener").results["salt_per_month"]["value"]
    house = next(house for house in chemicals.report(_all()).houses if house.is_salt)
    assert (house.sum.fills, house.sum.compared, house.sum.used) == (2, 1, 60)
    first = Fill.objects.filter(stage=softener).order_by("at").first().salt_lb
    assert house.sum.amount == first + 60
    assert house.sum.expected == pytest.approx(month * 61 / 30.4375)
    clock(NOW + 70 * DAYS)
    assert f'{first + 60:.0f} <span class="u">lb</span>' in said(owner)


def test_files_hold_the_lines_of_the_page(started, clock, owner):
    stage, lead = started
    fill_on_site(stage, lead, clock, level_before_gal="4", product_gal="8", level_after_gal="12")
    for of, lines in (("houses", 2), ("fills", 3)):
        answer = page(owner, "chemicals-file", of=of, **{"as": "csv"})
        above, _, rest = answer.content.decode("utf-8-sig").partition("\n")
        assert "no verdict" in above
        rows = list(csv.DictReader(io.StringIO(rest, newline="")))
        assert len(rows) == lines
    assert (rows[0]["Solution, gal"], rows[0]["Level before, gal"]) == ("8.0", "4.0")
    assert float(rows[0]["Used"]) == pytest.approx(2.168, abs=0.001)
    assert page(owner, "chemicals-file", **{"as": "xlsx"}).content[:2] == b"PK"


@pytest.mark.parametrize("words", [{"as": "pdf"}, {"of": "everything"}, {"since": "x"}])
def test_an_unknown_file_is_refused(owner, words):
    assert signed_in(owner).get(reverse("chemicals-file"), words).status_code == 400


@pytest.mark.parametrize("name", ["chemicals", "chemicals-fills"])
def test_days_the_wrong_way_round_are_refused(owner, name):
    words = {"since": "2026-05-01", "until": "2026-04-01"}
    assert signed_in(owner).get(reverse(name), words).status_code == 422


def test_the_house_and_the_report_lead_there(started, clock, owner):
    stage, _ = started
    site = stage.train.site_id
    house = signed_in(owner).get(reverse("site-detail", args=[site])).content.decode()
    address = f"{reverse('chemicals-fills')}?house={site}"
    assert address in house
    assert reverse("chemicals") in signed_in(owner).get(reverse("callbacks")).content.decode()
    assert f"Fills at {stage.train.site}" in said(owner, "chemicals-fills", house=site)


def test_questions_stay_as_many_at_a_hundred_times_the_fills(
    started, clock, owner, django_assert_max_num_queries
):
    """Three houses with a fill each, then thirty with ten."""
    _, lead = started
    counted = []
    for houses, fills in ((3, 1), (30, 10)):
        for _ in range(houses):
            stage = make_train(stages=("feeder",)).stages.get()
            for day in range(fills):
                _pour(stage, lead, NOW - day * DAYS)
        client = signed_in(owner)
        for name in ("chemicals", "chemicals-fills"):
            with django_assert_max_num_queries(12) as asked:
                assert client.get(reverse(name)).status_code == 200
            counted.append(len(asked))
    assert counted[:2] == counted[2:]
