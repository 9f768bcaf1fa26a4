"""A page of answers kept in one go."""

from datetime import timedelta

import pytest

from jobs.models import LogEntry
from jobs.workflows.answers import Entered, Place, save_answers, skip_line
from tests.conftest import NOW
from tests.record_scenes import make_house

pytestmark = pytest.mark.django_db


def test_of_a_page_each_answer_is_kept_or_refused_by_itself():
    record, _, lead = make_house(asked=False)
    entries = {
        Place("raw-iron"): Entered("3.1", "mg/L", at=NOW + timedelta(minutes=4)),
        Place("raw-ph"): Entered("71"),
        Place("nowhere"): Entered("1"),
        Place("tap-ph"): Entered("7.2"),
    }
    told = NOW + timedelta(minutes=9)
    refused = save_answers(record=record, entries=entries, by=lead, now=told)
    assert {place.line_key for place in refused} == {"raw-ph", "nowhere"}
    kept = {answer.line_key: answer for answer in record.answers.all()}
    assert set(kept) == {"raw-iron", "tap-ph"}
    assert (kept["raw-iron"].read_at, kept["raw-iron"].saved_at) == (
        NOW + timedelta(minutes=4),
        told,
    )
    assert LogEntry.objects.filter(verb="answer_refused").count() == 2


def test_a_page_is_kept_in_as_many_queries_as_one_answer(django_assert_max_num_queries):
    record, _, lead = make_house()
    lines = record.template.lines.filter(kind="tick", subject="")
    ticks = {Place(line.key): Entered("yes") for line in lines}
    assert len(ticks) > 8
    with django_assert_max_num_queries(8):
        assert save_answers(record=record, entries=ticks, by=lead, now=NOW) == {}


def test_what_is_left_open_is_left_at_its_moment():
    record, _, lead = make_house(asked=False)
    at, told = NOW + timedelta(minutes=10), NOW + timedelta(hours=2)
    line = record.template.lines.filter(may_skip=True, subject="", is_pair=False).first()
    skip_line(record=record, place=Place(line.key), reason="no tap", by=lead, now=told, at=at)
    kept = record.answers.get()
    assert (kept.read_at, kept.saved_at) == (at, told)
