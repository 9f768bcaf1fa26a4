"""Told now, done earlier: steps, waits and lines left out keep the moment at the house."""

from datetime import timedelta

import pytest

from jobs.errors import BadEntry
from jobs.models import Answer, DialStep, Timer
from jobs.workflows import dial_back, timers
from jobs.workflows.answers import CLOCK_AHEAD, Place, skip_line
from tests.acts import poured
from tests.conftest import NOW
from tests.record_scenes import answer, answer_all, make_house

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
ARRIVED, TOLD = NOW - 30 * MINUTE, NOW + 60 * MINUTE
SEEN = dial_back.Seen("clear", 5, 10)


@pytest.fixture
def told():
    """A record of a visit that was reached half an hour before it was opened."""
    record, visit, lead = make_house()
    visit.arrived_at = ARRIVED
    visit.save()
    answer(record, lead, "disinfect-scope", "not_needed")
    return {"record": record, "by": lead, "now": TOLD}


def read(told, at):
    """A step set long ago and read then."""
    step = dial_back.set_step(**told, setting_percent=20, at=ARRIVED)
    return dial_back.read_step(**told, number=step.number, seen=SEEN, at=at).read_at


def given_up(told, at):
    step = dial_back.set_step(**told, setting_percent=20, at=ARRIVED)
    dial_back.skip_step(**told, number=step.number, reason="strips are wet", at=at)
    return DialStep.objects.get().skipped_at


def left_out(told, at):
    skip_line(**told, place=Place("raw-sulfide"), reason="no kit", at=at)
    return Answer.objects.get(line_key="raw-sulfide").read_at


def waited(told, at):
    answer(told["record"], told["by"], "disinfect-scope", "here")
    poured(told["record"], told["by"], at=ARRIVED)
    timers.start_timer(**told, line_key="contact", at=at)
    return Timer.objects.get().started_at


def stopped(told, at):
    waited(told, ARRIVED)
    timers.stop_timer(**told, line_key="contact", at=at)
    return Timer.objects.get().stopped_at


def begun_anew(told, at):
    stopped(told, ARRIVED)
    timers.restart_timer(**told, line_key="contact", at=at)
    return Timer.objects.get().started_at


def set_then(told, at):
    return dial_back.set_step(**told, setting_percent=20, at=at).set_at


ACTS = [set_then, read, given_up, left_out, waited, stopped, begun_anew]


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize(
    ("at", "kept"),
    [
        (None, TOLD),
        (NOW + 10 * MINUTE, NOW + 10 * MINUTE),
        (ARRIVED, ARRIVED),
        (TOLD + CLOCK_AHEAD, TOLD),  # the clock of a phone runs ahead a little
    ],
)
def test_the_moment_is_kept(told, act, at, kept):
    assert act(told, at) == kept


@pytest.mark.parametrize("act", ACTS)
@pytest.mark.parametrize(
    ("at", "said"),
    [(TOLD + CLOCK_AHEAD + MINUTE, "lies ahead"), (ARRIVED - MINUTE, "before the visit")],
)
def test_not_ahead_and_not_before_the_visit(told, act, at, said):
    with pytest.raises(BadEntry, match=said):
        act(told, at)


def test_nothing_ends_before_it_began(told):
    dial_back.set_step(**told, setting_percent=20, at=NOW)
    with pytest.raises(BadEntry, match="before it was set"):
        dial_back.skip_step(**told, number=1, reason="strips are wet", at=NOW - MINUTE)
    dial_back.read_step(**told, number=1, seen=SEEN, at=NOW + 5 * MINUTE)
    with pytest.raises(BadEntry, match="before step 1"):
        dial_back.set_step(**told, setting_percent=22, at=NOW + 4 * MINUTE)
    waited(told, NOW)
    with pytest.raises(BadEntry, match="before the last one"):
        timers.stop_timer(**told, line_key="contact", at=NOW - MINUTE)


def test_turnovers_run_from_the_moment_it_was_set(told):
    record, lead = told["record"], told["by"]
    answer_all(record, lead, without=("steps",), now=NOW)
    dial_back.set_step(**told, setting_percent=20, at=ARRIVED)
    seen = dial_back.read_step(**told, number=1, seen=SEEN)
    assert seen.turnovers == pytest.approx(90 / 60 * seen_in_an_hour(told))


def seen_in_an_hour(told):
    """The same water in sixty minutes."""
    step = DialStep.objects.get()
    step.set_at, step.read_at = TOLD - 60 * MINUTE, None
    sheet = dial_back.load_sheet(told["record"], now=TOLD)
    return dial_back.turnovers_since(sheet, step, TOLD)
