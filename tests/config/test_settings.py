"""What the settings promise about files, cookies, time limits and the schedule."""

import stat
from datetime import timedelta

import pytest
from django.conf import settings
from django.core.exceptions import ImproperlyConfigured

from config.data_folder import kept_key, make_data_folder
from config.schedule import beat_schedule

from .test_environment import GOOD_PRODUCTION, run_manage


def read_setting(data_dir, *names, **variables):
    program = "; ".join(f"print(settings.{name})" for name in names)
    answer = run_manage(
        data_dir,
        "shell",
        "-v",
        "0",
        "-c",
        f"from django.conf import settings; {program}",
        **variables,
    )
    assert answer.returncode == 0, answer.stderr
    return answer.stdout.splitlines()


def test_data_folder_is_for_its_owner_only(tmp_path):
    make_data_folder(tmp_path / "data")
    for path in (tmp_path / "data", tmp_path / "data/mail", tmp_path / "data/backups"):
        assert stat.S_IMODE(path.stat().st_mode) == 0o700


def test_a_folder_and_a_database_that_others_may_read_become_private(tmp_path):
    """Made by hand before the first start, or by an older version."""
    data = tmp_path / "data"
    (data / "backups").mkdir(parents=True)
    for path in (data, data / "backups"):
        path.chmod(0o755)
    (data / "data.sqlite3").touch(mode=0o644)
    program = "from django.db import connection; connection.cursor().execute('CREATE TABLE a (b)')"
    run_manage(data, "shell", "-v", "0", "-c", program)
    modes = {path.name: stat.S_IMODE(path.stat().st_mode) for path in data.iterdir()}
    assert stat.S_IMODE(data.stat().st_mode) == 0o700
    assert modes["data.sqlite3"] == 0o600
    assert {mode & 0o077 for mode in modes.values()} == {0}


def test_a_new_database_is_private_and_so_are_its_journals(tmp_path):
    program = (
        "import os; from pathlib import Path; from django.conf import settings;"
        "from django.db import connection;"
        "connection.cursor().execute('CREATE TABLE a (b)');"
        "print(*[oct(path.stat().st_mode & 0o777) for path in"
        " sorted(settings.DATA_DIR.glob('data.sqlite3*'))])"
    )
    answer = run_manage(tmp_path, "shell", "-v", "0", "-c", program)
    assert answer.stdout.split() == ["0o600"] * 3


def test_key_is_made_once_and_private(tmp_path):
    first = kept_key(tmp_path)
    assert kept_key(tmp_path) == first
    assert len(first) >= 50
    assert stat.S_IMODE((tmp_path / "secret-key").stat().st_mode) == 0o600
    assert [path.name for path in tmp_path.iterdir()] == ["secret-key"]


def test_damaged_key_is_said(tmp_path):
    (tmp_path / "secret-key").write_text("")
    with pytest.raises(ImproperlyConfigured, match="delete it"):
        kept_key(tmp_path)


def test_demo_ignores_the_servers_of_an_installation(tmp_path):
    found = read_setting(
        tmp_path,
        *("DATABASES['default']['NAME']", "CELERY_BROKER_URL", "EMAIL_BACKEND", "TICK_SECONDS"),
        DEPLOYMENT="demo",
        DATABASE_URL="postgres://a:b@127.0.0.1/c",
        EMAIL_URL="smtp://127.0.0.1:25",
        CELERY_BROKER_URL="redis://127.0.0.1",
    )
    assert found == [
        str(tmp_path / "demo" / "data.sqlite3"),
        "memory://localhost/",
        "jobs.mail.files.FileMailBackend",
        "2",
    ]


def test_production_cookies_need_tls(tmp_path):
    found = read_setting(
        tmp_path,
        *("SESSION_COOKIE_SECURE", "CSRF_COOKIE_SECURE", "SESSION_COOKIE_NAME"),
        *("SECURE_SSL_REDIRECT", "SECURE_HSTS_SECONDS", "ALLOWED_HOSTS", "TICK_SECONDS"),
        **GOOD_PRODUCTION,
    )
    assert found == [
        *("True", "True", "__Host-session", "True", "31536000", "['jobs.example.org']", "60")
    ]


def test_postgresql_connections_are_bounded(tmp_path):
    name, options = read_setting(
        tmp_path,
        *("DATABASES['default']['NAME']", "DATABASES['default']['OPTIONS']['options']"),
        **GOOD_PRODUCTION,
    )
    assert name == "name"
    assert "statement_timeout=15000" in options


def test_sqlite_waits_instead_of_failing(tmp_path):
    program = (
        "from django.db import connection; c = connection.cursor();"
        "print(*[c.execute('PRAGMA ' + name).fetchone()[0] for name in"
        " ('journal_mode', 'synchronous', 'foreign_keys', 'busy_timeout')],"
        " connection.transaction_mode)"
    )
    answer = run_manage(tmp_path, "shell", "-v", "0", "-c", program)
    # synchronous 2 is FULL (SQLite documentation, PRAGMA synchronous)
    assert answer.stdout.split() == ["wal", "2", "1", "20000", "IMMEDIATE"]


def test_time_limits_stand_in_order():
    lease_seconds = 180  # of a mail that is being sent
    assert settings.EMAIL_TIMEOUT < lease_seconds < settings.CELERY_TASK_SOFT_TIME_LIMIT
    assert settings.CELERY_TASK_SOFT_TIME_LIMIT < settings.CELERY_TASK_TIME_LIMIT
    assert settings.CELERY_TASK_TIME_LIMIT < 600  # Redis hands an unfinished task out again


@pytest.mark.parametrize("seconds", [1, 2, 60])
def test_tick_expires_before_the_next_one_or_with_it(seconds):
    tick = beat_schedule(seconds)["tick"]
    assert tick["schedule"].run_every == timedelta(seconds=seconds)
    assert 1 <= tick["options"]["expires"] <= seconds


def test_a_last_tick_in_the_future_is_due_now():
    """A clock that ran a day ahead and was set back: beat would sleep until it is caught up."""
    schedule = beat_schedule(60)["tick"]["schedule"]
    now = schedule.now()
    assert schedule.is_due(now + timedelta(days=1)) == (True, 60)
    assert schedule.is_due(now - timedelta(seconds=61))[0]
    due, seconds = schedule.is_due(now)
    assert not due
    assert 0 < seconds <= 60


def test_the_clock_keeps_no_file_and_the_work_of_the_night_is_a_row(tmp_path):
    scheduler, names = read_setting(
        tmp_path,
        "CELERY_BEAT_SCHEDULER",
        "__class__ and list(__import__('config.celery').celery.app.conf.beat_schedule)",
        CELERY_BROKER_URL="redis://127.0.0.1",
    )
    assert scheduler == "celery.beat.Scheduler"
    assert names == "['tick']"


def test_without_a_broker_named_it_lies_in_the_memory_of_one_worker(tmp_path):
    names = ("CELERY_BROKER_URL", "CELERY_WORKER_POOL", "OWN_BROKER")
    assert read_setting(tmp_path, *names) == ["memory://localhost/", "solo", "True"]
    assert not (tmp_path / "broker").exists()
    named = read_setting(
        tmp_path, "CELERY_BROKER_URL", "OWN_BROKER", CELERY_BROKER_URL="redis://127.0.0.1"
    )
    assert named == ["redis://127.0.0.1", "False"]


def test_no_task_takes_anything_but_json():
    assert settings.CELERY_ACCEPT_CONTENT == ["json"]
