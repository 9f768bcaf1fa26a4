"""Opening, answering and closing a record."""

from datetime import timedelta

import pytest
from django.contrib.auth.models import User
from django.db import DatabaseError, connection, transaction

from equipment.models import Fill, Measurement, SettingChange, StoredAssessment
from jobs.errors import (
    BadEntry,
    DoNotUseOpen,
    NotAllowed,
    RecordClosed,
    RecordIncomplete,
    WrongState,
)
from jobs.mail.about import record_summary
from jobs.models import (
    Answer,
    ChecklistRecord,
    Document,
    DoNotUse,
    FollowUp,
    Job,
    LogEntry,
    OutboxMail,
)
from jobs.records.loading import load_sheet
from jobs.workflows.answers import Place, override_gate, skip_line
from jobs.workflows.notices import clinic_told
from jobs.workflows.records import close_record, open_record
from jobs.workflows.way_out import WayOut
from tests.acts import lifted
from tests.conftest import NOW
from tests.factories import (
    make_job,
    make_notice,
    make_rule,
    make_special_use,
    make_staff,
    make_startup_train,
    make_visit,
)
from tests.record_scenes import answer, load_checklists, make_house, make_ready

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(hours=5)


def close(record, visit, by, now=LATER):
    return close_record(record=record, visit=visit, by=by, now=now)


# --- opening ---------------------------------------------------------------------------------


def test_a_record_is_begun_once_for_its_job():
    record, _, lead = make_house()
    again = open_record(job=record.job, purpose="startup", by=lead, now=LATER)
    assert again == record
    assert ChecklistRecord.objects.count() == 1


def test_only_who_is_on_a_visit_of_the_job_begins_its_record():
    load_checklists()
    job = make_job(train=make_startup_train(), kind=Job.Kind.STARTUP)
    with pytest.raises(NotAllowed, match="leads or helps"):
        open_record(job=job, purpose="startup", by=make_staff("technician"), now=NOW)


def test_the_helper_may_fill_the_record_too():
    record, visit, _ = make_house()
    helper = make_staff("technician")
    visit.helper = helper
    visit.save()
    assert answer(record, helper, "raw-iron", "3").by == helper


@pytest.mark.parametrize("level", ["no_use", "sample_pending"])
def test_only_no_drinking_stops_a_start_up(level):
    load_checklists()
    train, lead = make_startup_train(), make_staff("technician")
    job = make_job(train=train, kind=Job.Kind.STARTUP)
    make_visit(job=job, lead=lead)
    make_notice(site=train.site, level=level)
    assert open_record(job=job, purpose="startup", by=lead, now=NOW).pk


def test_no_drinking_stops_a_start_up():
    load_checklists()
    train, lead = make_startup_train(), make_staff("technician")
    job = make_job(train=train, kind=Job.Kind.STARTUP)
    make_visit(job=job, lead=lead)
    make_notice(site=train.site, level=DoNotUse.Level.NO_DRINKING)
    with pytest.raises(DoNotUseOpen, match="must not be drunk"):
        open_record(job=job, purpose="startup", by=lead, now=NOW)


@pytest.mark.parametrize(("purpose", "kind"), [("startup", "startup"), ("disinfect", "disinfect")])
def test_home_dialysis_stops_oxidant_and_chlorine_until_the_clinic_knows(purpose, kind):
    load_checklists()
    train, lead = make_startup_train(), make_staff("technician")
    job = make_job(train=train, kind=kind)
    make_visit(job=job, lead=lead)
    use = make_special_use(site=train.site)
    with pytest.raises(DoNotUseOpen, match="clinic"):
        open_record(job=job, purpose=purpose, by=lead, now=NOW)
    clinic_told(special_use=use, whom="Nurse on duty", by=lead, now=NOW)
    assert open_record(job=job, purpose=purpose, by=lead, now=NOW).pk


# --- answers ---------------------------------------------------------------------------------


def test_a_draft_is_kept_on_every_change_and_never_evidence():
    record, _, lead = make_house()
    answer(record, lead, "raw-iron", "3.1")
    kept = answer(record, lead, "raw-iron", "3.2", now=NOW + timedelta(minutes=1))
    assert (kept.text, kept.version) == ("3.2", 2)
    assert Answer.objects.filter(record=record, line_key="raw-iron").count() == 1
    assert Measurement.objects.filter(occasion=record.uuid).count() == 0


def test_a_hard_limit_refuses_keeps_the_draft_and_logs_what_was_typed():
    record, _, lead = make_house()
    answer(record, lead, "raw-ph", "7.1")
    with pytest.raises(BadEntry, match="0 to 14") as refused:
        answer(record, lead, "raw-ph", "71")
    assert refused.value.field == "raw-ph"
    assert Answer.objects.get(record=record, line_key="raw-ph").text == "7.1"
    assert LogEntry.objects.get(verb="answer_refused").data["typed"] == "71"


def test_a_warning_asks_for_one_look_and_is_kept():
    record, visit, lead = make_ready(answers={"raw-iron": "12"})
    kept = Answer.objects.get(record=record, line_key="raw-iron")
    assert kept.warning.startswith("Unusual")
    assert kept.warning_confirmed_at == NOW
    answer(record, lead, "raw-iron", "13", now=LATER)
    with pytest.raises(RecordIncomplete) as refused:
        close(record, visit, lead)
    assert [key for key, _ in refused.value.missing] == ["raw-iron"]


def test_a_figure_usual_in_another_unit_is_asked_about():
    record, _, lead = make_house()
    kept = answer(record, lead, "tap-hardness", "100", unit="gpg")
    assert "Did you mean mg/L?" in kept.warning


def test_strong_peroxide_warns_and_too_strong_is_refused():
    record, _, lead = make_house()
    feeder = load_sheet(record, now=NOW).feeder
    kept = answer(record, lead, "label-strength", "12", stage=feeder)
    assert "damages eyes" in kept.warning
    with pytest.raises(BadEntry, match="at most 35 percent"):
        answer(record, lead, "label-strength", "50", stage=feeder)


def test_two_people_do_not_overwrite_each_other_unseen():
    record, visit, lead = make_house()
    helper = make_staff("technician", first_name="Hal")
    visit.helper = helper
    visit.save()
    first = answer(record, lead, "raw-iron", "3")
    answer(record, helper, "raw-iron", "4", version=first.version)
    with pytest.raises(WrongState, match="Hal"):
        answer(record, lead, "raw-iron", "5", version=first.version)


def test_a_line_of_a_part_needs_that_part():
    record, _, lead = make_house()
    with pytest.raises(BadEntry, match="choose a part"):
        answer(record, lead, "backwash-flow", "9")


# --- closing ---------------------------------------------------------------------------------


def test_closing_is_refused_with_the_list_of_what_is_missing():
    record, visit, lead = make_house()
    with pytest.raises(RecordIncomplete) as refused:
        close(record, visit, lead)
    keys = {key for key, _ in refused.value.missing}
    assert {"isolated", "steps", "stop-first", "caution-oxidant", "handover-name"} <= keys
    record.refresh_from_db()
    assert record.status == "open"


@pytest.mark.parametrize(
    ("key", "text", "says"),
    [
        ("hold-end", "57", "fell by 3 psi"),
        ("tap-iron", "0.4", "at most 0.3"),
        ("switching", "always_live", "must be"),
        ("backwash-flow", "4", "at least"),
    ],
)
def test_a_line_that_must_pass_stops_closing_until_overridden_by_name(key, text, says):
    record, visit, lead = make_ready(answers={key: text})
    with pytest.raises(RecordIncomplete) as refused:
        close(record, visit, lead)
    missing = refused.value.missing
    assert [row[0].split(".")[0] for row in missing] == [key]
    assert says in missing[0][1]
    override_gate(record=record, line_key=key, reason="told the owner", by=lead, now=LATER)
    assert close(record, visit, lead).is_closed


def test_a_gate_is_not_skipped_but_another_line_is_with_a_reason():
    record, visit, lead = make_ready(without=("raw-ph", "no-start"))
    skip_line(record=record, place=Place("raw-ph"), reason="no kit", by=lead, now=NOW)
    skip_line(record=record, place=Place("no-start"), reason="later", by=lead, now=NOW)
    with pytest.raises(RecordIncomplete) as refused:
        close(record, visit, lead)
    assert [key for key, _ in refused.value.missing] == ["no-start"]


def test_two_washes_never_run_in_one_hour():
    record, visit, lead = make_ready()
    softener = load_sheet(record, now=NOW).stage("softener")
    answer(record, lead, "wash-hour", "4", stage=softener, side="left", now=LATER)
    with pytest.raises(RecordIncomplete) as refused:
        close(record, visit, lead)
    assert len(refused.value.missing) == 2
    assert "same hour" in refused.value.missing[0][1]


def test_closing_writes_evidence_settings_fill_and_computed_figures():
    record, visit, lead = make_ready()
    close(record, visit, lead)
    rows = Measurement.objects.filter(occasion=record.uuid)
    iron = rows.get(quantity_key="iron", place="tap")
    assert (iron.comparator, iron.value, iron.entered) == ("<", 0.05, "< 0.05")
    assert iron.site == record.site
    after = rows.get(quantity_key="peroxide", place="after_stage")
    assert after.place_stage.kind == "retention"
    assert rows.get(quantity_key="pump_flow").well == record.train.wells.get()
    settings = {
        (row.name, row.stage.kind): row.new_value
        for row in SettingChange.objects.filter(occasion=record.uuid)
    }
    assert settings["output_percent", "feeder"] == 20
    assert settings["solution_strength_g_l", "feeder"] == 71.6
    assert settings["wash_hour", "softener"] == 5
    fill = Fill.objects.get(occasion=record.uuid, stage__kind="feeder")
    assert (fill.lot, fill.strength_g_l, fill.level_after_gal) == ("K-17, March 2026", 71.6, 12)
    stored = set(
        StoredAssessment.objects.filter(occasion=record.uuid).values_list("name", flat=True)
    )
    assert {"feed-setting", "dial-in", "feeder-calibration", "backwash", "turnover"} <= stored


def test_closing_hands_the_water_over_promises_the_recheck_and_writes_the_mail():
    make_rule()
    record, visit, lead = make_ready()
    close(record, visit, lead)
    record.refresh_from_db()
    assert record.closed_in == visit
    assert record.handed_over_to == "C. Prudhomme"
    assert record.job.index_on.isoformat() == "2026-06-10"
    assert record.job.installer == lead
    record.train.refresh_from_db()
    assert record.train.handed_over_on == record.job.index_on
    promise = FollowUp.objects.get(rule__code="f1")
    assert (promise.due_on - record.job.index_on).days == 14
    assert OutboxMail.objects.filter(template="record_summary").count() == 1


def test_closing_twice_has_one_effect():
    record, visit, lead = make_ready()
    close(record, visit, lead)
    counts = count_rows()
    close(record, visit, lead, now=LATER + timedelta(minutes=1))
    assert count_rows() == counts
    record.refresh_from_db()
    assert record.closed_at == LATER


def count_rows():
    models = (
        Measurement, SettingChange, Fill, StoredAssessment, FollowUp, OutboxMail, Document, LogEntry
    )  # fmt: skip
    return {model.__name__: model.objects.count() for model in models}


class _Broken(RuntimeError):
    pass


def test_a_closing_that_fails_at_its_last_step_leaves_nothing(monkeypatch):
    make_rule()
    record, visit, lead = make_ready()
    before = count_rows()

    def fail(**kwargs):
        raise _Broken

    monkeypatch.setattr(record_summary, "write", fail)
    with pytest.raises(_Broken):
        close(record, visit, lead)
    assert count_rows() == before
    record.refresh_from_db()
    record.job.refresh_from_db()
    assert record.status == "open"
    assert record.job.index_on is None
    monkeypatch.undo()
    assert close(record, visit, lead).is_closed


def test_a_closed_record_takes_no_answers_and_no_changes():
    record, visit, lead = make_ready()
    close(record, visit, lead)
    with pytest.raises(RecordClosed):
        answer(record, lead, "raw-iron", "4", now=LATER)
    with pytest.raises(DatabaseError, match="insert-only"), transaction.atomic():
        ChecklistRecord.objects.filter(pk=record.pk).update(handed_over_to="somebody")


@pytest.mark.parametrize("model", [Measurement, SettingChange, Fill, StoredAssessment])
def test_evidence_is_neither_changed_nor_deleted(model):
    record, visit, lead = make_ready()
    close(record, visit, lead)
    row = model.objects.filter(occasion=record.uuid).first()
    with pytest.raises(DatabaseError, match="insert-only"), transaction.atomic():
        model.objects.filter(pk=row.pk).update(line_key="other")
    with pytest.raises(DatabaseError, match="insert-only"), transaction.atomic():
        model.objects.filter(pk=row.pk)._raw_delete("default")


def test_the_pdf_is_made_once_with_its_checksum():
    record, visit, lead = make_ready()
    close(record, visit, lead)
    document = Document.objects.get(record=record)
    assert bytes(document.content).startswith(b"%PDF-")
    assert len(document.sha256) == 64
    assert document.made_at == LATER


def test_a_disinfected_start_up_leaves_a_sample_pending_and_asks_for_the_sample():
    make_rule(
        "f13",
        event="startup_closed",
        filter={"disinfected": True},
        name="Bacteria sample",
        closing="result_entered",
        offset_days=7,
        subject="site",
    )
    record, visit, lead = make_ready()
    answer(record, lead, "disinfect-scope", "here", now=LATER)
    for item in load_sheet(record, now=LATER).missing():
        key = item.key.split(".")[0]
        line = record.template.lines.get(key=key) if not key.startswith("caution") else None
        if line and line.is_gate:
            override_gate(
                record=record,
                line_key=key,
                reason="for this test",
                way_out=WayOut(unplugged=True, bypass="bypassed"),
                by=lead,
                now=LATER,
            )
    lifted(DoNotUse.objects.get(), lead, at=LATER)
    for item in load_sheet(record, now=LATER).items:
        if item.stops_closing:
            skip_line(
                record=record,
                place=Place(item.line.key, item.stage),
                reason="for this test",
                by=lead,
                now=LATER,
            )
    from tests.record_scenes import acknowledge_all

    acknowledge_all(record, lead)
    close(record, visit, lead)
    assert DoNotUse.objects.standing().get().level == "sample_pending"
    assert FollowUp.objects.filter(rule__code="f13").count() == 1


def test_somebody_else_does_not_close_it():
    record, visit, _ = make_ready()
    with pytest.raises(NotAllowed):
        close(record, visit, make_staff("technician"))


def test_the_log_keeps_ids_and_no_names():
    record, visit, lead = make_ready()
    close(record, visit, lead)
    text = " ".join(str(entry.data) for entry in LogEntry.objects.all())
    assert "Prudhomme" not in text
    assert User.objects.filter(pk=lead.pk).exists()
    assert connection.vendor in ("sqlite", "postgresql")
