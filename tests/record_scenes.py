"""A house, a start-up job with a visit, and answers that pass; tests tell what they are about."""

import json
from datetime import timedelta

from django.conf import settings

from equipment.engineering.oxidant.pump_setting import PumpSetting
from jobs.demo.passing import fill, keep
from jobs.fieldwork.cautions import CAUTIONS
from jobs.models import ChecklistTemplate, Job
from jobs.records.loading import load_sheet
from jobs.workflows import dial_back
from jobs.workflows.answers import Entered, Place, acknowledge_caution
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

#: what the scenes are about: a usual peroxide house that is not disinfected today
READINGS = {
    "disinfect-scope": "not_needed",
    "raw-temperature": "12",
    "lot": "K-17, March 2026",
    "solution-strength": "71.6",
    "solution-level": "12",
    "pump-flow": "8",
    "tap-flow": "5",
    "backwash-flow": "7",
    "feed-drawn": "26",
    "feed-time": "180",
    "hold-start": "60",
    "wash-hour": {"filter": "4", "softener": "5"},
    "raw-iron": "3",
    "raw-sulfide": "2",
    "tap-iron": "< 0.05",
    "peroxide-retention": "8",
    "peroxide-after": "< 0.5",
    "handover-name": "C. Prudhomme",
}


def load_checklists():
    path = settings.BASE_DIR / "fixtures/checklists.json"
    return load_templates(data=json.loads(path.read_text()))


def make_house(
    *, purpose=ChecklistTemplate.Purpose.STARTUP, kind=Job.Kind.STARTUP, train=None, asked=True
):
    """Templates, a train, a job with today's visit, and its open record; uses were asked for."""
    load_checklists()
    train = train or make_startup_train(injection="before", switching="switch_load")
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    job = make_job(train=train, kind=kind)
    visit = make_visit(job=job, lead=lead, starts_at=NOW)
    record = open_record(job=job, purpose=purpose, by=lead, now=NOW)
    make_measurement(site=train.site, quantity_key="people", value=3)
    is_startup = asked and purpose == ChecklistTemplate.Purpose.STARTUP
    if is_startup and load_sheet(record, now=NOW).item("uses-asked"):
        answer(record, lead, "uses-asked", "yes")
    return record, visit, lead


def answer(record, by, key, text, *, stage=None, side="", now=NOW, **entered):
    """One answer; a refusal is raised."""
    entries = {Place(key, stage, side): Entered(text, **entered)}
    keep(record=record, entries=entries, by=by, now=now)
    stage_id = stage.pk if stage else None
    return record.answers.select_related("by").get(line_key=key, stage=stage_id, side=side)


def answer_all(record, by, *, answers=None, without=(), now=NOW):
    """Every line that must be answered passes; warnings are confirmed."""
    told = {**READINGS, **(answers or {})}
    fill(record=record, told=told, by=by, now=now, without=without)


def read_final_step(record, by, *, now=NOW, percent=20, low=5.0, high=10.0):
    """One step read after four hours, kept as final."""
    step = dial_back.set_step(record=record, setting=PumpSetting(percent=percent), by=by, now=now)
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
