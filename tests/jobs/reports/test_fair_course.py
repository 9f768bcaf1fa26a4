"""The share called back by day, what is drawn of it, and the row of ticks of a person."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.reports.fair_course import (
    CALLED,
    GONE,
    JUDGED,
    LOST,
    OPEN,
    RECENT,
    Ending,
    Tick,
    course_of,
    row_of_ticks,
    since_last,
)
from jobs.reports.limits import kaplan_meier

endings = st.lists(
    st.tuples(st.integers(0, 40), st.sampled_from([CALLED, LOST, OPEN]), st.integers(1, 5)),
    min_size=1,
    max_size=25,
).map(lambda rows: [Ending(*row) for row in rows])


@settings(max_examples=60, deadline=None, derandomize=True)
@given(endings)
def test_shares_add_up_and_agree_with_the_other_curve(rows):
    course = course_of(rows)
    for step in course.steps:
        assert min(step.called, step.lost) >= 0
        assert step.called + step.lost <= 1 + 1e-9
        assert step.low <= step.called + 1e-12
        assert step.called <= step.high + 1e-12
        assert step.called <= step.had_nobody_left + 1e-12
        single = [(row.day, row.how == CALLED) for row in rows for _ in range(row.jobs)]
        assert 1 - step.had_nobody_left == pytest.approx(kaplan_meier(single, step.day)[0])


def test_jobs_counted_together_are_as_good_as_one_by_one():
    rows = [Ending(9, CALLED, 3), Ending(20, LOST, 2), Ending(30, CALLED), Ending(90, OPEN, 14)]
    single = [Ending(row.day, row.how) for row in rows for _ in range(row.jobs)]
    assert course_of(rows) == course_of(single)


def test_the_curve_stops_where_fewer_than_ten_are_followed():
    rows = [Ending(5, CALLED), Ending(40, CALLED), Ending(50, OPEN, 3), Ending(90, OPEN, 9)]
    rows.append(Ending(60, CALLED))
    course = course_of(rows)
    assert course.followed == ((0, 15), (30, 14), (60, 10), (90, 9))
    assert course.stops_on == 61
    assert [step.day for step in course.drawn] == [5, 40, 60]
    assert course_of([*rows[:3], Ending(90, OPEN, 9)]).stops_on == 51
    nine_left = course_of([Ending(50, OPEN, 6), Ending(51, CALLED), Ending(90, OPEN, 8)])
    assert (nine_left.stops_on, nine_left.drawn) == (51, ())
    assert course_of([Ending(3, OPEN, 9)]).stops_on == 0
    assert course_of([]).stops_on == 0
    assert course_of([]).steps == ()


def test_a_step_holds_until_the_next():
    course = course_of([Ending(5, CALLED), Ending(40, CALLED), Ending(90, OPEN, 18)])
    assert course.at(4) is None
    assert course.at(5) == course.at(39) == course.steps[0]
    assert [
        step.day for step in course_of([Ending(5, CALLED), Ending(95, CALLED)], until=90).steps
    ] == [5]


def test_of_jobs_too_recent_the_callbacks_move_the_curve_and_the_others_wait():
    """Ten jobs of yesterday, two called back at once: followed one day, no more."""
    old = [Ending(10, CALLED), Ending(90, OPEN, 89)]
    course = course_of([*old, Ending(1, CALLED, 2), Ending(1, OPEN, 8)])
    assert course.at(1).called == pytest.approx(2 / 100)
    assert course.at(10).called == pytest.approx(0.02 + 0.98 / 90)


def test_a_row_of_ticks_is_in_the_order_of_handover():
    row = row_of_ticks(
        [(30, 3, JUDGED, False), (10, 1, JUDGED, True), (20, 2, GONE, False), (40, 4, RECENT, True)]
    )
    assert [tick.job for tick in row] == [1, 2, 3, 4]
    assert row[1] == Tick(2, GONE, False)


@pytest.mark.parametrize(
    ("marks", "expected"),
    [
        ("", (0, False)),
        ("....", (4, False)),
        ("..x..", (2, True)),
        ("x.-..", (3, True)),  # a lost job says nothing
        ("x.?.", (2, True)),  # a recent one says nothing yet
        ("...x", (0, True)),
        ("..!", (0, True)),  # called back before its window ended
        ("??", (0, False)),
    ],
)
def test_jobs_since_the_last_callback(marks, expected):
    states = {".": (JUDGED, False), "x": (JUDGED, True), "-": (GONE, False)}
    states |= {"?": (RECENT, False), "!": (RECENT, True)}
    ticks = [Tick(place, *states[mark]) for place, mark in enumerate(marks)]
    assert since_last(ticks) == expected


def test_the_last_day_that_is_asked_for_belongs_to_it():
    course = course_of([Ending(5, CALLED), Ending(95, CALLED)], until=95)
    assert [step.day for step in course.steps] == [5, 95]
