"""Ten closings, each different, from the first answer to the letter: what people did, in acts."""

import re
from datetime import timedelta
from zoneinfo import ZoneInfo

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.models import DoNotUse, Job
from jobs.records.loading import load_sheet
from jobs.workflows.answers import override_gate
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.dial_back import Seen, keep_as_final, read_step, set_step
from jobs.workflows.records import close_record, open_record
from jobs.workflows.samples import tell_result
from jobs.workflows.timers import start_timer
from tests.acts import (
    HOUR,
    arrived,
    booked,
    bottled,
    closed,
    lifted,
    opened,
    poured,
    sampled,
    spoken_to,
)
from tests.conftest import NOW
from tests.factories import make_medium, make_product, make_stage, make_train
from tests.record_scenes import (
    acknowledge_all,
    answer,
    answer_all,
    make_house,
    make_ready,
    read_final_step,
)

DAY = timedelta(days=1)
NEW_YORK = ZoneInfo("America/New_York")
LATER = NOW + 9 * HOUR


def _closed(record, visit, lead, *, at=LATER, feeder="on"):
    """The record, and then the visit with it."""
    record = close_record(record=record, visit=visit, by=lead, now=at)
    has_feeder = record.train and record.train.stages.filter(kind="feeder").exists()
    closed(visit, at=at + HOUR / 12, feeder=feeder if has_feeder else "")
    return record


def _dialled(record, lead, percent, low, high, *, at=NOW, **seen):
    """One step, read after four hours and kept."""
    step = set_step(record=record, setting=PumpSetting(percent=percent), by=lead, now=at)
    read = at + 4 * HOUR
    looked = Seen("clear", low, high, iron_clear=True, odour_clear=True, **seen)
    read_step(record=record, number=step.number, seen=looked, by=lead, now=read)
    keep_as_final(record=record, number=step.number, by=lead, now=read)


def peroxide():
    return _closed(*make_ready())


def chlorine():
    """Chlorine feed ahead of carbon."""
    train = make_train(injection="before", switching="switch_load")
    product = make_product(
        oxidant="chlorine", label_strength_percent=5.25, strength_basis="trade", density_g_ml=1.08
    )
    make_stage(train=train, kind="feeder", position=1, product=product)
    make_stage(train=train, kind="retention", position=2)
    make_stage(train=train, kind="filter", position=3)
    record, visit, lead = make_house(train=train)
    told = {
        "solution-strength": "26",
        "raw-sulfide": "0.5",
        "raw-iron": "1",
        "chlorine-retention": "1.1",
        "chlorine-after": "< 0.1",
    }
    answer_all(record, lead, answers=told, without=("steps",))
    _dialled(record, lead, 20, 1, 1.2)
    acknowledge_all(record, lead)
    return _closed(record, visit, lead)


def permanganate():
    """Read by its colour: none left after the filter."""
    train = make_train(injection="before", switching="switch_load")
    product = make_product(
        oxidant="permanganate",
        label_strength_percent=97,
        strength_basis="weight",
        density_g_ml=None,
        is_dry=True,
    )
    make_stage(train=train, kind="feeder", position=1, product=product)
    make_stage(train=train, kind="retention", position=2)
    greensand = make_medium(slug="test-greensand", is_carbon=False)
    make_stage(train=train, kind="filter", position=3, medium=greensand)
    record, visit, lead = make_house(train=train)
    told = {"solution-strength": "20", "raw-sulfide": "2", "raw-iron": "3"}
    answer_all(record, lead, answers=told, without=("steps",))
    start = load_sheet(record, now=NOW).advice.value("next_setting")
    _dialled(record, lead, start, 0.05, 0.5, colour_gone=True)
    # the same setting once more: one faint colour alone does not say enough
    _dialled(record, lead, start, 0.05, 0.5, colour_gone=True, at=NOW + 4 * HOUR)
    acknowledge_all(record, lead)
    return _closed(record, visit, lead)


def softener():
    record, visit, lead = make_house(train=make_train(stages=("softener",)))
    answer_all(record, lead)
    acknowledge_all(record, lead)
    return _closed(record, visit, lead)


def filter_only():
    record, visit, lead = make_house(train=make_train(stages=("filter",)))
    answer_all(record, lead)
    acknowledge_all(record, lead)
    return _closed(record, visit, lead)


def disinfection(*, neighbours=()):
    """The well alone, on a job of its own: poured, left over night, flushed, no use lifted."""
    record, visit, lead = make_house(purpose="disinfect", kind=Job.Kind.DISINFECT)
    record.train.wells.get().also_serves.add(*neighbours)
    told = {"disinfect-scope": "here"}
    flush = ("flush-high", "flush-low", "flush-hot")
    answer_all(record, lead, answers=told, without=("contact", *flush))
    poured(record, lead)
    start_timer(record=record, line_key="contact", by=lead, now=NOW)
    later = NOW + 13 * HOUR
    for key, text in (("flush-high", "0"), ("flush-low", "0.1"), ("flush-hot", "0.1")):
        answer(record, lead, key, text, now=later)
        later += timedelta(minutes=1)
    lifted(DoNotUse.objects.get(level="no_use", site=record.site), lead, at=later)
    acknowledge_all(record, lead, now=later)
    return _closed(record, visit, lead, at=later + HOUR, feeder="unplugged")


def recheck():
    record, visit, lead, at = recheck_under_way()
    return _closed(record, visit, lead, at=at + HOUR)


def recheck_under_way():
    """Two weeks after the start-up: looked at, left as it was, and a bottle is taken along."""
    first = peroxide()
    lead, at = first.closed_by, NOW + 14 * DAY
    job = opened(first.train, Job.Kind.RECHECK, at=at)
    visit = booked(job, lead, at=at, hours=2)
    arrived(visit)
    record = open_record(job=job, purpose="recheck", by=lead, now=at)
    told = {"level-found": "11.5", "raw-iron": "3.1", "customer-words": "Clear since you left."}
    feeder = record.train.stages.get(kind="feeder")
    answer_all(record, lead, answers=told, without=("pump-setting", "steps"), now=at)
    for side in ("found", "left"):
        answer(record, lead, "pump-setting", "20", stage=feeder, side=side, now=at)
    acknowledge_all(record, lead, now=at)
    bottled(record.site, "tap", at=at, by=lead, kind="annual")
    return record, visit, lead, at


def corrected():
    """The iron was read on the wrong scale; the office puts it right the day after."""
    record = peroxide()
    correct_record(
        record=record,
        item_key="raw-iron",
        side="",
        right=Right("2", "read on the wrong scale", "mg/L"),
        by=record.closed_by,
        now=NOW + DAY,
    )
    record.refresh_from_db()
    return record


def found_and_told():
    """The record is closed; the laboratory finds coliform bacteria, and the household is told."""
    record = disinfection()
    at = record.closed_at + 7 * DAY
    sample = sampled(record.site, "raw", "positive", at=at)
    tell_result(
        sample=sample,
        site=record.site,
        adult=spoken_to("C. Prudhomme"),
        by=record.closed_by,
        now=at + 2 * DAY + HOUR,
    )
    return record


def passed_over():
    """The setting does not hold what it should: passed over by name, the dosing pump unplugged."""
    record, visit, lead = make_house()
    answer_all(record, lead, answers={"tap-iron": "0.6"})
    read_final_step(record, lead)
    override_gate(
        record=record,
        line_key="tap-iron",
        reason="old iron in the pipes of the house; flushed for a week, then read again",
        by=lead,
        now=NOW + 4 * HOUR,
    )
    acknowledge_all(record, lead)
    return _closed(record, visit, lead)


CLOSINGS = {
    each.__name__: each
    for each in (
        peroxide,
        chlorine,
        permanganate,
        softener,
        filter_only,
        disinfection,
        recheck,
        corrected,
        found_and_told,
        passed_over,
    )
}


# --- days as they must be read ------------------------------------------------------------------


def day_of(moment):
    """By the clock of the company; no house here has another."""
    local = moment.astimezone(NEW_YORK)
    return local, f"{local:%A}, {local:%B} {local.day}"


def kept_day(day):
    return f"{day:%B} {day.day}, {day.year}"


def clock(moment):
    local, _ = day_of(moment)
    half = "am" if local.hour < 12 else "pm"
    return f"{kept_day(local)}, {local.hour % 12 or 12}:{local.minute:02} {half}"


def squeezed(text):
    """Without any blank: readers of a print put them where they like."""
    return re.sub(r"[\s\u202f\u00a0]+", "", text)
