"""A record that a phone begins without signal: carried before it is begun, one once it is told."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from jobs.models import ChecklistRecord
from jobs.workflows.records import TO_BEGIN, open_record
from tests.conftest import NOW, signed_in
from tests.factories import (
    make_job,
    make_special_use,
    make_staff,
    make_startup_train,
    make_visit,
)
from tests.jobs.acts.phone import Phone, kept
from tests.jobs.test_kit import kit_of, row_of
from tests.record_scenes import load_checklists

LATER = NOW + timedelta(hours=2)


@pytest.fixture
def visit(db, clock):
    """A start-up of today that nobody has begun."""
    load_checklists()
    job = make_job(train=make_startup_train(injection="before"), kind="startup")
    return make_visit(job=job, lead=make_staff("technician"), starts_at=NOW)


def begun_without_signal(visit, row, clock):
    """Arrived, begun and answered at the house; told two hours later."""
    phone, name = Phone(visit.lead, visit=visit), row["facts"]["record"]["uuid"]
    clock(LATER)
    phone.tell("arrive", at=NOW)
    opened = phone.tell("record-open", at=NOW, about={"record": name}, purpose="startup")
    about = {"record": name, "needs": opened["uuid"]}
    return opened, phone.answer("raw-iron", "3", unit="mg/L", at=NOW, about=about)


def test_the_kit_carries_it_and_nothing_is_begun(visit):
    client = signed_in(visit.lead)
    with CaptureQueriesContext(connection) as asked:
        client.get(reverse("field-kit"))
    assert not [
        query["sql"]
        for query in asked
        if "checklistrecord" in query["sql"].lower() and query["sql"].startswith("INSERT")
    ]
    row = row_of(visit.lead, visit)
    assert row["record"] == TO_BEGIN + visit.job_id
    assert ChecklistRecord.objects.count() == 0
    begin = row["pages"][reverse("visit-detail", args=[visit.pk])]
    assert f'data-record="{row["facts"]["record"]["uuid"]}"' in begin
    assert f'data-then="{reverse("record-next", args=[row["record"]])}"' in begin
    assert row["first"] == "isolate"
    assert reverse("record-block", args=[row["record"], "raw-water"]) in row["pages"]


def test_it_keeps_its_name_from_one_kit_to_the_next(visit):
    first, second = row_of(visit.lead, visit), row_of(visit.lead, visit)
    assert first["facts"]["record"]["uuid"] == second["facts"]["record"]["uuid"]


def test_what_was_done_in_it_arrives_in_the_record_of_that_name(visit, clock):
    row = row_of(visit.lead, visit)
    opened, answered = begun_without_signal(visit, row, clock)
    record = ChecklistRecord.objects.get()
    assert opened["record"] == row["facts"]["record"]["uuid"] == str(record.uuid)
    assert (answered["state"], kept(record)) == ("kept", [("3", 1)])
    assert record.opened_at == NOW
    visit.refresh_from_db()
    assert visit.arrived_at == NOW
    assert row_of(visit.lead, visit)["record"] == record.pk


def test_the_address_on_the_phone_leads_to_it_and_nobody_else_in(visit, clock):
    row = row_of(visit.lead, visit)
    path = reverse("record-block", args=[row["record"], "raw-water"])
    assert signed_in(visit.lead).get(path).status_code == 404
    begun_without_signal(visit, row, clock)
    page = signed_in(visit.lead).get(path)
    record = ChecklistRecord.objects.get()
    assert reverse("record-answer", args=[record.pk]) in page.content.decode()
    assert signed_in(make_staff("technician")).get(path).status_code == 404


def test_begun_by_the_helper_meanwhile_there_is_one_record(visit, clock):
    row = row_of(visit.lead, visit)
    visit.helper = make_staff("technician")
    visit.save()
    record = open_record(job=visit.job, purpose="startup", by=visit.helper, now=NOW)
    opened, answered = begun_without_signal(visit, row, clock)
    assert opened["record"] == str(record.uuid) != row["facts"]["record"]["uuid"]
    assert (answered["state"], kept(record)) == ("kept", [("3", 1)])
    assert ChecklistRecord.objects.count() == 1


def test_where_it_may_not_be_begun_it_is_not_carried(visit):
    make_special_use(site=visit.job.site)
    row = row_of(visit.lead, visit)
    assert "record" not in row
    assert "Begin the record" not in "".join(row["pages"].values())


def test_refused_when_it_is_told_what_was_typed_in_it_is_refused_with_it(visit, clock):
    row = row_of(visit.lead, visit)
    make_special_use(site=visit.job.site)
    opened, answered = begun_without_signal(visit, row, clock)
    assert opened["state"] == answered["state"] == "refused"
    assert "Home dialysis" in opened["sentence"]
    assert answered["sentence"] == "What this act needs was not kept."


def test_a_job_without_a_usual_record_carries_none(db, clock):
    visit = make_visit(job=make_job(kind="repair"), starts_at=NOW)
    assert "record" not in row_of(visit.lead, visit)


def test_the_card_of_the_day_offers_what_follows_the_arrival(visit):
    pages = kit_of(visit.lead)["pages"] | row_of(visit.lead, visit)["pages"]
    for path in (reverse("my-day"), reverse("visit-detail", args=[visit.pk])):
        assert f'data-act="arrive" data-visit="{visit.pk}"' in pages[path]
        there = pages[path].split(f'data-there="{visit.pk}" hidden>')[1].split("</div>")[0]
        assert "Begin the record: start-up" in there
        assert f'data-begun="{visit.pk}" hidden>Go on with the record' in there
