"""The three answers, on own regression sets and on what would fool the owner."""

import math
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.reports.fair_answer import (
    ALPHA,
    FEW,
    LOOK,
    NOTHING,
    OWN,
    answer_of,
    own_period,
    shared_cause,
    verdict_day,
    verdict_period,
)
from jobs.reports.fair_exact import (
    NODES,
    Tails,
    distribution,
    largest_bound,
    spread_of,
    tail_of,
    tails,
)
from jobs.reports.fair_guess import best_guess, pulled_in, strength_of, true_spread
from jobs.reports.fair_limits import odds_limits, odds_ratio
from jobs.reports.fair_power import _found, _laid, _rates, power_of
from jobs.reports.fair_table import Class, Table, matched, table_of
from tests.jobs.reports.fair_tables import F1, F2, F3, F4, F5, table

STEADY = settings(max_examples=25, deadline=None, derandomize=True)


def plain_p(person, spread=0.0):
    return tail_of(person.classes, spread, person.called)


def test_f1_the_worse_crude_rate_is_below_what_the_others_would_have():
    a, b = matched(table(F1))
    assert (a.called / a.jobs, b.called / b.jobs) == (0.12, 0.08)
    assert (a.expected, b.expected) == (8.5, 1.5)
    assert a.called / a.expected == pytest.approx(0.71, abs=5e-3)
    assert b.called / b.expected == pytest.approx(2.67, abs=5e-3)
    assert (plain_p(a), plain_p(b)) == pytest.approx((0.867, 0.387), abs=5e-4)
    answer = answer_of(table(F1))
    assert answer.kind == FEW
    assert answer.named == ()


def test_f2_what_only_he_does_is_compared_with_nobody():
    """An expected number with his own jobs in it would give 1.00 in the class that is his."""
    a, b, c = matched(table(F2))
    assert (a.jobs, a.called, a.unmatched_jobs, a.unmatched_called) == (10, 1, 30, 6)
    assert a.expected == pytest.approx(0.444, abs=5e-4)
    assert plain_p(a) == pytest.approx(0.416, abs=5e-4)
    assert (b.unmatched_jobs, c.unmatched_jobs) == (0, 0)
    assert answer_of(table(F2)).kind == FEW
    worse = [[(30, 30), (10, 1)], *F2[1:]]
    assert plain_p(matched(table(worse))[0]) == plain_p(a)


def test_f3_one_of_four_stands_out():
    people = matched(table(F3))
    assert people[0].called == 14
    assert people[0].expected == pytest.approx(3.00, abs=5e-3)
    spread = spread_of(people[0], 0.2)
    assert spread == pytest.approx(0.231, abs=5e-4)
    assert plain_p(people[0]) == pytest.approx(9.6e-5, abs=5e-7)
    assert plain_p(people[0], 0.2) == pytest.approx(3.05e-4, abs=5e-7)
    assert plain_p(people[0], spread) == pytest.approx(4.19e-4, abs=5e-7)
    assert odds_ratio(people[0].classes) == pytest.approx(6.18, abs=5e-3)
    low, high = odds_limits(people[0].classes)
    assert (low, high) == (pytest.approx(2.45, abs=5e-3), pytest.approx(16.2, abs=0.05))
    answer = answer_of(table(F3))
    assert answer.kind == LOOK
    assert [person.key for person in answer.named] == ["A"]
    assert answer.named[0].guess == pytest.approx(1.85, abs=5e-3)


def test_f4_without_a_callback_nothing_can_be_told():
    answer = answer_of(table(F4))
    assert answer.kind == FEW
    assert [person.p for person in answer.people] == [1.0] * 4
    assert answer.factor is None
    assert answer.missed == 1.0


def test_f5_one_person_has_nobody_to_be_compared_with():
    answer = answer_of(table(F5))
    assert answer.kind == FEW
    assert answer.tested == ()
    assert answer.missed is None
    [person] = answer.people
    assert (person.jobs, person.unmatched_jobs, person.expected) == (25, 25, None)


def test_nothing_seen_needs_enough_jobs_of_everybody():
    enough = [[(40, 5), (110, 12)] for _ in range(4)]
    answer = answer_of(table(enough))
    assert answer.kind == NOTHING
    assert answer.factor <= 3
    assert 0 < answer.missed < 1
    with_a_beginner = [*enough, [(5, 0), (10, 1)]]
    answer = answer_of(table(with_a_beginner))
    assert answer.kind == FEW
    assert answer.seen_at_triple == 4


def test_fewer_than_ten_matched_jobs_are_counted_for_the_others_and_not_judged():
    answer = answer_of(table([[(9, 9)], [(40, 2)], [(40, 1)]]))
    nine, forty, _ = answer.people
    assert (nine.p, nine.expected, nine.guess, nine.stands_out) == (None, None, None, False)
    assert forty.expected == pytest.approx(40 * 10 / 49)
    assert answer_of(table([[(10, 10)], [(40, 2)], [(40, 1)]])).people[0].stands_out


def test_a_period_of_ones_own_gives_counts_and_no_answer():
    answer = own_period(table(F3))
    assert answer.kind == OWN
    assert [person.p for person in answer.people] == [None] * 4
    assert answer.named == ()
    assert answer.missed is None
    assert answer.people[0].expected == pytest.approx(3.0, abs=5e-3)
    assert answer.people[0].guess == pytest.approx(1.85, abs=5e-3)


def test_opening_it_every_week_yields_no_new_answer():
    """Fifty-two looks a year fall on two verdict days, each with one period."""
    looks = [date(2026, 1, 1) + timedelta(days=7 * week) for week in range(52)]
    days = {verdict_day(look) for look in looks}
    assert days == {date(2026, 1, 1), date(2026, 7, 1)}
    assert {verdict_period(day) for day in days} == {
        (date(2023, 10, 4), date(2025, 10, 3)),
        (date(2024, 4, 3), date(2026, 4, 2)),
    }
    assert verdict_day(date(2026, 6, 30)) == date(2026, 1, 1)
    assert verdict_day(date(2026, 12, 31)) == date(2026, 7, 1)
    assert verdict_day(date(2026, 7, 1)) == date(2026, 7, 1)


def test_a_period_that_would_begin_on_the_leap_day_begins_a_day_later():
    assert verdict_period(date(2028, 5, 28), 90) == (date(2026, 3, 1), date(2028, 2, 28))


@pytest.mark.parametrize(
    ("causes", "found"),
    [
        ({"E_equipment": 10, "A_leak": 4}, ("E_equipment", 10)),
        ({"E_equipment": 7, "A_leak": 7}, ("E_equipment", 7)),
        ({"E_equipment": 6, "A_leak": 8}, None),
        ({"A_leak": 14}, None),
        ({"B_low": 14}, None),
        ({"L_unknown": 14}, None),
        ({"not_coded": 2}, None),
        ({"E_equipment": 1}, None),
        ({}, None),
    ],
)
def test_one_bad_delivery_is_said_before_anybodys_jobs(causes, found):
    assert shared_cause(causes) == found


def test_the_bound_uses_the_steps_of_each_persons_own_row():
    """Own example after Tarone: of three people one cannot reach the level at all."""
    steps = [Tails(0, (1.0, 0.3, 0.02, 0.001)), Tails(0, (1.0, 0.2)), Tails(0, (1.0, 0.01))]
    assert largest_bound(steps, 0.025) == 0.01
    assert largest_bound(steps, 0.03) == 0.02
    assert largest_bound(steps, 0.0009) == 0.0
    assert largest_bound([], 0.025) == 0.0


def test_people_alike_reach_a_step_together_or_not_at_all():
    """Four equal rows: at 0.008 each their sum is 0.032, so the bound stays at the step below."""
    alike = [Tails(0, (1.0, 0.008 * (1 + place * 1e-15), 0.001)) for place in range(4)]
    assert largest_bound(alike, 0.025) == 0.001
    assert largest_bound(alike, 0.033) == pytest.approx(0.008)
    assert all(row.row[1] <= largest_bound(alike, 0.033) for row in alike)
    people = matched(table([[(15, 2), (30, 1), (15, 0)]] * 4))
    rows = [tails(person.classes, 0.2) for person in people]
    bound = largest_bound(rows, ALPHA)
    assert sum(max((p for p in row.row if p <= bound), default=0.0) for row in rows) <= ALPHA


def test_with_the_bound_equals_are_flagged_in_no_more_than_alpha():
    people = matched(table(F3))
    rows = [tails(person.classes, 0.2) for person in people]
    bound = largest_bound(rows, ALPHA)
    assert bound >= ALPHA / len(rows) / 3
    reached = sum(max((p for p in row.row if p <= bound), default=0.0) for row in rows)
    assert reached <= ALPHA


rows_of_jobs = st.lists(
    st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=3),
    min_size=2,
    max_size=4,
)


@STEADY
@given(rows_of_jobs)
def test_everybodys_jobs_are_matched_or_named(rows):
    rows = [[(max(pair), min(pair)) for pair in row] for row in rows]
    whole = table(rows)
    for person, own in zip(matched(whole), rows, strict=True):
        assert person.jobs + person.unmatched_jobs == sum(jobs for jobs, _ in own)
        assert person.called + person.unmatched_called == sum(called for _, called in own)
        if person.classes:
            assert 0 < person.concentration <= 1 + 1e-12
            assert 0 < plain_p(person) <= 1
    answer = answer_of(whole)
    assert [person.key for person in answer.people] == list(whole.people)


@STEADY
@given(rows_of_jobs, st.sampled_from([0.0, 0.2]))
def test_fewest_callbacks_that_are_found_is_the_first_of_all(rows, tau):
    """Halving the interval finds what a walk from one upwards finds."""
    rows = [[(max(pair), min(pair)) for pair in row] for row in rows]
    for person in matched(table(rows)):
        if not person.tested:
            continue
        rates, spread, found = _rates(person), spread_of(person, tau), None
        for count in range(1, person.jobs + 1):
            if tail_of(_laid(count, person.classes, rates), spread, count) <= 0.005:
                found = count
                break
        power = power_of(person, tau=tau, level=0.005)
        assert power.critical == found
        if found is None:
            continue
        assert power.doubling <= power.tripling
        assert power.doubling == pytest.approx(_found(person, rates, 2, found))
        assert power.tripling == pytest.approx(_found(person, rates, 3, found))
        if power.factor is not None:
            assert _found(person, rates, power.factor, found) >= 0.8
            assert power.factor == 1.25 or _found(person, rates, power.factor - 0.25, found) < 0.8


def test_callbacks_are_laid_where_they_would_fall():
    [person, _] = matched(table([[(40, 0), (60, 0)], [(100, 10), (100, 5)]]))
    laid = _laid(14, person.classes, [0.10, 0.05])
    assert [each.called for each in laid] == [8, 6]
    assert [each.called for each in _laid(99, person.classes, [0.10, 0.05])] == [40, 59]
    assert sum(each.called for each in _laid(3, person.classes, [0.0, 0.0])) == 3
    # parts of five and one: the smaller has its first when the larger would have its fourth
    [person, _] = matched(table([[(50, 0), (10, 0)], [(10, 1), (10, 1)]]))
    assert [each.called for each in _laid(4, person.classes, [0.1, 0.1])] == [3, 1]


def test_rates_of_the_others_are_drawn_towards_their_overall_one():
    """By hand: 15 of 200 overall, 0.075; (10 + 3 x 0.075) / 103 and (5 + 3 x 0.075) / 103."""
    [person, _] = matched(table([[(40, 0), (60, 0)], [(100, 10), (100, 5)]]))
    assert _rates(person) == pytest.approx([10.225 / 103, 5.225 / 103])


def test_whose_p_is_the_bound_itself_stands_out():
    """Thirty jobs each, 6, 1 and none called back: the bound is the step of the first one."""
    answer = answer_of(table([[(30, 6)], [(30, 1)], [(30, 0)]]), tau=0.2)
    assert answer.people[0].p == answer.bound
    assert [person.key for person in answer.named] == ["A"]


def test_one_look_is_held_to_one_in_forty():
    assert ALPHA == 0.025
    rows = table([[(25, 5)], [(25, 1)], [(25, 1)]])
    assert (answer_of(rows).kind, answer_of(rows, alpha=0.25).kind) == (FEW, LOOK)


def test_what_would_be_missed_is_that_of_the_person_hardest_to_see():
    answer = answer_of(table([[(150, 18)], [(150, 18)], [(12, 1)]]))
    least = answer.people[2].power
    assert answer.missed == 1 - least.doubling
    assert (answer.factor, answer.seen_at_triple) == (5.0, 2)
    unseen = answer_of(table([[(150, 6)], [(150, 5)], [(10, 0)]]))
    assert unseen.people[2].power.factor is None
    assert unseen.people[0].power.factor == 4.75
    assert unseen.factor is None


def test_a_large_company_has_a_spread_of_its_own():
    """People who truly differ are not called different for it; few are held to the usual one."""
    odd = [[(150, 48 if place < 3 else 12)] for place in range(12)]
    answer = answer_of(table(odd))
    assert answer.tau > 0.4
    assert answer_of(table(odd[:6])).tau == 0.2
    assert answer_of(table([[(150, 18)]] * 12)).tau == 0.2
    assert answer_of(table(odd), tau=0.2).named
    assert not answer.named


def test_spread_and_strength_of_a_guess():
    """Equal counts have no spread; the strength stays between 4 and 100."""
    assert true_spread([(10, 10.0)] * 9) is None
    assert true_spread([(10, 10.0)] * 10) == 0.0
    # by hand: z = 2 (sqrt 25 - sqrt 16) = 2 for all, phi 4, w 64, scale 640 - 64 = 576
    assert true_spread([(25, 16.0)] * 10) == pytest.approx(2 * ((40 - 9) / 576) ** 0.5)
    assert pulled_in([9, 1, 5, 4, 3, 2, 6, 7, 8, 0]) == [8, 1, 5, 4, 3, 2, 6, 7, 8, 1]
    assert [strength_of(spread) for spread in (None, 0.0, 0.25, 0.9, 0.05)] == [10, 100, 16, 4, 100]
    assert best_guess(14, 3.0) == pytest.approx(24 / 13)
    assert best_guess(0, 0.0) == 1.0


def test_a_table_is_made_of_cells_and_refuses_what_cannot_be():
    made = table_of({("A", "feed"): (3, 1), ("B", "other"): (2, 0)})
    assert (made.people, made.classes) == (("A", "B"), ("feed", "other"))
    assert (made.jobs, made.called) == (((3, 0), (0, 2)), ((1, 0), (0, 0)))
    with pytest.raises(ValueError, match="0 to the number of jobs"):
        table_of({("A", "feed"): (3, 4)})
    with pytest.raises(ValueError, match="one row for each person"):
        Table(("A",), ("feed",), ((1, 2),), ((0,),))


def test_one_folding_serves_several_odds_to_the_twelfth_digit():
    """Against one folding for each of the fifteen odds; 12 classes, some of them large."""
    classes = [Class(40 + 9 * k, 2 + k, 300 + 50 * k, 20 + 3 * k) for k in range(12)]
    for spread in (0.2, 0.3):
        for count in (60, 100, 140, 180):
            each = math.fsum(
                weight * distribution(classes, math.sqrt(2) * spread * node).tail(count)
                for node, weight in NODES
            )
            assert tail_of(classes, spread, count) == pytest.approx(each, rel=1e-9, abs=1e-12)
