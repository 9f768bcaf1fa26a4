"""Start-ups and rechecks of the demo, each with its record."""

from __future__ import annotations

from datetime import datetime, timedelta

from equipment.engineering.oxidant.pump_setting import PumpSetting
from equipment.models import SettingChange
from equipment.quantities import PlaceName, SettingName
from jobs.errors import RecordIncomplete
from jobs.fieldwork.keys import DONE_HERE, BlockKey, LineKey
from jobs.models import ChecklistRecord, ChecklistTemplate, DoNotUse, Job, RuleCode, Visit
from jobs.models.company import company_day
from jobs.records.loading import load_sheet
from jobs.workflows.jobs import callback_question
from jobs.workflows.notices import lift_notice, out_of_pipes
from jobs.workflows.records import close_record, open_record

from .answering import LEFT, STRIPS, Pen, fed_at
from .booking import ARRIVES_AFTER, begun, booked, booked_from, ended, has_feeder, job_for
from .cast import House, Told, World
from .photos import take_photos

Purpose = ChecklistTemplate.Purpose
#: how far the start-up of today has come at most
UNDER_WAY_FOR = timedelta(minutes=100)
BEFORE_THE_WAIT = (BlockKey.ISOLATE, BlockKey.HOLD, BlockKey.DISINFECT)
BEFORE_THE_DIAL = (
    *BEFORE_THE_WAIT,
    BlockKey.FLUSH,
    BlockKey.RAW_WATER,
    BlockKey.FILL,
    BlockKey.BACKWASH,
    BlockKey.BRINE,
    BlockKey.RINSE,
    BlockKey.STOP_TEST,
)


def start_up(world: World, house: House, act: Told) -> None:
    """One visit, or two with the chlorine in the well overnight."""
    job = job_for(world, house, act, Job.Kind.STARTUP)
    visit = booked(world, job, act, minutes=480)
    if act.get("disinfect") == DONE_HERE:
        _pour(world, house, {**act, "day": _days_from_today(world, visit) - 1}, job)
    begun(world, visit)
    pen = _pen(world, house, act, job, visit, Purpose.STARTUP)
    if act.get("disinfect") == DONE_HERE:
        pen.stop_contact()
        pen.blocks([BlockKey.DISINFECT, BlockKey.FLUSH])
        _lift_no_use(house, pen)
    pen.all_blocks()
    take_photos(pen, act)
    _close(world, house, pen)


def _days_from_today(world: World, visit: Visit) -> int:
    return (company_day(visit.starts_at) - world.calendar.today).days


def _pour(world: World, house: House, act: Told, job: Job) -> None:
    """The afternoon before: chlorine goes in and stays overnight."""
    visit = booked(world, job, {**act, "hour": 13.0}, minutes=240)
    begun(world, visit)
    pen = _pen(world, house, act, job, visit, Purpose.STARTUP)
    pen.blocks(BEFORE_THE_WAIT, without=[LineKey.CHLORINE_LEFT, LineKey.SANITISED])
    ended(
        world,
        house,
        visit,
        outcome=Visit.Outcome.WAITING,
        feeder_left=Visit.Feeder.UNPLUGGED,
        bypass_left=Visit.Bypass.BYPASSED,
        outcome_note="Chlorine stays in overnight.",
    )


def _lift_no_use(house: House, pen: Pen) -> None:
    notice = DoNotUse.objects.standing().get(site=house.site, level=DoNotUse.Level.NO_USE)
    lift_notice(
        notice=notice,
        by=pen.by,
        now=pen.clock,
        reading=out_of_pipes(load_sheet(pen.record, now=pen.clock)),
    )


def recheck(world: World, house: House, act: Told) -> None:
    """The promised second look; stays booked where its day lies ahead."""
    visit = booked_from(world, house, act, act.get("promise", RuleCode.RECHECK), minutes=90)
    if begun(world, visit):
        _rechecked(world, house, act, visit)


def _rechecked(world: World, house: House, act: Told, visit: Visit) -> None:
    outcome = act.get("outcome", Visit.Outcome.STABLE)
    pen = _pen(world, house, {**act, "outcome": outcome}, visit.job, visit, Purpose.RECHECK)
    pen.all_blocks()
    _close(world, house, pen, outcome=outcome)


def callback(world: World, house: House, act: Told) -> None:
    """The customer calls; one visit finds the cause, sometimes with the setting moved."""
    assert house.train
    reported = min(world.calendar.day(act["reported"]), world.calendar.working_day(act["day"]))
    origins = callback_question(train=house.train, reported_on=reported)
    answer = act.get("answer", Job.CallbackAnswer.YES)
    job = job_for(
        world,
        house,
        {**act, "booked": act["day"] - act["reported"]},
        Job.Kind.CALLBACK,
        reported_on=reported,
        callback_answer=answer,
        origin=origins[act.get("origin", 0)],
    )
    visit = booked(
        world, job, {**act, "booked": act["day"] - act["reported"]}, minutes=act.get("minutes", 90)
    )
    if not begun(world, visit):
        return
    facts = {"cause": act["cause"], "cause_note": act.get("found", "")}
    if "setting" in act:
        told = {**act, "outcome": Visit.Outcome.ADJUSTED}
        pen = _pen(world, house, told, job, visit, Purpose.RECHECK)
        pen.all_blocks()
        _close(world, house, pen, **facts)
    else:
        ended(world, house, visit, outcome_note=act.get("found", ""), **facts)


def under_way(world: World, house: House, act: Told) -> None:
    """Today's start-up: yesterday's blocks are answered, the dial-back has begun."""
    job = job_for(world, house, act, Job.Kind.STARTUP)
    first = booked(world, job, {**act, "day": -1}, minutes=420)
    begun(world, first)
    pen = _pen(world, house, act, job, first, Purpose.STARTUP)
    pen.blocks(BEFORE_THE_DIAL)
    ended(
        world,
        house,
        first,
        outcome=Visit.Outcome.INCOMPLETE_TIME,
        feeder_left=Visit.Feeder.UNPLUGGED,
        bypass_left=Visit.Bypass.BYPASSED,
        outcome_note=act["left_open"],
    )
    visit = booked(world, job, {**act, "hour": _hour_under_way(world)}, minutes=300)
    if visit.starts_at + ARRIVES_AFTER > world.now:
        return
    begun(world, visit)
    pen.move_to(visit, visit.starts_at + ARRIVES_AFTER)
    pen.until = min(world.now, visit.starts_at + UNDER_WAY_FOR)
    take_photos(pen, act)
    pen.blocks([BlockKey.DIAL_BACK])


def _hour_under_way(world: World) -> float:
    """Begun two hours ago, within the hours of the company."""
    now = world.now.astimezone(world.calendar.at(world.calendar.today, 12).tzinfo)
    return float(min(max(now.hour - 2, 7), 12))


def _pen(world: World, house: House, act: Told, job: Job, visit: Visit, purpose: str) -> Pen:
    arrived = visit.starts_at + ARRIVES_AFTER
    record = open_record(job=job, purpose=purpose, by=visit.lead, now=arrived)
    told = {
        **world.told["answers"][purpose],
        **_raw_water(house, record),
        **_from_house(house, purpose, act),
        **house.told.get("answers", {}),
        **act.get("answers", {}),
    }
    return Pen(record, visit, told, at=arrived, until=world.now)


def _raw_water(house: House, record: ChecklistRecord) -> Told:
    """The water of the house on every line that asks for it."""
    water = house.told["water"]
    lines = record.template.lines.filter(place=PlaceName.RAW, quantity_key__in=list(water))
    return {line.key: water[line.quantity_key] for line in lines}


def _from_house(house: House, purpose: str, act: Told) -> Told:
    """What follows from the house: its flow, switching and the setting that stays."""
    told: Told = {LineKey.PUMP_FLOW: house.told["wells"][0]["figures"]["pump_flow"]}
    if house.train and house.train.switching:
        told[LineKey.SWITCHING] = house.train.switching
    if purpose == Purpose.STARTUP:
        told[LineKey.DISINFECT_SCOPE] = act.get("disinfect", "earlier")
        told[LineKey.STEPS] = act.get("steps", [])
        told[STRIPS], told[LEFT] = act.get("strips"), act.get("left", False)
        left = told[LineKey.STEPS][-1][0] if told[LineKey.STEPS] else None
    else:
        told[LineKey.RECHECK_OUTCOME] = act["outcome"]
        found, left = act.get("setting") or [_setting(house)] * 2
        if left is not None:
            told[LineKey.PUMP_SETTING] = [f"{found:g}", f"{left:g}"]
        stands = _stands_at(house)
        if stands and stands.cycle_s:
            told[LineKey.PUMP_CYCLE] = [f"{stands.cycle_s:g}"] * 2
    if left is not None and has_feeder(house):
        told |= fed_at(house.feeder, left)
    return told


def _setting(house: House) -> float | None:
    """At which percent the dosing pump stands."""
    stands = _stands_at(house)
    return stands.percent if stands else None


def _stands_at(house: House) -> PumpSetting | None:
    if not has_feeder(house):
        return None
    change = SettingChange.objects.current(house.feeder, SettingName.OUTPUT)
    return change.pump_now if change else None


def _close(
    world: World, house: House, pen: Pen, *, outcome: str = Visit.Outcome.COMPLETED, **facts: str
) -> None:
    pen.clock += timedelta(minutes=2)
    try:
        close_record(record=pen.record, visit=pen.visit, by=pen.by, now=pen.clock)
    except RecordIncomplete as refusal:
        rows = "; ".join(sentence for _, sentence in refusal.missing)
        raise LookupError(f"The demo leaves lines of {pen.record.job} open: {rows}") from refusal
    left: datetime = pen.clock + timedelta(minutes=3)
    ended(world, house, pen.visit, outcome=outcome, at=left, **facts)
