"""The service worker as it is served: its list, its name, and the switch that ends it."""

import re

import pytest
from django.contrib.staticfiles import finders
from django.urls import reverse

from jobs.views import phone, shell
from tests.conftest import signed_in

SERVED = phone.Served(
    "/static/runtime/1/", *(f"/static/phone/{name}.zip" for name in ("standard", "field", "t"))
)


@pytest.fixture
def worker(client, db):
    def asked():
        given = client.get(reverse("service-worker"))
        assert given.status_code == 200
        assert given["Content-Type"] == "text/javascript"
        assert given["Cache-Control"] == "no-cache"
        return given.content.decode()

    return asked


def named(text):
    return re.findall(r'^  "([^"]+)",', text, re.M)


def test_it_names_every_file_that_a_page_is_made_of(worker, monkeypatch):
    monkeypatch.setattr(shell, "served", lambda: None)
    names = [name.encode().decode("unicode_escape") for name in named(worker())]
    assert len(names) == len(shell.FILES)
    assert all(finders.find(name.removeprefix("/static/")) for name in names)


def test_it_names_python_where_that_is_served(worker, monkeypatch):
    monkeypatch.setattr(shell, "served", lambda: SERVED)
    names = [name.encode().decode("unicode_escape") for name in named(worker())]
    expected = {SERVED.standard, SERVED.field, SERVED.templates}
    assert expected | {"/static/runtime/1/pyodide.asm.wasm"} <= set(names)
    assert "/static/runtime/1/python_stdlib.zip" not in names


def test_its_cache_has_another_name_once_a_file_holds_something_else(worker, monkeypatch, tmp_path):
    monkeypatch.setattr(shell, "served", lambda: None)
    before = worker()
    changed = tmp_path / "app.css"
    changed.write_text("body { color: red }")
    shell.mark_of.cache_clear()
    monkeypatch.setattr(shell.finders, "find", lambda name: str(changed))
    after = worker()
    shell.mark_of.cache_clear()
    names = [re.search(r'"(shell-\w+)"', text)[1] for text in (before, after)]
    assert names[0] != names[1]


def test_switched_off_it_drops_its_caches_and_leaves_what_was_typed(worker, settings):
    settings.FIELD_OFFLINE = False
    text = worker()
    assert "caches.delete" in text
    assert "unregister" in text
    assert "indexedDB" not in text


def test_switched_off_my_day_offers_nothing(technician, settings):
    assert 'id="take-along"' in signed_in(technician).get(reverse("my-day")).content.decode()
    settings.FIELD_OFFLINE = False
    assert 'id="take-along"' not in signed_in(technician).get(reverse("my-day")).content.decode()
