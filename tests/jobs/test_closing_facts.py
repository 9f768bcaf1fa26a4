"""What the closing of a record puts down: whose day, whose well, which figures, whose visit."""

from datetime import date, timedelta

import pytest

from equipment.models import Measurement, SpecialUse, StoredAssessment
from jobs.errors import BadEntry
from jobs.fieldwork.keys import PanelName
from jobs.models import ChecklistTemplate, Job
from jobs.workflows.records import close_record, open_record
from tests.acts import HOUR, arrived, booked, closed
from tests.conftest import NOW
from tests.factories import (
    make_job,
    make_measurement,
    make_site,
    make_staff,
    make_train,
    make_visit,
    make_well,
)
from tests.record_scenes import (
    acknowledge_all,
    answer,
    answer_all,
    load_checklists,
    make_house,
    make_ready,
)

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


def ready(*, answers=None, **house):
    record, visit, lead = make_house(**house)
    answer_all(record, lead, answers=answers)
    acknowledge_all(record, lead)
    return record, visit, lead


def softener():
    return make_train(stages=("softener",))


def test_a_record_is_closed_by_a_visit_of_its_job():
    record, _, lead = ready(train=softener())
    _, other, _ = make_house(train=softener())
    with pytest.raises(BadEntry, match="another job"):
        close_record(record=record, visit=other, by=lead, now=NOW + HOUR)


def test_the_day_and_the_installer_are_those_of_the_first_handover():
    """The work was completed by the first visit; who came back the next day closed its record."""
    load_checklists()
    lead, helper = make_staff("technician"), make_staff("technician")
    job = make_job(train=softener(), kind=Job.Kind.SERVICE)
    first = make_visit(job=job, lead=lead, starts_at=NOW)
    second = booked(job, helper, at=NOW + DAY, now=NOW)
    closed(first, at=NOW + HOUR)
    arrived(second)
    purpose = ChecklistTemplate.Purpose.STARTUP
    record = open_record(job=job, purpose=purpose, by=helper, now=NOW + DAY)
    make_measurement(site=record.site, quantity_key="people", value=3)
    answer(record, helper, "uses-asked", "yes", now=NOW + DAY)
    answer_all(record, helper, now=NOW + DAY + HOUR / 2)
    acknowledge_all(record, helper, now=NOW + DAY + HOUR / 2)
    close_record(record=record, visit=second, by=helper, now=NOW + DAY + HOUR)
    job = Job.objects.get(pk=record.job_id)
    assert (job.index_on, job.installer) == (date(2026, 6, 10), lead)


def test_figures_of_the_well_belong_to_the_well_that_the_system_draws_from():
    site = make_site()
    make_well(site=site)
    second = make_well(site=site)
    train = make_train(site=site, well=second, stages=("softener",))
    record, visit, lead = ready(train=train)
    close_record(record=record, visit=visit, by=lead, now=NOW + HOUR)
    of_wells = Measurement.objects.filter(occasion=record.uuid, well__isnull=False)
    assert {row.well for row in of_wells} == {second}


def test_a_use_ticked_at_a_survey_is_noted_on_the_day_it_is_closed():
    told = {"use-dialysis": "yes"}
    record, visit, lead = ready(purpose="survey", kind=Job.Kind.SURVEY, answers=told)
    close_record(record=record, visit=visit, by=lead, now=NOW + DAY)
    assert SpecialUse.objects.get(site=record.site).noted_on == date(2026, 6, 11)


def test_what_is_said_beside_a_box_is_not_kept_as_a_figure():
    record, visit, lead = make_ready(answers={"label-strength": "7"})
    close_record(record=record, visit=visit, by=lead, now=NOW + 5 * HOUR)
    names = {row.name for row in StoredAssessment.objects.filter(occasion=record.uuid)}
    assert PanelName.FEED_SETTING in names
    assert PanelName.SOLUTION_STRENGTH not in names
