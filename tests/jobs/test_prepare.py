"""Preparing an installation, and forgetting a demo."""

from io import StringIO

import pytest
from django.core.management import call_command

from config.data_folder import make_data_folder
from equipment.models import Medium
from jobs.management.commands import prepare
from jobs.models import ChecklistTemplate, FollowUpRule


@pytest.fixture
def demo(settings, tmp_path):
    settings.DATA_DIR = tmp_path / "demo"
    make_data_folder(settings.DATA_DIR)
    (tmp_path / "data.sqlite3").write_text("an installation's own")
    return settings.DATA_DIR


def test_forgetting_a_demo_empties_its_own_folder_only(demo, monkeypatch):
    monkeypatch.setattr(prepare.connections, "close_all", lambda: None)
    for name in ("data.sqlite3", "data.sqlite3-wal", "secret-key", "mail/1.eml"):
        (demo / name).write_text("x")
    (demo / "media" / "photos").mkdir()
    prepare.forget_demo()
    assert {path.name for path in demo.iterdir() if path.is_file()} == {"secret-key"}
    assert [path for part in prepare.DEMO_PARTS for path in (demo / part).iterdir()] == []
    assert (demo.parent / "data.sqlite3").exists()


def test_preparing_again_changes_nothing(db):
    call_command("prepare", stdout=StringIO())
    tables = (Medium, FollowUpRule, ChecklistTemplate)
    first = [list(table.objects.order_by("pk").values()) for table in tables]
    assert all(first)
    call_command("prepare", stdout=StringIO())
    assert [list(table.objects.order_by("pk").values()) for table in tables] == first
