"""Nightly copies: whole, checked, restorable, and only so many."""

import os
import sqlite3
import stat
from contextlib import closing
from datetime import timedelta

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection

from jobs.models import Company
from jobs.workflows.backup import BackupFailed, backup_database
from tests.conftest import NOW

ON_SQLITE = connection.vendor == "sqlite"


@pytest.fixture
def folder(settings, tmp_path):
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.BACKUPS_KEPT = 3
    return tmp_path / "backups"


if ON_SQLITE:

    @pytest.mark.django_db(transaction=True)
    def test_copy_holds_committed_rows_and_is_private(folder):
        Company.objects.update_or_create(pk=1, defaults={"name": "Made-up Wells"})
        path = backup_database(now=NOW)
        assert path == folder / "data-20260610-140000.sqlite3"
        assert stat.S_IMODE(path.stat().st_mode) == 0o600
        with closing(sqlite3.connect(path)) as copy:
            assert copy.execute("SELECT name FROM jobs_company").fetchall() == [("Made-up Wells",)]
            assert copy.execute("PRAGMA integrity_check").fetchall() == [("ok",)]

    @pytest.mark.django_db(transaction=True)
    def test_only_the_newest_copies_are_kept(folder):
        made = [backup_database(now=NOW + timedelta(days=day)) for day in range(5)]
        assert sorted(folder.iterdir()) == made[2:]

    @pytest.mark.django_db(transaction=True)
    def test_damaged_copy_is_refused_and_older_copies_stay(folder, monkeypatch):
        first = backup_database(now=NOW)

        def damage(source, draft):
            content = bytearray(first.read_bytes())
            content[-3 * 4096 :] = b"\xff" * (3 * 4096)
            draft.write_bytes(content)

        monkeypatch.setattr("jobs.workflows.backup.copy_database", damage)
        with pytest.raises(BackupFailed):
            backup_database(now=NOW + timedelta(days=1))
        assert list(folder.iterdir()) == [first]

    @pytest.mark.django_db(transaction=True)
    def test_copy_that_can_be_read_and_is_not_whole_is_refused_too(folder, monkeypatch):
        first = backup_database(now=NOW)

        def damage(source, draft):
            draft.write_bytes(first.read_bytes())
            lost = "DELETE FROM sqlite_master WHERE name = 'follow_up_site'"
            with closing(sqlite3.connect(draft)) as copy:
                copy.executescript(f"PRAGMA writable_schema=ON; {lost}")

        monkeypatch.setattr("jobs.workflows.backup.copy_database", damage)
        with pytest.raises(BackupFailed, match="is damaged"):
            backup_database(now=NOW + timedelta(days=1))
        assert list(folder.iterdir()) == [first]

    @pytest.mark.django_db(transaction=True)
    def test_what_a_killed_run_left_is_removed_after_a_day(folder):
        for name, hours in (("draft-old", 25), ("draft-new", 23)):
            (folder / name).mkdir(parents=True)
            at = (NOW - timedelta(hours=hours)).timestamp()
            os.utime(folder / name, (at, at))
        made = backup_database(now=NOW)
        assert set(folder.iterdir()) == {made, folder / "draft-new"}

    @pytest.mark.django_db(transaction=True)
    def test_folder_that_cannot_be_written_is_one_sentence(folder):
        folder.write_text("a file where the folder should be")
        with pytest.raises(CommandError, match="check the disk of"):
            call_command("backup")

else:

    @pytest.mark.django_db
    def test_postgresql_is_left_to_its_own_tools(folder):
        assert backup_database(now=NOW) is None
        with pytest.raises(CommandError, match="pg_dump"):
            call_command("backup")
