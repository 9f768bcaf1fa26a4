"""Told now, done earlier: steps, waits and lines left out keep the moment at the house."""

from datetime import datetime, timedelta
from uuid import uuid4

import pytest

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.errors import BadEntry, OtherTime
from jobs.models import Answer, DialStep, DoNotUse, Job, LogEntry, PourTold, Timer, Visit
from jobs.models.company import company_day
from jobs.records.waits import TAKEN_BACK
from jobs.workflows import dial_back, timers
from jobs.workflows.answers import (
    Place,
    acknowledge_caution,
    override_gate,
    skip_line,
    take_back_override,
)
from jobs.workflows.moments import CLOCK_AHEAD
from jobs.workflows.pouring import all_told, houses_of
from jobs.workflows.records import close_record, open_record
from jobs.workflows.visit_closing import Ending, close_visit
from jobs.workflows.visits import arrive, no_access, set_out
from jobs.workflows.way_out import WayOut
from tests.acts import here, poured
from tests.conftest import NOW
from tests.factories import make_job, make_visit
from tests.record_scenes import answer, answer_all, make_house, make_ready

pytestmark = pytest.mark.django_db
MINUTE = timedelta(minutes=1)
ARRIVED, TOLD = NOW - 30 * MINUTE, NOW + 60 * MINUTE
SEEN = dial_back.Seen("clear", 5, 10)
OUT = WayOut(unplugged=True, bypass="bypassed")


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
    step = dial_back.set_step(**told, setting=PumpSetting(percent=20), at=ARRIVED)
    return dial_back.read_step(**told, number=step.number, seen=SEEN, at=at).read_at


def given_up(told, at):
    step = dial_back.set_step(**told, setting=PumpSetting(percent=20), at=ARRIVED)
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
    return dial_back.set_step(**told, setting=PumpSetting(percent=20), at=at).set_at


def answered(told, at):
    return answer(told["record"], told["by"], "raw-iron", "3", now=TOLD, at=at).read_at


def passed_over(told, at):
    return override_gate(**told, line_key="no-start", reason="no power", way_out=OUT, at=at).at


def opened_by_passing_over(told, at):
    passed_over(told, at)
    return DoNotUse.objects.get().opened_at


def counted_again(told, at):
    passed_over(told, ARRIVED)
    take_back_override(**told, line_key="no-start", at=at)
    return done_of("override_taken_back")


def read_and_understood(told, at):
    return acknowledge_caution(**told, caution="pit", at=at).at


def taken_back(told, at):
    waited(told, ARRIVED)
    timers.undo_timer(**told, line_key="contact", reason="the wrong button", at=at)
    return done_of(TAKEN_BACK)


def poured_then(told, at):
    answer(told["record"], told["by"], "disinfect-scope", "here")
    people = {house.pk: here("C. Prudhomme") for house in houses_of(told["record"])}
    all_told(**told, told=people, at=at)
    assert DoNotUse.objects.get().opened_at == PourTold.objects.get().at
    return PourTold.objects.get().at


def done_of(verb):
    return datetime.fromisoformat(LogEntry.objects.get(verb=verb).data["done"])


ACTS = [
    set_then,
    read,
    given_up,
    left_out,
    waited,
    stopped,
    begun_anew,
    answered,
    passed_over,
    opened_by_passing_over,
    counted_again,
    read_and_understood,
    taken_back,
    poured_then,
]


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
    dial_back.set_step(**told, setting=PumpSetting(percent=20), at=NOW)
    with pytest.raises(BadEntry, match="before it was set"):
        dial_back.skip_step(**told, number=1, reason="strips are wet", at=NOW - MINUTE)
    dial_back.read_step(**told, number=1, seen=SEEN, at=NOW + 5 * MINUTE)
    with pytest.raises(BadEntry, match="before step 1"):
        dial_back.set_step(**told, setting=PumpSetting(percent=22), at=NOW + 4 * MINUTE)
    waited(told, NOW)
    with pytest.raises(BadEntry, match="before the last one"):
        timers.stop_timer(**told, line_key="contact", at=NOW - MINUTE)


def test_turnovers_run_from_the_moment_it_was_set(told):
    record, lead = told["record"], told["by"]
    answer_all(record, lead, without=("steps",), now=NOW)
    dial_back.set_step(**told, setting=PumpSetting(percent=20), at=ARRIVED)
    seen = dial_back.read_step(**told, number=1, seen=SEEN)
    assert seen.turnovers == pytest.approx(90 / 60 * seen_in_an_hour(told))


def seen_in_an_hour(told):
    """The same water in sixty minutes."""
    step = DialStep.objects.get()
    step.set_at, step.read_at = TOLD - 60 * MINUTE, None
    sheet = dial_back.load_sheet(told["record"], now=TOLD)
    return dial_back.turnovers_since(sheet, step, TOLD)


def test_a_setting_stays_from_when_it_was_decided(told):
    answer_all(told["record"], told["by"])
    dial_back.set_step(**told, setting=PumpSetting(percent=20), at=ARRIVED)
    told["now"] = NOW + 600 * MINUTE
    dial_back.read_step(**told, number=1, seen=SEEN, at=NOW + 400 * MINUTE)
    dial_back.keep_as_final(**told, number=1, at=NOW + 410 * MINUTE)
    assert done_of("setting_kept") == NOW + 410 * MINUTE


# --- visits, and records from their opening to their closing ---------------------------------


@pytest.fixture
def visit():
    return make_visit(starts_at=NOW, now=NOW)


def on_the_way(visit, at):
    set_out(visit=visit, by=visit.lead, now=TOLD, at=at)
    return done_of("set_out")


def there(visit, at):
    return arrive(visit=visit, by=visit.lead, now=TOLD, at=at).arrived_at


def nobody_home(visit, at):
    arrive(visit=visit, by=visit.lead, now=TOLD, at=NOW - 600 * MINUTE)
    return no_access(visit=visit, note="rang twice", by=visit.lead, now=TOLD, at=at).left_at


def left(visit, at):
    arrive(visit=visit, by=visit.lead, now=TOLD, at=NOW - 600 * MINUTE)
    ending = Ending(Visit.Outcome.COMPLETED, Visit.Feeder.NONE, Visit.Bypass.NONE)
    return close_visit(visit=visit, ending=ending, by=visit.lead, now=TOLD, at=at).left_at


VISIT_ACTS = [on_the_way, there, nobody_home, left]


@pytest.mark.parametrize("act", VISIT_ACTS)
@pytest.mark.parametrize(
    ("at", "kept"),
    [
        (None, TOLD),
        (NOW - 9 * MINUTE, NOW - 9 * MINUTE),  # they came before the hour that was booked
        (TOLD + CLOCK_AHEAD, TOLD),
    ],
)
def test_of_a_visit_the_moment_is_kept(visit, act, at, kept):
    assert act(visit, at) == kept


@pytest.mark.parametrize("act", VISIT_ACTS)
@pytest.mark.parametrize("at", [TOLD + CLOCK_AHEAD + MINUTE, NOW - timedelta(days=1)])
def test_of_a_visit_another_day_is_asked_about(visit, act, at):
    with pytest.raises(OtherTime):
        act(visit, at)


def test_nobody_leaves_before_the_arrival(visit):
    arrive(visit=visit, by=visit.lead, now=TOLD, at=NOW)
    with pytest.raises(OtherTime, match="before the arrival"):
        no_access(visit=visit, note="rang", by=visit.lead, now=TOLD, at=NOW - MINUTE)


def test_a_record_is_opened_under_the_name_that_a_phone_gave_it():
    record, visit, lead = make_house()
    job = make_job(train=record.train, kind=Job.Kind.RECHECK)
    make_visit(job=job, lead=lead, starts_at=NOW + 120 * MINUTE, slots=False)
    named = {"job": job, "purpose": "recheck", "by": lead, "now": TOLD}
    with pytest.raises(BadEntry, match="Another record"):
        open_record(**named, uuid=record.uuid)
    name = uuid4()
    made = open_record(**named, uuid=name, at=NOW)
    assert (made.uuid, made.opened_at) == (name, NOW)
    assert open_record(**named, uuid=uuid4()) == made
    with pytest.raises(OtherTime):
        open_record(**named, at=NOW - timedelta(days=1))


def test_a_record_is_closed_and_the_water_handed_over_when_it_was():
    """Told the next day, done at four in the afternoon of the day before."""
    record, visit, lead = make_ready()
    at, told = NOW + timedelta(hours=6), NOW + timedelta(days=1)
    closed = close_record(record=record, visit=visit, by=lead, now=told, at=at)
    assert closed.closed_at == at
    record.job.refresh_from_db()
    assert record.job.index_on == company_day(at)
