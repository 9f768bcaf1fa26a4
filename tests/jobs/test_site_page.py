"""The page of a house: figures with their origin, promises with their reason, constant queries."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.models import FollowUpRule
from jobs.pages.site import closes
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def house(now):
    train = make.make_startup_train(injection="before", switching="current_relay")
    site, well = train.site, train.wells.get()
    make.make_measurement(
        well=well,
        quantity_key="total_depth",
        value=240,
        origin="state_record",
        entered="240",
        entered_unit="ft",
    )
    make.make_measurement(
        well=well, quantity_key="static_level", value=60, entered="60", entered_unit="ft"
    )
    make.make_measurement(
        site=site, quantity_key="iron", value=3.2, place="raw", entered="3.2", entered_unit="mg/L"
    )
    make.make_measurement(
        site=site,
        quantity_key="iron",
        value=0.05,
        comparator="<",
        place="tap",
        entered="< 0.05",
        entered_unit="mg/L",
    )
    make.make_setting(stage=train.stages.get(kind="feeder"), old_value=40, new_value=30)
    return site


def page_of(client, site):
    answer = client.get(reverse("site-detail", args=[site.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def test_figures_stand_with_unit_and_origin(dispatcher_client, house):
    page = page_of(dispatcher_client, house)
    assert "240" in page
    assert "state record" in page
    assert "Well, drawn to depth: static level 60 ft, bottom 240 ft" in page
    assert "pump setting" in page


def test_a_non_detect_is_shown_as_one_and_a_figure_above_its_limit_is_marked(
    dispatcher_client, house
):
    page = page_of(dispatcher_client, house)
    assert '<span class="pt nd">' in page
    assert '<span class="pt above"><span>3</span><span>.2</span></span>' in page
    assert "0.3, secondary (40 CFR 143.3)" in page


@pytest.mark.parametrize(
    ("ph", "is_marked"),
    [(6.4, True), (6.5, False), (8.5, False), (8.6, True)],  # 6.5 to 8.5: 40 CFR 143.3 (2024)
)
def test_ph_is_marked_on_both_sides_of_its_range(dispatcher_client, house, ph, is_marked):
    make.make_measurement(site=house, quantity_key="ph", value=ph, place="raw", entered=f"{ph}")
    whole, part = str(ph).split(".")
    marked = f'<span class="pt above"><span>{whole}</span><span>.{part}</span></span>'
    assert (marked in page_of(dispatcher_client, house)) == is_marked


@pytest.mark.parametrize(("tap", "column"), [("raw", "raw"), ("tap", "kitchen, cold")])
def test_laboratory_figures_stand_under_the_tap_they_were_taken_at(
    dispatcher_client, house, tap, column
):
    sample = make.make_sample(site=house, kind="annual", place=tap)
    make.make_measurement(
        sample=sample,
        quantity_key="nitrate",
        value=11,
        place=tap,
        entered="11",
        origin="laboratory",
    )
    page = page_of(dispatcher_client, house)
    assert f'data-of="{column}"><span class="pt above"><span>11</span>' in page


def test_a_corrected_reading_is_not_shown(dispatcher_client, house):
    wrong = make.make_measurement(
        site=house, quantity_key="ph", value=3.1, place="raw", entered="3.1"
    )
    make.make_measurement(
        site=house, quantity_key="ph", value=7.1, place="raw", entered="7.1", corrects=wrong
    )
    page = page_of(dispatcher_client, house)
    assert "<span>7</span><span>.1</span>" in page
    assert "<span>3</span><span>.1</span>" not in page


def test_notices_stand_on_top_with_what_lifts_them(dispatcher_client, house):
    make.make_notice(site=house)
    page = page_of(dispatcher_client, house)
    assert page.index("Do not drink the water") < page.index("in the order the water meets it")
    assert "Raw tap: 0 of 2 negative, 2 days or more apart" in page


def test_home_dialysis_stops_on_top_until_the_clinic_was_told(dispatcher_client, house):
    use = make.make_special_use(site=house)
    assert "Stop: home dialysis" in page_of(dispatcher_client, house)
    where = reverse("special-use-told", args=[use.pk])
    assert dispatcher_client.post(where, {"whom": "Nurse Adebayo, 555-0188"}).status_code == 302
    page = page_of(dispatcher_client, house)
    assert "Stop: home dialysis" not in page
    assert "Nurse Adebayo, 555-0188 told" in page


def test_former_holders_and_promises_say_until_when_and_why(dispatcher_client, house, now):
    former = make.make_customer(name="Ottilie Vandersteen")
    make.make_tenure(
        site=house,
        customer=former,
        from_on=date(2009, 1, 1),
        until_on=date(2021, 5, 3),
        is_contact=False,
    )
    make.make_follow_up(site=house, reason="the oxidant was set on 1 June 2026")
    page = page_of(dispatcher_client, house)
    assert "former owner until 3 May 2021" in page
    assert "The oxidant was set on 1 June 2026. Kept by the visit booked for it." in page


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (
            {"closing": "visit_closed_with", "closing_parameters": {"outcomes": ["stable"]}},
            "Kept by the visit booked for it that ends “stable, no change”.",
        ),
        ({"closing": "fill_recorded"}, "Kept by the next fill."),
        (
            {"closing": "result_entered", "closing_parameters": {"outcomes": ["negative"]}},
            "Kept by the laboratory’s result that says negative.",
        ),
        ({"closing": "acknowledged"}, "Kept by the word of a named person."),
    ],
)
def test_what_closes_a_promise_is_said_in_words(rule, said):
    assert closes(FollowUpRule(**rule)) == said


def test_a_technician_reads_houses_of_own_visits_only(technician, technician_client, house, now):
    from django.utils import timezone

    where = reverse("site-detail", args=[house.pk])
    assert technician_client.get(where).status_code == 404
    make.make_visit(
        job=make.make_job(site=house), lead=technician, starts_at=timezone.now() + timedelta(1)
    )
    answer = technician_client.get(where)
    assert answer.status_code == 200
    assert reverse("site-edit", args=[house.pk]) not in answer.content.decode()


@pytest.mark.parametrize("rows", [3, 300])
def test_queries_are_the_same_with_3_and_300_rows(
    dispatcher_client, dispatcher, house, now, django_assert_max_num_queries, rows
):
    lead = make.make_staff("technician")
    train = house.trains.get()
    feeder = train.stages.get(kind="feeder")
    rule = make.make_rule()
    for number in range(rows):
        at = now - timedelta(days=number + 1)
        make.make_measurement(site=house, quantity_key="ph", value=7, place="raw", measured_at=at)
        make.make_setting(stage=feeder, at=at)
        make.make_follow_up(rule=rule, site=house, subject_key=f"made:{number}")
    job = make.make_job(train=train)
    for number in range(min(rows, 40)):
        make.make_visit(
            job=job,
            lead=lead,
            starts_at=now - timedelta(days=number + 1),
            slots=False,
            outcome="incomplete_parts",
        )
    with django_assert_max_num_queries(18):
        page_of(dispatcher_client, house)
