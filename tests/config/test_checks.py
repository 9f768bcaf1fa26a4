"""System checks that look into the database or at the libraries."""

import sqlite3

from django.core.checks import run_checks

from config import checks
from equipment import insert_only


def test_prepared_database_has_every_trigger(db):
    assert insert_only.guarded_tables()
    assert checks.check_triggers(None, databases=["default"]) == []


def test_missing_triggers_are_named(db):
    insert_only.remove()
    (warning,) = [
        found for found in run_checks(databases=["default"]) if found.id == "revisit.W002"
    ]
    for table in insert_only.guarded_tables():
        for name in insert_only.trigger_names(table):
            assert name in warning.msg
    insert_only.install()
    assert checks.check_triggers(None, databases=["default"]) == []


def test_old_sqlite_is_a_warning_in_production_and_never_a_refusal(settings, monkeypatch):
    settings.IN_PRODUCTION = True
    engine = "django.db.backends.sqlite3"
    monkeypatch.setitem(settings.DATABASES["default"], "ENGINE", engine)
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 51, 2))
    (warning,) = checks.sqlite_warnings()
    assert warning.id == "revisit.W001"
    assert not warning.is_serious()
    # 3.51.3 is the first release without the fault (sqlite.org/changes.html, SQLite, 2026)
    monkeypatch.setattr(sqlite3, "sqlite_version_info", (3, 51, 3))
    assert checks.sqlite_warnings() == []
