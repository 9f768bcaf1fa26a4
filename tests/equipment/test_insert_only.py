"""Evidence is not changed and not deleted, whoever asks; a rebuilt table gets its triggers back."""

from uuid import uuid4

import pytest
from django.core.management import call_command
from django.db import DatabaseError, connection, models, transaction

from equipment import insert_only
from equipment.models import Fill, Measurement, SettingChange, StoredAssessment
from jobs.errors import WrongState
from jobs.models import (
    Act,
    ActAnswer,
    ActNote,
    CallbackFact,
    ChecklistRecord,
    HandoverFact,
    HandoverHelper,
    Happening,
    LogEntry,
    LossFact,
    NoticeTold,
    Recall,
    RecallTold,
    RecordCorrection,
    RuleVersion,
    Verdict,
    VisitTold,
)
from jobs.workflows.log import log
from jobs.workflows.notice_telling import tell_notice
from jobs.workflows.recalls import open_recall
from jobs.workflows.recalls import tell as tell_recall
from jobs.workflows.telling import Adult, Call, tell_by_telephone
from jobs.workflows.verdicts import keep_verdict
from tests.conftest import NOW
from tests.factories import (
    make_fill,
    make_job,
    make_measurement,
    make_notice,
    make_record,
    make_rule,
    make_setting,
    make_site,
    make_staff,
    make_stage,
    make_startup_train,
    make_train,
    make_visit,
)


def make_assessment():
    return StoredAssessment.objects.create(
        name="turnover",
        method_version="turnover/1",
        site=make_site(),
        inputs={},
        results={},
        recorded_at=NOW,
        recorded_by=make_staff("technician"),
    )


def make_telling():
    call = Call("An adult", "518-555-0124", read_back=True)
    return tell_by_telephone(
        visit=make_visit(), sequence=0, call=call, by=make_staff("dispatcher"), now=NOW
    )


def make_notice_told():
    notice = make_notice(site=make_site(), now=NOW, cause="flood")
    adult = Adult("An adult", "door", read_back=True)
    return tell_notice(
        notice=notice, site=notice.site, adult=adult, by=make_staff("dispatcher"), now=NOW
    )


def make_recall_told():
    stage, by = make_stage(), make_staff("dispatcher")
    words = {"title": "Valve", "reason": "Leaks.", "source": "A letter", "caution": "Call us."}
    recall = open_recall(recall=Recall(what=f"kind:{stage.kind}", **words), by=by, now=NOW)
    adult = Adult("An adult", "door", read_back=True)
    return tell_recall(recall=recall, site=stage.train.site, adult=adult, by=by, now=NOW)


def make_correction():
    record = make_record()
    return RecordCorrection.objects.create(
        record=record, version=2, reason="misread", by=record.opened_by, at=NOW
    )


def make_happening():
    return Happening.objects.create(event="visit_closed", day=NOW.date(), at=NOW, site=make_site())


def make_act():
    """Told by a phone and not applied, for whatever reason."""
    return Act.objects.create(
        uuid=uuid4(), user=make_staff("technician"), kind="answer", body={}, received_at=NOW
    )


def make_act_answer():
    return ActAnswer.objects.create(act=make_act(), state="refused", told={}, at=NOW)


def make_act_note():
    act = make_act()
    return ActNote.objects.create(act=act, words="settled by telephone", by=act.user, at=NOW)


def make_verdict():
    keep_verdict(NOW)
    return Verdict.objects.get()


def make_handover():
    train = make_train()
    job = make_job(train=train)
    return HandoverFact.objects.create(
        job=job,
        day=NOW.date(),
        train=train,
        site=train.site,
        installer=make_staff("technician"),
        kind="filter",
        water="untested",
        recorded_at=NOW,
    )


def make_helper():
    return HandoverHelper.objects.create(
        fact=make_handover(), person=make_staff("technician"), did="carried"
    )


def make_report():
    return CallbackFact.objects.create(
        job=make_job(), answer="no", reported_on=NOW.date(), recorded_at=NOW
    )


def make_loss():
    return LossFact.objects.create(
        site=make_site(), day=NOW.date(), how="customer", recorded_at=NOW
    )


def feeder():
    return make_startup_train().stages.get(kind="feeder")


MAKERS = {
    Act: make_act,
    ActAnswer: make_act_answer,
    ActNote: make_act_note,
    Measurement: make_measurement,
    SettingChange: lambda: make_setting(stage=feeder()),
    Fill: lambda: make_fill(stage=feeder()),
    StoredAssessment: make_assessment,
    LogEntry: lambda: log(verb="tested", subject=make_site(), by=None, now=NOW),
    VisitTold: make_telling,
    NoticeTold: make_notice_told,
    RecallTold: make_recall_told,
    RecordCorrection: make_correction,
    Happening: make_happening,
    RuleVersion: lambda: make_rule().versions.get(),
    HandoverFact: make_handover,
    HandoverHelper: make_helper,
    CallbackFact: make_report,
    LossFact: make_loss,
    Verdict: make_verdict,
}
#: the database refuses what the rows of a model do not refuse before
REFUSED = "insert-only|^Facts are never"


def test_every_guarded_model_is_tried_here():
    labels = {model._meta.label for model in [*MAKERS, ChecklistRecord]}
    assert labels == set(insert_only.INSERT_ONLY)


def changed(row):
    """A column with a date and an hour at another moment, or else other words."""
    for each in row._meta.concrete_fields:
        if isinstance(each, models.DateTimeField):
            return {each.name: NOW}
    return {"did": "nothing"}


def raw_delete(row):
    with connection.cursor() as cursor:
        cursor.execute(f"DELETE FROM {row._meta.db_table} WHERE id = %s", [row.pk])


CHANGES = {
    "update": lambda row: type(row).objects.filter(pk=row.pk).update(**changed(row)),
    "save": lambda row: row.save(),
    "delete": lambda row: row.delete(),
    "raw": raw_delete,
}


@pytest.mark.django_db
@pytest.mark.parametrize("model", MAKERS, ids=lambda model: model.__name__)
@pytest.mark.parametrize("how", CHANGES)
def test_evidence_is_refused_any_change(model, how):
    row = MAKERS[model]()
    before = model.objects.filter(pk=row.pk).values().get()
    with pytest.raises((DatabaseError, WrongState), match=REFUSED), transaction.atomic():
        CHANGES[how](row)
    assert model.objects.filter(pk=row.pk).values().get() == before


@pytest.mark.django_db
def test_a_record_is_frozen_when_it_closes_and_not_before():
    record = make_record()
    record.handed_over_to = "the owner"
    record.save()
    record.status, record.closed_at, record.closed_by = "closed", NOW, record.opened_by
    record.save()
    record.handed_over_to = "somebody else"
    with pytest.raises(DatabaseError, match="insert-only"), transaction.atomic():
        record.save()


@pytest.mark.django_db(transaction=True)
def test_a_migration_that_rebuilds_a_table_leaves_the_triggers_standing():
    old = Fill._meta.get_field("lot")
    new = models.CharField(max_length=60, blank=True)
    new.set_attributes_from_name("lot")
    new.model = Fill
    with connection.schema_editor() as editor:
        editor.alter_field(Fill, old, new, strict=True)
    if connection.vendor == "sqlite":  # it drops what hangs on a table it rebuilds
        assert insert_only.missing()
    call_command("migrate", verbosity=0)
    assert insert_only.missing() == []
    with connection.schema_editor() as editor:
        editor.alter_field(Fill, new, old, strict=True)
    call_command("migrate", verbosity=0)


@pytest.mark.django_db
def test_installing_again_changes_nothing():
    insert_only.install()
    assert insert_only.missing() == []
