"""Preparing an installation, and forgetting a demo."""

import pytest

from config.data_folder import make_data_folder
from jobs.management.commands import prepare


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
