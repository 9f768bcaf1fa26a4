"""A house, a start-up job with a visit, and answers that pass; tests spoil what they are about."""

import json
from datetime import timedelta

from django.conf import settings

from jobs.fieldwork.cautions import CAUTIONS
from jobs.models import ChecklistTemplate, Job
from jobs.records.loading import load_sheet
from jobs.workflows import dial_back
from jobs.workflows.answers import Entered, Place, acknowledge_caution, save_answer
from jobs.workflows.checklist_templates import load_templates
from jobs.workflows.records import open_record
from tests.conftest import NOW
from tests.factories import (
    make_job,
    make_measurement,
    make_staff,
    make_startup_train,
    make_visit,
)

#: answers that pass, for the usual peroxide house without disinfection
GOOD = {
    "scope": "new",
    "isolated": "yes",
    "feeder-unplugged": "yes",
    "switching": "switch_load",
    "voltage-same": "yes",
    "injection-valve": "yes",
    "air-gap": "yes",
    "hold-piping": "yes",
    "hold-start": "60",
    "hold-end": "59",
    "hold-minutes": "15",
    "disinfect-scope": "not_needed",
    "disinfect-why": "negative sample in May, well not opened",
    "fill-dry": "yes",
    "soaked": "soaked",
    "raw-temperature": "12",
    "backwash-flow": "9",
    "backwash-minute": "6",
    "clear-minutes": "12",
    "jar-clear": "yes",
    "drain-takes-it": "yes",
    "glass-raw": "clear",
    "glass-treated": "clear",
    "pressure-before": "55",
    "pressure-after": "51",
    "stop-first": "1",
    "stop-second": "2",
    "no-start": "yes",
    "lot": "K-17, March 2026",
    "label-strength": "7",
    "solution-strength": "71.6",
    "solution-level": "12",
    "pump-flow": "8",
    "tap-flow": "5",
    "feed-drawn": "26",
    "feed-time": "180",
    "wash-interval": "3",
    "hardness-set": "18",
    "raw-iron": "3",
    "raw-sulfide": "2",
    "raw-ph": "7.1",
    "tap-iron": "< 0.05",
    "tap-sulfide": "< 0.1",
    "tap-ph": "7.2",
    "peroxide-after": "< 0.5",
    "peroxide-retention": "8",
    "tap-hardness": "10",
    "bypass-left": "service",
    "bypass-shown": "yes",
    "handover-name": "C. Prudhomme",
}
WASH_HOURS = (1, 3, 4, 5)


def load_checklists():
    path = settings.BASE_DIR / "fixtures/checklists.json"
    return load_templates(data=json.loads(path.read_text()))


def make_house(*, purpose=ChecklistTemplate.Purpose.STARTUP, kind=Job.Kind.STARTUP, train=None):
    """Templates, a train, a job with today's visit, and its open record."""
    load_checklists()
    train = train or make_startup_train(injection="before", switching="switch_load")
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    job = make_job(train=train, kind=kind)
    visit = make_visit(job=job, lead=lead, starts_at=NOW)
    record = open_record(job=job, purpose=purpose, by=lead, now=NOW)
    make_measurement(site=train.site, quantity_key="people", value=3)
    return record, visit, lead


def answer(record, by, key, text, *, stage=None, side="", now=NOW, version=None, **entered):
    return save_answer(
        record=record,
        place=Place(key, stage, side),
        entered=Entered(text, **entered),
        by=by,
        now=now,
        version=version,
    )


def answer_all(record, by, *, answers=None, without=(), now=NOW):
    """Every line that applies gets its good answer; warnings are confirmed."""
    answers = {**GOOD, **(answers or {})}
    for _ in range(2):  # some lines apply only after others are answered
        for item in load_sheet(record, now=now).items:
            key = item.line.key
            text = answers.get(key)
            if key == "wash-hour" and key not in (answers or {}):
                text = str(WASH_HOURS[item.stage.position - 1])
            if key in without or text is None or item.text:
                continue
            answer(
                record,
                by,
                key,
                text,
                stage=item.stage,
                confirmed=True,
                now=now,
                side="left" if item.line.is_pair else "",
            )


def read_final_step(record, by, *, now=NOW, percent=20, low=5.0, high=10.0):
    """One step read after four hours, kept as final."""
    step = dial_back.set_step(record=record, setting_percent=percent, by=by, now=now)
    later = now + timedelta(hours=4)
    seen = dial_back.Seen("clear", low, high, iron_clear=True, odour_clear=True)
    dial_back.read_step(record=record, number=step.number, seen=seen, by=by, now=later)
    return dial_back.keep_as_final(record=record, number=step.number, by=by, now=later)


def acknowledge_all(record, by, *, now=NOW):
    for key in load_sheet(record, now=now).red_cautions():
        assert CAUTIONS[key].level == "halt"
        acknowledge_caution(record=record, caution=key, by=by, now=now)


def make_ready(*, answers=None, without=()):
    """A start-up with nothing missing."""
    record, visit, lead = make_house()
    answer_all(record, lead, answers=answers, without=without)
    if "steps" not in without:
        read_final_step(record, lead)
    acknowledge_all(record, lead)
    return record, visit, lead
