"""A closed record is corrected by a newer version; what rests on the figure follows."""

import pytest
from django.db import DatabaseError, transaction
from django.urls import reverse

from equipment.models import Measurement, SettingChange, StoredAssessment
from jobs.errors import BadEntry
from jobs.models import Document, OutboxMail, RecordCorrection
from jobs.workflows.corrections import Right, correct_record
from jobs.workflows.records import close_record
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.record_scenes import make_ready

pytestmark = pytest.mark.django_db


@pytest.fixture
def closed(clock):
    record, visit, lead = make_ready()
    record = close_record(record=record, visit=visit, by=lead, now=NOW)
    return record, lead, signed_in(lead)


def put_right(client, record, key, **typed):
    where = reverse("record-correct", args=[record.pk]) + f"?item={key}&side="
    return client.post(where, typed, follow=True)


def test_a_corrected_figure_is_read_everywhere_and_the_old_print_stays(closed):
    record, lead, client = closed
    first = Document.objects.get()
    answered = put_right(
        client, record, "raw-iron", text="2", unit="mg/L", reason="read on the wrong scale"
    )
    html = answered.content.decode()
    assert "Version 2:" in html
    assert "Iron, raw: 2 mg/L instead of 3 mg/L" in html
    assert "read on the wrong scale" in html
    newest = Document.objects.first()
    assert reverse("document", args=[newest.pk]) in html
    assert ", replaced" in html
    old = client.get(reverse("document", args=[first.pk]))
    assert old.content == bytes(first.content)
    assert "replaced" in old["Content-Disposition"]
    assert newest.sha256 != first.sha256
    standing = Measurement.objects.standing().get(occasion=record.uuid, line_key="raw-iron")
    assert (standing.value, standing.corrects.value) == (2, 3)
    printed = client.get(reverse("record-print", args=[record.pk])).content.decode()
    assert "Why: read on the wrong scale. Tess Alder." in printed
    mail = OutboxMail.objects.get(template="record_corrected")
    assert mail.context["record"] == record.pk


def test_what_was_worked_out_and_set_follows_the_correction(closed):
    record, lead, client = closed
    feeder = record.train.stages.get(kind="feeder")
    key = f"solution-strength.{feeder.pk}"
    before = StoredAssessment.objects.standing().get(occasion=record.uuid, name="feed-setting")
    answered = put_right(client, record, key, text="35", unit="g/L", reason="mixed by half")
    assert "Version 2:" in answered.content.decode()
    after = StoredAssessment.objects.standing().get(occasion=record.uuid, name="feed-setting")
    assert after.corrects == before
    setting = SettingChange.objects.standing().get(stage=feeder, line_key="solution-strength")
    assert (setting.new_value, setting.corrects.new_value) == (35, 71.6)


def test_it_asks_a_reason_a_change_and_a_person_who_was_there(closed):
    record, lead, client = closed
    html = put_right(client, record, "raw-iron", text="2", unit="mg/L", reason="").content.decode()
    assert "Say why it is corrected" in html
    html = put_right(client, record, "raw-iron", text="3", unit="mg/L", reason="x").content.decode()
    assert "what the record says already" in html
    html = put_right(client, record, "raw-iron", text="a", unit="mg/L", reason="x").content.decode()
    assert "Not corrected" in html
    assert not RecordCorrection.objects.exists()
    other = signed_in(make_staff("technician"))
    assert other.get(reverse("record-correct", args=[record.pk])).status_code == 404


def test_the_closed_record_and_its_versions_are_frozen(closed, dispatcher):
    record, _, _ = closed
    row = correct_record(
        record=record,
        item_key="raw-iron",
        side="",
        right=Right("2", "wrong scale", "mg/L"),
        by=dispatcher,
        now=NOW,
    )
    for change in (row.delete, row.save, record.save):
        with pytest.raises(DatabaseError), transaction.atomic():
            change()


def test_a_correction_says_why(closed):
    record, lead, client = closed
    with pytest.raises(BadEntry, match="Say why"):
        correct_record(
            record=record, item_key="raw-iron", side="", right=Right("2", "  "), by=lead, now=NOW
        )
    assert not OutboxMail.objects.filter(template="record_corrected").exists()
