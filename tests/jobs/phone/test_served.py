"""What a record page hands a phone, to whom, and that all other pages keep the stricter rule."""

import json
from datetime import datetime

import pytest
from django.core.management import call_command
from django.test import RequestFactory
from django.urls import reverse
from django.utils import timezone
from whitenoise.middleware import WhiteNoiseMiddleware

from jobs.fieldwork.facts_json import from_said
from jobs.phone import building
from jobs.records.loading import load_facts
from jobs.views import phone
from tests.conftest import NOW, signed_in
from tests.factories import make_staff
from tests.record_scenes import answer, make_house

SERVED = phone.Served(
    "/static/runtime/1/", *(f"/static/phone/{name}.zip" for name in ("standard", "field", "t"))
)


@pytest.fixture
def house(db, clock):
    record, _, lead = make_house()
    return record, lead


@pytest.fixture
def brought(monkeypatch):
    monkeypatch.setattr(phone, "served", lambda: SERVED)


def page(person, name, *args):
    return signed_in(person).get(reverse(name, args=args))


def may_compile(answer):
    return "wasm-unsafe-eval" in answer["Content-Security-Policy"]


def test_a_technician_s_record_pages_start_it_and_no_other_page_may(house, brought, dispatcher):
    record, lead = house
    for args in (("record-detail", record.pk), ("record-block", record.pk, "dial-back")):
        answer = page(lead, *args)
        assert may_compile(answer)
        assert "'unsafe-eval'" not in answer["Content-Security-Policy"]
        assert 'data-runtime="/static/runtime/1/"' in answer.content.decode()
        assert reverse("record-facts", args=[record.pk]) in answer.content.decode()
    for args in (("my-day",), ("visit-detail", record.job.visits.get().pk)):
        assert not may_compile(page(lead, *args))
    of_office = page(dispatcher, "record-block", record.pk, "dial-back")
    assert not may_compile(of_office)
    assert "data-runtime" not in of_office.content.decode()


def test_a_closed_record_needs_none(house, brought):
    record, lead = house
    record.__class__.objects.filter(pk=record.pk).update(
        status="closed", closed_at=NOW, closed_by=lead
    )
    assert "data-runtime" not in page(lead, "record-block", record.pk, "dial-back").content.decode()


def test_without_the_runtime_the_page_is_as_it_was(house, monkeypatch):
    record, lead = house
    monkeypatch.setattr(phone, "served", lambda: None)
    answer = page(lead, "record-block", record.pk, "dial-back")
    assert not may_compile(answer)
    assert "jobs/field" not in answer.content.decode()
    assert 'hx-get="/records/' in answer.content.decode()


def test_the_record_is_handed_over_as_it_stands_in_the_company_s_time(house):
    record, lead = house
    answer(record, lead, "hold-piping", "yes", now=NOW)
    said = page(lead, "record-facts", record.pk).json()
    facts = from_said(said["facts"])
    assert facts == load_facts(record, now=NOW)
    assert {row.read_at.utcoffset() for row in facts.answers} == {
        timezone.localtime(NOW).utcoffset()
    }
    assert said["utc_offset_minutes"] == -240  # Eastern daylight time
    assert said["by"] == {"name": "Tess Alder", "id": lead.pk}
    assert datetime.fromisoformat(said["now"]) == NOW


def test_nobody_else_is_handed_it(house):
    record, _ = house
    assert page(make_staff("technician"), "record-facts", record.pk).status_code == 404


# --- where it is served from --------------------------------------------------------------------


def test_it_is_served_where_both_were_packed_and_the_runtime_is_whole(
    tmp_path, settings, monkeypatch
):
    settings.PHONE_DIR = tmp_path
    monkeypatch.setattr(phone.runtime, "is_whole", lambda: True)
    assert phone.served() is None
    names = {"field.zip": "field.1.zip", "templates.zip": "templates.1.zip"}
    (tmp_path / building.MANIFEST).write_text(json.dumps(names))
    (tmp_path / "field.1.zip").touch()
    assert phone.served() is None
    (tmp_path / "templates.1.zip").touch()
    found = phone.served()
    assert found.field == "/static/phone/field.1.zip"
    assert found.runtime == f"/static/runtime/{phone.runtime.VERSION}/"
    assert found.standard == f"{found.runtime}python_stdlib.zip"
    (tmp_path / building.MANIFEST).write_text(json.dumps(names | {"standard.zip": "s.1.zip"}))
    assert phone.served() is None
    (tmp_path / "s.1.zip").touch()
    assert phone.served().standard == "/static/phone/s.1.zip"
    monkeypatch.setattr(phone.runtime, "is_whole", lambda: False)
    assert phone.served() is None


def test_building_packs_what_is_served(tmp_path, settings, monkeypatch):
    settings.PHONE_DIR = tmp_path
    call_command("build_phone")
    monkeypatch.setattr(phone.runtime, "is_whole", lambda: True)
    found = phone.served()
    assert (tmp_path / found.templates.rpartition("/")[2]).stat().st_size > 100_000


def test_a_worker_keeps_to_a_rule_of_its_own():
    serving = WhiteNoiseMiddleware(lambda request: None)
    for name, is_worker in (("worker.js", True), ("field.js", False), ("app.js", False)):
        answer = serving(RequestFactory().get(f"/static/jobs/{name}"))
        assert ("Content-Security-Policy" in answer) == is_worker
        if is_worker:
            rule = answer["Content-Security-Policy"]
            assert "default-src 'none'" in rule
            assert "'unsafe-eval'" not in rule
        answer.file_to_stream.close()
