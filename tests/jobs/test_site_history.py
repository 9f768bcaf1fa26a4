"""A house over time: non-detects at their limit, corrections struck, units, access, queries."""

import re
from datetime import date, timedelta

import pytest
from django.urls import reverse
from django.utils import timezone

from jobs.drawings.course import course
from jobs.drawings.history import (
    FOOT,
    Days,
    Limit,
    Line,
    Living,
    Point,
    days_of,
    fills_chart,
    readings_chart,
    steps_chart,
)
from jobs.models import Company, StaffProfile
from jobs.pages.site_history import context_of
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = date(2026, 6, 10)


@pytest.fixture
def house():
    return make.make_startup_train(injection="before", switching="current_relay").site


@pytest.fixture
def feeder(house):
    return house.trains.get().stages.get(kind="feeder")


def iron(site, value, now, *, days=0, comparator="=", place="tap", **fields):
    entered = f"{value:g}" if comparator == "=" else f"{comparator} {value:g}"
    return make.make_measurement(
        site=site,
        quantity_key="iron",
        value=value,
        comparator=comparator,
        place=place,
        measured_at=now + timedelta(days=days),
        entered=entered,
        entered_unit="mg/L",
        **fields,
    )


def seen(site, system="us"):
    return context_of(site, today=TODAY, system=system)


def kind_of(context, key):
    return next(kind for kind in context["kinds"] if kind.key == key)


def page_of(client, site):
    answer = client.get(reverse("site-history", args=[site.pk]))
    assert answer.status_code == 200
    return answer.content.decode()


def centre(mark):
    """Where a round marker stands: its path begins at its left edge."""
    x, y, radius = re.match(r"M([\d.]+) ([\d.]+)a([\d.]+) ", mark.path).groups()
    return float(x) + float(radius), float(y)


# --- non-detects ------------------------------------------------------------------------------


def test_a_non_detect_stands_open_at_its_limit_and_never_at_zero(now):
    days = days_of([TODAY - timedelta(days=40)], TODAY)
    points = [
        Point(now - timedelta(days=30), 0.2),
        Point(now - timedelta(days=20), 0.2, "<"),
        Point(now - timedelta(days=10), 0.05, "<"),
    ]
    chart = readings_chart("Iron", [Line("Kitchen", points)], days)
    heights = [centre(mark)[1] for mark in chart.marks]
    assert [mark.is_open for mark in chart.marks] == [False, True, True]
    assert heights[0] == heights[1] < heights[2] < FOOT
    assert [kind for kind, _ in chart.lines] == ["join unsure", "join unsure"]
    assert "< 0.05 on 31 May 2026" in chart.spoken


def test_the_stem_points_to_where_the_true_figure_lies(now):
    days = days_of([TODAY], TODAY)
    points = [Point(now - timedelta(days=3), 5, "<"), Point(now, 5, ">")]
    below, above = readings_chart("Iron", [Line("Raw", points)], days, limits=[Limit(9, "x")]).marks
    ends = [
        [float(n) for n in re.match(r"M\S+ (\S+)V(\S+)", m.stem).groups()] for m in (below, above)
    ]
    assert ends[0][1] > ends[0][0]
    assert ends[1][1] < ends[1][0]


def test_the_page_draws_non_detects_open_and_says_so(dispatcher_client, house, now):
    iron(house, 0.3, now, days=-20)
    iron(house, 0.05, now, days=-5, comparator="<")
    page = page_of(dispatcher_client, house)
    assert page.count('class="mark open"') == 1
    assert "not found, drawn at the limit of the test" in page
    assert '<span class="pt nd">' in page


def test_a_test_too_coarse_for_the_limit_does_not_tell(house, now):
    iron(house, 0.5, now, comparator="<")  # 0.3 mg/L: 40 CFR 143.3 (2024)
    (reading,) = kind_of(seen(house), "iron").readings
    assert reading.state == ""
    assert "the test starts above the limit and does not tell" in reading.notes


# --- corrections ------------------------------------------------------------------------------


def test_a_corrected_reading_is_struck_with_what_corrects_it_and_is_not_drawn(
    dispatcher, dispatcher_client, house, now
):
    wrong = iron(house, 31, now, days=-10)
    iron(house, 3.1, now, days=-10, corrects=wrong, by=dispatcher)
    iron(house, 2.9, now, days=-2)
    page = page_of(dispatcher_client, house)
    struck = re.search(r'<tr class="struck">.*?</tr>', page, re.S)[0]
    assert "<s>" in struck
    assert "corrected to 3.1 mg/L on 31 May 2026, Dana Birch" in struck
    assert "corrects 31 mg/L" in page
    kind = kind_of(seen(house), "iron")
    assert len(kind.readings) == 3
    assert len(kind.charts[0].marks) == 2
    assert kind.undrawn == 1


def test_a_corrected_setting_is_struck_and_left_out_of_the_steps(
    dispatcher_client, house, feeder, now
):
    wrong = make.make_setting(stage=feeder, new_value=90, at=now - timedelta(days=9))
    make.make_setting(
        stage=feeder, new_value=40, old_value=60, at=now - timedelta(days=9), corrects=wrong
    )
    make.make_setting(stage=feeder, new_value=30, old_value=40, at=now - timedelta(days=2))
    (part,) = seen(house)["parts"]
    (chart,) = part.charts
    assert len(chart.marks) == 2
    assert len(part.settings) == 3
    assert '<tr class="struck">' in page_of(dispatcher_client, house)


def test_told_figures_stand_in_the_table_only(house, now):
    iron(house, 3, now, days=-9, origin="owner_says")
    iron(house, 3, now, days=-5)
    iron(house, 3, now, days=-1, origin="laboratory")
    kind = kind_of(seen(house), "iron")
    assert len(kind.readings) == 3
    assert len(kind.charts[0].marks) == 2


# --- limits -----------------------------------------------------------------------------------


def test_limits_are_lines_with_whose_they_are(house, now):
    for days in (-9, -1):
        iron(house, 3, now, days=days, place="raw")
        iron(house, 0.1, now, days=days)
        for place in ("raw", "tap"):
            make.make_measurement(
                site=house,
                quantity_key="ph",
                value=7,
                place=place,
                measured_at=now + timedelta(days=days),
            )
    raw, treated = kind_of(seen(house), "iron").charts
    # 0.3 mg/L iron, pH 6.5 to 8.5: secondary levels, 40 CFR 143.3 (2024)
    assert [limit.text for limit in raw.limits] == ["0.3 secondary"]
    assert raw.sources == ["0.3 secondary (40 CFR 143.3)"]
    assert [limit.text for limit in treated.limits] == ["0.3 secondary; ours at the tap"]
    ph = kind_of(seen(house), "ph").charts[0]
    assert [limit.text for limit in ph.limits] == ["8.5 secondary", "6.5 secondary"]


def test_the_companys_aim_is_drawn_for_the_oxidant_that_is_fed(house, now):
    for key in ("peroxide", "chlorine"):
        for days in (-9, -1):
            make.make_measurement(
                site=house,
                quantity_key=key,
                value=1,
                place="tap",
                measured_at=now + timedelta(days=days),
            )
    context = seen(house)
    peroxide = [limit.text for limit in kind_of(context, "peroxide").charts[0].limits]
    assert peroxide == [
        "10 ours, most to filter",
        "2 ours, least to filter",
        "0.5 ours behind carbon",
    ]
    chlorine = [limit.text for limit in kind_of(context, "chlorine").charts[0].limits]
    assert chlorine == ["4 largest residual level"]  # 40 CFR 141.65 (2024)


def test_water_of_a_disinfection_has_a_chart_of_its_own(house, now):
    for place, value in (("tap", 0.1), ("tap", 0), ("flush_high", 60), ("flush_low", 0.1)):
        make.make_measurement(
            site=house, quantity_key="chlorine", value=value, place=place, measured_at=now
        )
    titles = [chart.title for chart in kind_of(seen(house), "chlorine").charts]
    assert titles == ["Free chlorine: behind the system", "Free chlorine: while disinfecting"]


# --- axis, steps, band ------------------------------------------------------------------------


@pytest.mark.parametrize("length", [28, 45, 75, 120, 200, 400, 800, 2000, 5000, 12000])
def test_an_axis_has_two_to_five_round_days_inside_it(length):
    days = Days(TODAY - timedelta(days=length), TODAY)
    ticks = days.ticks()
    assert 2 <= len(ticks) <= 5
    assert all(days.left <= x <= days.right for x, _, _ in ticks)
    assert len({label for _, label, _ in ticks}) == len(ticks)


def test_a_setting_stays_level_until_it_changes(now):
    days = days_of([TODAY - timedelta(days=40)], TODAY)
    points = [Point(now - timedelta(days=30), 40), Point(now - timedelta(days=10), 20)]
    ((_, path),) = steps_chart("Dosing pump setting", points, days, before=60).lines
    assert re.fullmatch(r"M[\d. ]+(H[\d.]+V[\d.]+){2}H[\d.]+", path)
    start, first, second = re.findall(r"(?:V|^M[\d.]+ )([\d.]+)", path)
    assert float(start) < float(first) < float(second) < FOOT


@pytest.mark.parametrize(("was", "charts"), [(60, 1), (30, 0), (None, 0)])
def test_one_change_is_drawn_where_the_earlier_setting_is_known(house, feeder, was, charts):
    make.make_setting(stage=feeder, old_value=was, new_value=30)
    (part,) = seen(house)["parts"]
    assert len(part.charts) == charts


def test_between_fills_the_level_is_only_supposed(now):
    days = days_of([TODAY - timedelta(days=40)], TODAY)
    fills = [(now - timedelta(days=30), None, 12.0), (now - timedelta(days=3), 3.0, 12.0)]
    chart = fills_chart("Level", fills, days, unit="gal")
    assert [kind for kind, _ in chart.lines] == ["step", "join unsure"]
    assert "from 3 filled to 12 gal" in chart.spoken


def test_the_band_says_who_lived_there_and_keeps_two_holders_apart(now):
    days = Days(date(2024, 1, 1), TODAY)
    living = [
        Living("Ottilie Vandersteen", date(2010, 1, 1), date(2020, 1, 1)),
        Living("Ansel Quillon", date(2020, 1, 1), date(2025, 3, 1)),
        Living("Petra Marsh", date(2025, 3, 1), None),
        Living("Tenant Lodge", date(2025, 1, 1), None),
    ]
    band = readings_chart("Iron", [Line("Raw", [Point(now, 1)])], days, living=living).band
    assert [lane.name for lane in band] == ["Ansel Quillon", "Tenant Lodge", "Petra Marsh"]
    first, tenant, last = band
    assert first.x == days.left
    assert first.x + first.width == pytest.approx(last.x)
    assert first.y == last.y < tenant.y


# --- promises ---------------------------------------------------------------------------------


def test_a_promise_is_told_from_what_made_it_to_what_ended_it(
    dispatcher, dispatcher_client, house, now
):
    job = make.make_job(site=house, kind="recheck")
    visit = make.make_visit(job=job, starts_at=now + timedelta(days=14), outcome="stable")
    make.make_follow_up(
        site=house,
        status="done",
        visit=visit,
        details={"event": "startup_closed"},
        due_on=TODAY,
        ended_at=now + timedelta(days=14),
        ended_by=dispatcher,
        ended_reason="stable, no change",
    )
    make.make_follow_up(
        site=house, status="superseded", ended_at=now, ended_reason="newer: fill_recorded"
    )
    page = page_of(dispatcher_client, house)
    assert "a start-up is closed" in page
    assert "Done 24 Jun 2026" in page
    assert "stable, no change, Dana Birch" in page
    assert "14 days late" in page  # due on 10 June, window ends on 17 June
    assert "a newer one, as a fill is recorded" in page


def test_the_course_of_a_promise_runs_from_made_to_its_end(now):
    axis = Days(TODAY, TODAY + timedelta(days=40))
    drawn = course(
        axis,
        made=now,
        window=(TODAY + timedelta(days=7), TODAY + timedelta(days=21)),
        due=TODAY + timedelta(days=14),
        until=now + timedelta(days=14),
        state="done",
    )
    left, width = drawn.window
    assert drawn.made < left < drawn.due < left + width
    assert drawn.until == pytest.approx(drawn.due, abs=2)
    assert drawn.booked is None


# --- units, access, queries -------------------------------------------------------------------


def test_figures_stand_in_the_units_of_the_person(
    dispatcher, dispatcher_client, house, feeder, now
):
    well = house.wells.get()
    for days, flow in ((-9, 8.0), (-1, 7.0)):
        make.make_measurement(
            well=well,
            quantity_key="pump_flow",
            value=flow,
            entered=f"{flow:g}",
            entered_unit="gpm",
            measured_at=now + timedelta(days=days),
        )
    make.make_fill(stage=feeder, level_before_gal=3, level_after_gal=12)
    make.make_setting(stage=feeder)
    assert "<span>8</span><span></span>" in page_of(dispatcher_client, house)
    StaffProfile.objects.create(user=dispatcher, unit_system="metric")
    page = page_of(dispatcher_client, house)
    # 1 US gallon = 3.785412 L: NIST Handbook 44 (2024), Appendix C
    assert "<span>30</span><span>.28</span>" in page
    assert '45.42 <span class="u">L</span>' in page


def test_a_technician_sees_houses_of_own_visits_only(technician, technician_client, house):
    where = reverse("site-history", args=[house.pk])
    assert technician_client.get(where).status_code == 404
    job, tomorrow = make.make_job(site=house), timezone.now() + timedelta(days=1)
    make.make_visit(job=job, lead=technician, starts_at=tomorrow)
    assert technician_client.get(where).status_code == 200


def test_the_page_of_the_house_leads_there(owner_client, house):
    page = owner_client.get(reverse("site-detail", args=[house.pk])).content.decode()
    assert reverse("site-history", args=[house.pk]) in page


def test_an_empty_house_says_what_is_missing(dispatcher_client):
    page = page_of(dispatcher_client, make.make_site(with_holder=False))
    assert "No readings yet" in page
    assert "No setting and no fill was recorded yet." in page


def furnish(site, feeder, count, now):
    for number in range(count):
        wrong = iron(site, 30, now, days=-number)
        iron(site, 3, now, days=-number, corrects=wrong, place="raw")
        iron(site, 0.05, now, days=-number, comparator="<")
        make.make_setting(stage=feeder, new_value=number, at=now - timedelta(days=number))
        make.make_fill(
            stage=feeder, at=now - timedelta(days=number), level_before_gal=1, level_after_gal=9
        )
        sample = make.make_sample(site=site)
        make.make_measurement(sample=sample, quantity_key="nitrate", value=2, origin="laboratory")
        visit = make.make_visit(
            job=make.make_job(site=site),
            starts_at=now - timedelta(days=number),
            outcome="stable",
            slots=False,
        )
        make.make_follow_up(site=site, status="done", visit=visit, from_visit=visit)


def test_the_page_asks_the_same_few_questions_with_3_and_30_rows(
    dispatcher_client, house, feeder, now, django_assert_max_num_queries
):
    Company.load()
    counts = []
    for rows in (3, 27):
        furnish(house, feeder, rows, now)
        with django_assert_max_num_queries(20) as asked:
            page_of(dispatcher_client, house)
        counts.append(len(asked))
    assert counts[0] == counts[1]
