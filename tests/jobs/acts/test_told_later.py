"""What a phone told and was not applied: the office sees it, corrects with it, takes note of it."""

from datetime import timedelta

import pytest
from django.urls import reverse

from jobs.models import Act, ActNote
from jobs.workflows.records import close_record
from tests.conftest import NOW
from tests.factories import make_staff
from tests.record_scenes import make_ready

from .phone import MINUTE, Phone

pytestmark = pytest.mark.django_db


def text_of(client, name, *args):
    return client.get(reverse(name, args=args)).content.decode()


@pytest.fixture
def late():
    """A reading that was typed before the record was closed, and told after it."""
    record, visit, lead = make_ready()
    close_record(record=record, visit=visit, by=lead, now=NOW + timedelta(hours=6))
    phone = Phone(lead, record, visit)
    phone.answer("raw-iron", "9.5", unit="mg/L", version=1, at=NOW + 12 * MINUTE)
    return phone


def test_the_office_sees_what_was_typed_when_and_why_it_was_not_applied(late, dispatcher_client):
    worklist = text_of(dispatcher_client, "worklist")
    assert 'told by phones<span class="vh"> and not applied</span> <b>1</b>' in worklist
    for page in (
        text_of(dispatcher_client, "told-later"),
        text_of(dispatcher_client, "record-detail", late.record.pk),
        text_of(late.client, "record-detail", late.record.pk),
        text_of(dispatcher_client, "record-print", late.record.pk),
    ):
        assert "Iron, raw: 9.5 mg/L" in page
        assert "not applied" in page
        assert "This record is closed." in page
        assert "done 10 June 2026, 10:12" in page


def test_what_was_typed_is_proposed_as_the_correction(late, dispatcher_client):
    page = text_of(dispatcher_client, "told-later")
    where = page.split("Correct the record with it")[0].rsplit('href="', 1)[1].split('"')[0]
    form = dispatcher_client.get(where.replace("&amp;", "&")).content.decode()
    assert 'value="9.5"' in form
    assert '<option value="mg/L" selected>' in form


def test_somebody_takes_note_under_a_name_once(late, dispatcher_client, dispatcher):
    act = Act.objects.waiting().get()
    where = reverse("told-noted", args=[act.pk])
    assert dispatcher_client.post(where, {"words": " "}).status_code == 422
    said = {"words": "Called Tess: it was a slip."}
    assert dispatcher_client.post(where, said).url == reverse("told-later")
    note = ActNote.objects.get()
    assert (note.words, note.by) == (said["words"], dispatcher)
    assert dispatcher_client.post(where, {"words": "Again."}).status_code == 302
    assert ActNote.objects.get() == note
    assert "Nothing waits" in text_of(dispatcher_client, "told-later")
    assert "Called Tess" in text_of(dispatcher_client, "told-noted", act.pk)
    assert "Told by phones" not in text_of(dispatcher_client, "worklist")


def test_what_was_typed_again_and_kept_needs_nobody(phone):
    phone.answer("raw-ph", "71")
    assert Act.objects.waiting().count() == 1
    phone.answer("raw-ph", "7.1")
    assert not Act.objects.waiting().exists()


def test_an_act_on_a_visit_of_others_is_seen_too(phone, dispatcher_client):
    other = Phone(make_staff("technician"), phone.record, phone.visit)
    other.tell("arrive")
    page = text_of(dispatcher_client, "told-later")
    assert "Arrived, not applied" in page.replace("</b>", "")
    assert "call the office" in page
