"""What may happen in the story of a house; each act goes through the workflows of that day."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime, timedelta

from equipment.models import Fill, Measurement, Sample, SpecialUse, Stage
from equipment.quantities import PlaceName
from jobs.fieldwork.keys import LineKey
from jobs.models import ContactAttempt, DoNotUse, FollowUp, Job, RuleCode, SiteTenure, Visit
from jobs.models.company import company_day
from jobs.records.bacteria import verdict_of
from jobs.workflows import follow_ups
from jobs.workflows.attempts import record_attempt
from jobs.workflows.causes import review_cause
from jobs.workflows.fills import Poured, record_fill
from jobs.workflows.measurements import Reading, record_measurement
from jobs.workflows.notices import lift_notice
from jobs.workflows.removals import take_out
from jobs.workflows.requests import ask
from jobs.workflows.samples import Result, enter_result, send_sample, tell_result
from jobs.workflows.sites import change_hands, note_special_use
from jobs.workflows.trains import replace_stage, save_train
from jobs.workflows.visits import cancel_visit, no_access

from . import calls, late, lost, recalls, records, scenes, two_stages
from .booking import begun, booked, booked_at, booked_from, ended, job_for, standing
from .cast import OFFICE_HOUR, House, Told, World, adult_of, build, called, part_fields
from .passing import split
from .phones import phone

#: from the tap to the laboratory
BY_COURIER = timedelta(hours=22)

Act = Callable[[World, House, Told], None]


def survey(world: World, house: House, act: Told) -> None:
    visit = booked(world, job_for(world, house, act, Job.Kind.SURVEY), act, minutes=90)
    if not begun(world, visit):
        return
    for place, origin, figures in (
        (PlaceName.RAW, Measurement.Origin.MEASURED, house.told["water"]),
        ("", Measurement.Origin.OWNER_SAYS, house.told.get("house_figures", {})),
    ):
        for key, text in figures.items():
            record_measurement(
                about=house.site,
                reading=Reading(key, *split(text), origin=origin, place=place),
                occasion=visit.uuid,
                by=visit.lead,
                measured_at=visit.starts_at + timedelta(minutes=25),
                now=visit.ends_at - timedelta(minutes=10),
            )
    ended(world, house, visit)


def install(world: World, house: House, act: Told) -> None:
    """Parts are fitted, nothing is handed over yet."""
    job = job_for(world, house, act, Job.Kind.INSTALL)
    visit = booked(world, job, act, minutes=420)
    if not begun(world, visit):
        return
    day = company_day(visit.starts_at)
    build(world, house, by=visit.lead, fitted_on=day, now=visit.ends_at - timedelta(minutes=20))
    job.train = house.train
    job.save()
    ended(
        world, house, visit, feeder_left=Visit.Feeder.UNPLUGGED, bypass_left=Visit.Bypass.BYPASSED
    )


def take_over(world: World, house: House, act: Told) -> None:
    """A system fitted by others years ago."""
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    day = world.calendar.day(act["fitted"])
    train = build(world, house, by=world.office, fitted_on=day, now=now)
    if act.get("in_use"):
        train.handed_over_on = day
        seen = train.version
        save_train(train=train, wells=house.wells, version=seen, by=world.office, now=now)


def old_system(world: World, house: House, act: Told) -> None:
    """What others fitted and we found there, entered before it goes."""
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    fitted = world.calendar.day(act["fitted"])
    found = {"is_inherited": True, **act["system"]}
    build(world, house, by=world.office, fitted_on=fitted, now=now, told=found)


def taken_out(world: World, house: House, act: Told) -> None:
    """A system leaves the house; the one with that name."""
    take_out(
        train=house.site.trains.get(name=act["name"]),
        on=world.calendar.day(act["day"]),
        reason=act["reason"],
        by=world.office,
        now=world.calendar.moment(act["day"], 17.0),
    )


def work(world: World, house: House, act: Told) -> None:
    """Service, repair and whatever else ends within one visit; a service may fill the tank."""
    job = job_for(world, house, act, act["kind"])
    visit = booked(world, job, act, minutes=60)
    if not begun(world, visit):
        return
    if act.get("fill"):
        _fill(world, house, act, visit)
    ended(world, house, visit, outcome_note=act.get("found", ""))


def refill(world: World, house: House, act: Told) -> None:
    visit = booked_from(world, house, act, RuleCode.REFILL, minutes=30)
    if begun(world, visit):
        _fill(world, house, act, visit)
        ended(world, house, visit)


def _fill(world: World, house: House, act: Told, visit: Visit) -> None:
    at = visit.starts_at + timedelta(minutes=20)
    _put_in(world, house, act, at=at, visit=visit)


def customer_fills(world: World, house: House, act: Told) -> None:
    """The household fills the tank and tells the office, again and again."""
    for day in act["days"]:
        at = world.calendar.moment(day, 10.5)
        _put_in(world, house, act, at=at, visit=None)


def _put_in(world: World, house: House, act: Told, *, at: datetime, visit: Visit | None) -> None:
    feeder = house.feeder
    assert feeder.product
    assert feeder.solution_tank_gal
    gallons = act.get("gallons", 9)
    mixed = house.told.get("answers", {}).get(LineKey.SOLUTION_STRENGTH)
    strength = float(split(mixed)[0]) if mixed else feeder.product.strength_g_l
    found, away = act.get("found_gal", 3), act.get("away_gal", 0)
    poured = Poured(
        at=at,
        strength_g_l=strength,
        product_gal=gallons,
        level_before_gal=found,
        level_after_gal=min(feeder.solution_tank_gal, found - away + gallons),
        filled_by=Fill.FilledBy.COMPANY if visit else Fill.FilledBy.CUSTOMER,
    )
    record_fill(
        stage=feeder,
        poured=poured,
        by=visit.lead if visit else world.office,
        now=at,
        occasion=visit.uuid if visit else None,
    )


def rebed(world: World, house: House, act: Told) -> None:
    """New media: the part ends and another begins in its place."""
    visit = booked(world, job_for(world, house, act, Job.Kind.REBED), act, minutes=240)
    if not begun(world, visit):
        return
    old = Stage.objects.fitted().get(train=house.train, kind=act["part"]["kind"])
    day = company_day(visit.starts_at)
    new = Stage(fitted_on=day, fitted_by=visit.lead, **part_fields(act["part"]))
    replace_stage(old=old, new=new, by=visit.lead, now=visit.ends_at - timedelta(minutes=20))
    ended(world, house, visit)


def counter_read(world: World, house: House, act: Told) -> None:
    """The household reads the counters over the telephone: no visit for the interval."""
    now = world.calendar.moment(act["day"], OFFICE_HOUR)
    rows = FollowUp.objects.open().filter(site=house.site, rule__code=RuleCode.INTERVAL)
    for row in rows:
        record_attempt(follow_up=row, how=ContactAttempt.How.CALLED, by=world.office, now=now)
        follow_ups.waive(
            follow_up=row,
            by=world.office,
            now=now,
            reason="The household read the counter to us near the end of a run; the interval fits.",
        )


def sample(world: World, house: House, act: Told) -> None:
    """Taken on a visit or by the household; the result comes days later, or is awaited."""
    taken = world.calendar.moment(act["day"], 9.0)
    taker = world.people.get(act.get("who", ""), world.office)
    if "promise" in act:
        visit = booked_from(world, house, act, act["promise"], minutes=30)
        if not begun(world, visit):
            return
        taken = visit.starts_at + timedelta(minutes=15)
        ended(world, house, visit)
    bottle = Sample(
        site=house.site,
        well=house.wells[0],
        kind=act["kind"],
        taken_at=taken,
        taken_by=taker,
        place=act["tap"],
        residual_free=True,
        bottle=act["bottle"],
        laboratory=world.told["laboratory"],
    )
    send_sample(sample=bottle, by=taker, now=taken)
    if "result" in act:
        _result(world, house, act, bottle)


def _result(world: World, house: House, act: Told, bottle: Sample) -> None:
    now = world.calendar.moment(act["day"] + act["after"], 11.0)
    figures = [
        Reading(key, *split(text), origin="laboratory")
        for key, text in act.get("figures", {}).items()
    ]
    result = Result(
        outcome=act["result"],
        on=company_day(now),
        received_at=bottle.taken_at + BY_COURIER,
        is_accredited=True,
        figures=figures,
    )
    bottle = enter_result(sample=bottle, result=result, by=world.office, now=now)
    for key, whom in act.get("told", {}).items():
        _all_told(world, bottle, world.houses[key], whom, now=now + timedelta(hours=1))
    for notice in DoNotUse.objects.standing().at_site(bottle.site):
        if notice.is_about_bacteria and verdict_of(notice, now=now).lifts:
            lift_notice(notice=notice, by=world.office, now=now)


def _all_told(world: World, bottle: Sample, house: House, whom: str, *, now: datetime) -> None:
    """Whoever answered is one of them; each other who must be told is called as well."""
    adult = adult_of(house, whom, on=company_day(now))
    must = SiteTenure.objects.open().told_of_water().to_call(house.site)
    for number, tenure in enumerate(must):
        tell_result(
            sample=bottle,
            site=house.site,
            customer=tenure.customer,
            adult=called(tenure.customer) if number else adult,
            by=world.office,
            now=now + number * timedelta(minutes=6),
        )


def sold(world: World, house: House, act: Told) -> None:
    change_hands(
        site=house.site,
        customer=world.customers[act["to"]],
        by=world.office,
        on=world.calendar.day(act["day"]),
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


def nobody_home(world: World, house: House, act: Told) -> None:
    visit = booked(world, job_for(world, house, act, act["kind"]), act, minutes=60)
    if begun(world, visit):
        gave_up = visit.starts_at + timedelta(minutes=25)
        no_access(visit=visit, note=act["tried"], by=visit.lead, now=gave_up)


def called_off(world: World, house: House, act: Told) -> None:
    visit = booked(world, job_for(world, house, act, act["kind"]), act, minutes=60)
    now = booked_at(world, act) + timedelta(days=1)
    cancel_visit(visit=visit, reason=act["reason"], by=world.office, now=now)


def attempt(world: World, house: House, act: Told) -> None:
    """The office tries to reach the customer about an open promise, and may put it off."""
    now = world.calendar.moment(act["day"], act.get("hour", OFFICE_HOUR))
    row = standing(house, act["promise"])
    record_attempt(
        follow_up=row, how=act["how"], note=act.get("note", ""), by=world.office, now=now
    )
    if "until" in act:
        follow_ups.snooze(
            follow_up=row,
            until=world.calendar.day(act["until"]),
            reason=act["note"],
            by=world.office,
            now=now,
        )


def cause_reviewed(world: World, house: House, act: Told) -> None:
    """The owner has looked at the cause of the newest callback, which keeps the promise to."""
    row = Job.objects.filter(site=house.site, callback_answer="yes", status="completed").latest(
        "completed_at"
    )
    review_cause(
        callback=row,
        cause=row.cause,
        seen=row.cause,
        reason=act["note"],
        by=world.owner,
        now=world.calendar.moment(act["day"], 19.0),
    )


def asks(world: World, house: House, act: Told) -> None:
    """The customer answers our letter about the next visit: another time, or none."""
    ahead = Visit.objects.to_come().filter(job__site=house.site, starts_at__gt=world.now)
    visit = ahead.order_by("starts_at").first()
    if visit:
        now = world.calendar.moment(act["day"], OFFICE_HOUR)
        ask(visit=visit, kind=act["what"], note=act["note"], now=now)


def special_use(world: World, house: House, act: Told) -> None:
    note_special_use(
        use=SpecialUse(
            site=house.site,
            kind=act["kind"],
            noted_on=world.calendar.day(act["day"]),
            note=act["note"],
        ),
        by=world.office,
        now=world.calendar.moment(act["day"], OFFICE_HOUR),
    )


ACTS: dict[str, Act] = {
    "survey": survey,
    "install": install,
    "take_over": take_over,
    "old_system": old_system,
    "taken_out": taken_out,
    "start_up": records.start_up,
    "under_way": records.under_way,
    "recheck": records.recheck,
    "callback": records.callback,
    "work": work,
    "refill": refill,
    "customer_fills": customer_fills,
    "rebed": rebed,
    "counter_read": counter_read,
    "sample": sample,
    "sold": sold,
    "joined": scenes.joined,
    "told_other_things": scenes.told_other_things,
    "nobody_home": nobody_home,
    "called_off": called_off,
    "attempt": attempt,
    "cause_reviewed": cause_reviewed,
    "special_use": special_use,
    "asks": asks,
    "called": calls.called,
    "phone": phone,
    "held": scenes.held,
    "corrected": scenes.corrected,
    "corrected_step": scenes.corrected_step,
    "corrected_telling": scenes.corrected_telling,
    "corrected_wait": scenes.corrected_wait,
    "photo_removed": scenes.photo_removed,
    "proposed": scenes.proposed,
    "waits": two_stages.waits,
    "runs_late": late.runs_late,
    "recall_told": recalls.recall_told,
    "exchanged": recalls.exchanged,
    "sold_away": lost.sold_away,
    "unreached": lost.unreached,
    "service_ended": lost.service_ended,
    "turned_off": lost.turned_off,
    "lead_corrected": lost.lead_corrected,
    "report_corrected": lost.report_corrected,
}
