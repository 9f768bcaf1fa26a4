"""The measurements run, on few rows, and the hand-written report counts what ours counts."""

from datetime import timedelta

import pytest
from django.db import connection

from equipment.engineering.registry import load
from jobs.models.company import company_day
from jobs.reports.callback_jobs import Selection
from jobs.reports.callbacks import callback_report
from jobs.workflows.fact_nights import compare
from tests.bench import engineering, fair, finding, memory, million, rows, spoken, work
from tests.conftest import NOW


def test_plain_bodies_and_budgets_belong_to_calculations():
    assert set(engineering.PLAIN) | engineering.ITERATIVE | set(engineering.LARGE) <= set(load())
    for body in engineering.PLAIN.values():
        assert body() is not None


@pytest.mark.django_db
def test_the_report_by_hand_counts_the_same_cells():
    rows.grow(now=NOW, houses=30, jobs_each=6, follow_ups=400, people=rows.make_people())
    day = company_day(NOW)
    selection = Selection(since=day - timedelta(days=1500), until=day, window_days=90, today=day)
    total = callback_report(selection).total
    cells = work.counted_by_hand(selection)
    assert total.callbacks > 0
    assert sum(cell[-1] for cell in cells) == total.jobs
    judged = [cell for cell in cells if cell[1] == "judgeable"]
    assert sum(cell[-1] for cell in judged) == total.judgeable
    assert sum(cell[-1] for cell in judged if cell[4]) == total.callbacks


@pytest.mark.django_db
def test_a_million_jobs_are_what_the_night_would_make_of_their_facts(
    django_assert_max_num_queries,
):
    """In small; and the page asks as often whatever their number."""
    million.grow(jobs=3000, today=company_day(NOW), now=NOW)
    compare(NOW)
    for selection in million.periods(company_day(NOW)).values():
        total = callback_report(selection).total
        by_hand = work.counted_by_hand(selection)
        assert total.callbacks > 5
        assert total.lost > 5
        judged = [cell for cell in by_hand if cell[1] == "judgeable"]
        assert sum(cell[-1] for cell in judged) == total.judgeable
        assert sum(cell[-1] for cell in judged if cell[4]) == total.callbacks
        with django_assert_max_num_queries(19):
            million.page_of(selection)


@pytest.mark.parametrize(
    ("cell", "alarms", "found"),
    [
        # within three standard errors of the design's figures at so few runs
        ((fair.EVEN, 4, 60, 6), 5, (17, 65)),
        ((fair.ONLY, 4, 60, 6), 5, (0, 32)),
        ((fair.MOST, 4, 60, 12), 5, (75, 100)),
    ],
)
def test_the_owners_answer_seldom_raises_a_false_alarm_and_finds_a_tripling(cell, alarms, found):
    """One look at 2.5 of 100; 40 periods, the design's are 1000."""
    equal, _, _, tripled = fair.measured(cell, 40)
    assert equal <= alarms
    assert found[0] <= tripled <= found[1]


def test_with_enough_jobs_nothing_is_seen_among_equals_and_with_few_nothing_can_be_told():
    look, nothing, few = fair.answers((4, 150, 12), 1, 4)
    assert (look, few) == (0, 0)
    assert nothing == 100
    assert fair.answers((4, 25, 3), 1, 4) == (0, 0, 100)


@pytest.mark.django_db
def test_due_work_is_found_in_the_index_alone(capsys):
    rows.grow(now=NOW, houses=30, jobs_each=1, follow_ups=400, people=rows.make_people())
    work.due_work(company_day(NOW))
    shown = capsys.readouterr().out
    assert "200 are due" in shown
    if connection.vendor == "sqlite":  # the other decides by the size of the table
        assert "COVERING INDEX follow_up_due" in shown


@pytest.mark.django_db
def test_the_search_bench_counts_what_is_found(capsys, monkeypatch):
    monkeypatch.setattr(finding, "ROUNDS", 1)
    houses = spoken.move_in()
    finding.forty(houses)
    assert "40 of 40" in capsys.readouterr().out
    finding.forty(dict.fromkeys(houses, None))
    shown = capsys.readouterr().out
    assert "0 of 40" in shown
    assert "okonkow" in shown


def test_a_process_of_another_program_is_not_ours(tmp_path):
    (tmp_path / "cmdline").write_bytes(b"/usr/bin/python3\0-m\0celery\0-A\0other\0worker\0")
    assert memory.part_of(tmp_path) == ""
    (tmp_path / "cmdline").write_bytes(b"/usr/bin/python3\0-m\0celery\0-A\0config\0worker\0")
    assert memory.part_of(tmp_path) == "worker"
