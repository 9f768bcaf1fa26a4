"""What the office changed while a phone was below: each act is judged by what stands now."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Act, ChecklistRecord, ChecklistTemplate, Company, Job
from jobs.models.notices import DoNotUse
from jobs.records.loading import load_sheet
from jobs.workflows import visits
from jobs.workflows.checklist_templates import change_line
from jobs.workflows.notices import Danger, open_notice
from jobs.workflows.owner_edits import save_owned, version_of
from jobs.workflows.records import to_begin
from tests.conftest import NOW
from tests.factories import make_job, make_staff, make_startup_train, make_visit
from tests.record_scenes import answer, load_checklists

from .phone import LATER, MINUTE, Phone, kept, moment

pytestmark = pytest.mark.django_db

HOUR = timedelta(hours=1)


@pytest.fixture
def begun_below():
    """A phone with a start-up that is begun on it: nothing of it is with the office yet."""
    load_checklists()
    lead = make_staff("technician", first_name="Tess", last_name="Alder")
    train = make_startup_train(injection="before", switching="switch_load")
    job = make_job(train=train, kind=Job.Kind.STARTUP)
    visit = make_visit(job=job, lead=lead, starts_at=NOW)
    return Phone(lead, to_begin(job=job, by=lead, now=NOW), visit)


def put_company(by, at, **fields):
    """The owner's page keeps figures of the company."""
    company = Company.load()
    seen = version_of(company)
    for name, value in fields.items():
        setattr(company, name, value)
    save_owned(row=company, seen=seen, by=by, now=at)


# --- the visit was cancelled --------------------------------------------------------------------


def test_a_visit_that_was_cancelled_keeps_every_word_for_the_office(
    begun_below, dispatcher, dispatcher_client
):
    phone = begun_below
    visits.cancel_visit(visit=phone.visit, reason="They are away", by=dispatcher, now=NOW + MINUTE)
    there = phone.tell("arrive", at=NOW + 5 * MINUTE)
    begun = phone.tell("record-open", purpose="startup", at=NOW + 6 * MINUTE)
    phone.visit = None
    read = phone.answer("raw-iron", "3", unit="mg/L", needs=begun["uuid"], at=NOW + 9 * MINUTE)
    assert [said["state"] for said in (there, begun, read)] == ["refused"] * 3
    assert there["sentence"] == begun["sentence"]
    assert "cancelled: call the office" in there["sentence"]
    assert not ChecklistRecord.objects.exists()
    assert Act.objects.waiting().count() == 3
    page = " ".join(dispatcher_client.get(reverse("told-later")).content.decode().split())
    assert page.count("cancelled: call the office") == 2
    assert "Iron, raw: 3 mg/L" in page
    assert page.count(begun_below.record.site.street) >= 3, "each with the house it is about"


def test_an_open_record_is_filled_by_nobody_whose_visit_was_cancelled(phone, dispatcher):
    visits.cancel_visit(visit=phone.visit, reason="They are away", by=dispatcher, now=NOW + MINUTE)
    said = phone.answer("raw-iron", "3")
    assert (said["state"], kept(phone.record)) == ("refused", [])
    assert Act.objects.waiting().get().answer.record == phone.record


def test_with_another_visit_of_the_job_the_same_entry_is_kept_as_of_when_it_was_read(
    phone, dispatcher
):
    read = NOW + 5 * MINUTE
    visits.cancel_visit(visit=phone.visit, reason="They are away", by=dispatcher, now=NOW + MINUTE)
    first = phone.answer("raw-iron", "3", unit="mg/L", at=read)
    assert (first["state"], first["asks"]) == ("refused", "visit")
    assert "cancelled: call the office" in first["sentence"]
    own = phone.client.get(reverse("record-detail", args=[phone.record.pk]))
    assert own.status_code == 200, "it stays readable"
    too_early = phone.answer("raw-iron", "3", unit="mg/L", at=read, after=first["uuid"])
    assert (too_early["state"], too_early["asks"]) == ("refused", "visit")
    make_visit(job=phone.record.job, lead=phone.user, starts_at=LATER + 24 * HOUR)
    again = phone.answer("raw-iron", "3", unit="mg/L", at=read, after=too_early["uuid"])
    assert (again["state"], kept(phone.record)) == ("kept", [("3", 1)])
    assert phone.record.answers.get(line_key="raw-iron").read_at == read


def test_who_never_had_a_visit_of_the_job_is_asked_to_send_nothing_again(phone):
    other = Phone(make_staff("technician", first_name="Una", last_name="Birch"), phone.record)
    said = other.answer("raw-iron", "3")
    assert (said["state"], "asks" in said) == ("refused", False)


# --- the checklist was changed ------------------------------------------------------------------


def without_iron(owner, at):
    """The owner takes a range off a question: a newer version of the list stands."""
    current = ChecklistTemplate.objects.get(purpose="startup", is_current=True)
    return change_line(
        template=current, key="raw-iron", changes={"hard_max": 1.0}, by=owner, now=at
    )


def test_a_record_keeps_the_checklist_it_was_begun_with(phone, owner):
    was = phone.record.template
    newer = without_iron(owner, NOW + MINUTE)
    assert newer.version > was.version
    assert phone.answer("raw-iron", "3", unit="mg/L")["state"] == "kept"
    phone.record.refresh_from_db()
    assert phone.record.template == was


def test_so_does_one_that_was_begun_on_the_phone(begun_below, owner):
    phone = begun_below
    was = phone.record.template
    without_iron(owner, NOW + MINUTE)
    told = {"purpose": "startup", "version": was.version}
    begun = phone.tell("record-open", at=NOW + 2 * MINUTE, **told)
    read = phone.answer("raw-iron", "3", unit="mg/L", needs=begun["uuid"], at=NOW + 3 * MINUTE)
    assert (begun["state"], read["state"]) == ("kept", "kept")
    record = ChecklistRecord.objects.get()
    assert record.template == was
    assert record.answers.get(line_key="raw-iron").text == "3"


def test_a_version_that_never_was_is_the_one_that_stands(begun_below):
    begun = begun_below.tell("record-open", purpose="startup", version=999)
    assert begun["state"] == "kept"
    assert ChecklistRecord.objects.get().template.is_current


# --- a limit of the company was changed ---------------------------------------------------------


@pytest.fixture
def disinfects(phone, owner):
    """A limit that was kept a day before, and a page that asks for it."""
    put_company(owner, NOW - 24 * HOUR, shock_target_mg_l=50)
    answer(phone.record, phone.user, "disinfect-scope", "here")
    return phone


def reads_at_hose(phone, text="60", **more):
    return phone.answer("chlorine-mixed", text, unit="mg/L", at=NOW + 5 * MINUTE, **more)


def test_what_passes_by_the_limit_on_the_phone_alone_is_kept_and_said(disinfects, owner):
    put_company(owner, NOW + 30 * MINUTE, shock_target_mg_l=100)
    said = reads_at_hose(disinfects)
    assert (said["state"], kept(disinfects.record, "chlorine-mixed")) == ("kept", [("60", 1)])
    assert "The company has changed it since" in said["against"]
    assert "100" in said["against"], "the new sentence, with the new limit"
    item = load_sheet(disinfects.record, now=LATER).item("chlorine-mixed")
    assert said["against"].endswith(item.sentence)
    assert Act.objects.waiting().get().answer.against == said["against"]


def test_the_limit_counts_that_the_phone_was_handed_not_that_of_the_hour(disinfects, owner):
    """Typed after the change, by a phone that has been without signal since before it."""
    put_company(owner, NOW + MINUTE, shock_target_mg_l=100)
    from_kit = reads_at_hose(disinfects, about={"kit": moment(NOW - HOUR)})
    assert "changed it since" in from_kit["against"]


@pytest.mark.parametrize("made", ["", "yesterday", "2026-13-45T00:00:00Z", moment(NOW + MINUTE)])
def test_a_phone_that_knew_it_is_told_nothing_twice(disinfects, owner, made):
    put_company(owner, NOW - HOUR, shock_target_mg_l=100)
    said = reads_at_hose(disinfects, about={"kit": made})
    assert (said["state"], said.get("against")) == ("kept", None)


def test_what_passes_still_or_never_did_is_no_news(disinfects, owner):
    put_company(owner, NOW + 30 * MINUTE, shock_target_mg_l=100)
    assert "against" not in reads_at_hose(disinfects, "120")
    assert "against" not in reads_at_hose(disinfects, "10", version=1)


def on_the_owners_page(client, **fields):
    page = client.get(reverse("company"))
    form = {row.html_name: row.value() for row in page.context["form"] if row.value() is not None}
    answered = client.post(reverse("company"), form | fields | {"seen": page.context["seen"]})
    assert answered.status_code == 302


@pytest.mark.parametrize("since_h", [-24, 1], ids=["long before", "after the phone left"])
def test_the_first_change_of_all_is_said_too(phone, owner, owner_client, clock, since_h):
    """No limit had ever been changed: those of the start count, whoever asked for them first."""
    Company.history.all().delete()
    Company.objects.all().delete()
    clock(NOW + since_h * HOUR)
    assert Company.load().shock_target_mg_l == 100
    answer(phone.record, phone.user, "disinfect-scope", "here")
    clock(LATER - MINUTE)
    on_the_owners_page(owner_client, shock_target_mg_l=150)
    clock(LATER)
    said = reads_at_hose(phone, "120", about={"kit": moment(NOW - HOUR)})
    assert (said["state"], kept(phone.record, "chlorine-mixed")) == ("kept", [("120", 1)])
    assert "The company has changed it since" in said["against"]
    assert "150" in said["against"]


# --- a notice was raised ------------------------------------------------------------------------


def test_over_a_notice_readings_are_kept_and_what_lies_ahead_is_refused(phone, dispatcher):
    answer(phone.record, phone.user, "disinfect-scope", "here")
    danger = Danger(
        site=phone.record.site,
        well=phone.record.site.wells.get(),
        level=DoNotUse.Level.NO_DRINKING,
        cause=DoNotUse.Cause.FLOOD,
        reason="The creek stood over the cap",
    )
    open_notice(danger=danger, by=dispatcher, now=NOW + MINUTE)
    assert phone.answer("raw-iron", "3", at=NOW + 5 * MINUTE)["state"] == "kept"
    ahead = phone.tell("timer-start", line="contact", sure=True, at=NOW + 6 * MINUTE)
    assert (ahead["state"], phone.record.timers.count()) == ("refused", 0)
    assert phone.answer("raw-sulfide", "2", at=NOW + 7 * MINUTE)["state"] == "kept"
    page = phone.client.get(reverse("record-detail", args=[phone.record.pk])).content.decode()
    assert "The creek stood over the cap" in page, "red at once where the record is opened again"
