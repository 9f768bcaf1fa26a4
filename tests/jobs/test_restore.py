"""A copy is put back: nothing that may have left before leaves again until the owner says so."""

import sqlite3
import stat
from contextlib import closing
from datetime import timedelta
from io import StringIO
from pathlib import Path

import pytest
from django.core import mail as django_mail
from django.core.management import call_command
from django.core.management.base import CommandError
from django.db import connection
from django.urls import reverse

from equipment import insert_only
from jobs.mail.about import password_reset
from jobs.models import Customer, LogEntry, MailHold, OutboxMail, Visit
from jobs.workflows import restore
from jobs.workflows.backup import backup_database
from jobs.workflows.tick import scan
from tests.conftest import NOW, make_person, signed_in
from tests.jobs.mail.letters import customer_mail

ON_SQLITE = connection.vendor == "sqlite"
State = OutboxMail.State
LATER = NOW + timedelta(hours=1)


@pytest.fixture(autouse=True)
def _clock(clock, settings, tmp_path):
    settings.BACKUP_DIR = tmp_path / "backups"
    settings.BACKUPS_KEPT = 3
    clock(LATER)


def sent_to():
    return sorted(letter.to[0] for letter in django_mail.outbox)


def twelve_letters_sent_after_the_copy():
    """Twelve visits are booked, the nightly copy is made, then the letters leave."""
    for _ in range(12):
        customer_mail(days=30)
    return lambda: scan(clock=lambda: NOW + timedelta(minutes=1))


def put_back(*words):
    out = StringIO()
    call_command("restore", *words, stdout=out)
    return out.getvalue()


def look_after_restore(owner):
    """What the owner reads on the page of messages, in one line."""
    page = signed_in(owner).get(reverse("messages")).content.decode()
    return " ".join(page.split())


if ON_SQLITE:

    @pytest.mark.django_db(transaction=True)
    def test_a_restored_copy_mails_nobody_twice(settings):
        owner = make_person("omar", "owner")
        send = twelve_letters_sent_after_the_copy()
        copy = backup_database(now=NOW)
        send()
        first = sent_to()
        assert len(first) == 12
        said = put_back(str(copy))
        assert "12 messages wait" in said
        scan(clock=lambda: LATER)
        scan(clock=lambda: LATER + timedelta(days=1))  # the tick writes what it thinks is due
        assert sent_to() == first
        assert "The database was put back" in look_after_restore(owner)
        assert "12 messages kept back" in look_after_restore(owner)
        assert "the owner decides" in signed_in(owner).get("/worklist/").content.decode()
        hold = MailHold.objects.get()
        signed_in(owner).post(f"/holds/{hold.pk}/settle/", {"act": "before"})
        scan(clock=lambda: LATER + timedelta(days=2))
        assert sent_to() == first
        dropped = OutboxMail.objects.filter(state=State.SKIPPED)
        assert {row.last_error for row in dropped} == {"Had left before the restore, says omar."}

    @pytest.mark.django_db(transaction=True)
    def test_the_former_database_is_kept_whole_and_the_new_one_is_private_and_guarded(settings):
        target = Path(connection.settings_dict["NAME"])
        Customer.objects.create(name="Made-up before", email="a@example.com")
        copy = backup_database(now=NOW)
        Customer.objects.create(name="Made-up after", email="b@example.com")
        put_back(str(copy))
        assert list(Customer.objects.values_list("name", flat=True)) == ["Made-up before"]
        assert insert_only.missing("default") == []
        assert stat.S_IMODE(target.stat().st_mode) == 0o600
        assert not list(target.parent.glob("*.draft*"))
        (kept,) = settings.BACKUP_DIR.glob("before-restore-*.sqlite3")
        with closing(sqlite3.connect(kept)) as former:
            names = former.execute("SELECT name FROM jobs_customer ORDER BY 1").fetchall()
        assert names == [("Made-up after",), ("Made-up before",)]

    @pytest.mark.django_db(transaction=True)
    @pytest.mark.parametrize(
        ("damage", "said"),
        [
            ("text", "Nothing was restored"),
            ("cut", "Nothing was restored"),
            ("absent", "There is no file"),
            ("PRAGMA foreign_keys=OFF; DELETE FROM jobs_visit", "without their parent in jobs_"),
        ],
    )
    def test_what_is_no_whole_copy_changes_nothing(settings, tmp_path, damage, said):
        customer_mail(days=30)
        Customer.objects.update(name="Made-up")
        file = backup_database(now=NOW)
        content = file.read_bytes()
        if damage == "text":
            file.write_text("no database at all " * 500)
        elif damage == "cut":
            file.write_bytes(content[: len(content) // 2])
        elif damage == "absent":
            file.unlink()
        else:
            with closing(sqlite3.connect(file)) as copy:
                copy.executescript(damage)
        with pytest.raises(CommandError, match=said):
            put_back(str(file))
        assert Customer.objects.get().name == "Made-up"
        assert not MailHold.objects.exists()

    @pytest.mark.django_db(transaction=True)
    def test_a_running_worker_is_no_time_to_restore():
        copy = backup_database(now=NOW)
        scan(clock=lambda: LATER - timedelta(seconds=1))
        with pytest.raises(CommandError, match="stop the product first"):
            put_back(str(copy))

    @pytest.mark.django_db(transaction=True)
    def test_old_sign_ins_end_with_a_restore(client, settings):
        signed = signed_in(make_person("dana", "dispatcher"))
        copy = backup_database(now=NOW)
        assert signed.get("/worklist/").status_code == 200
        put_back(str(copy))
        assert signed.get("/worklist/").status_code == 302

else:

    @pytest.mark.django_db
    def test_postgresql_is_put_back_by_its_own_tools_first(tmp_path):
        (tmp_path / "dump").write_text("x")
        with pytest.raises(CommandError, match="pg_restore"):
            put_back(str(tmp_path / "dump"))


@pytest.mark.django_db
def test_what_was_put_back_already_is_held_too(owner):
    customer_mail(days=30)
    assert "1 messages wait" in put_back("--in-place")
    scan(clock=lambda: LATER)
    assert django_mail.outbox == []
    assert MailHold.objects.get().kind == "restored"


@pytest.mark.django_db
def test_a_link_to_sign_in_goes_out_although_mail_is_held(client, owner):
    password_reset.write(user=owner, now=NOW)  # asked for before the restore
    restore.make_safe(migrate=lambda: None, now=LATER)
    client.post("/password/", {"email": owner.email})
    scan(clock=lambda: LATER)
    assert sent_to() == [owner.email]


@pytest.mark.django_db
def test_only_the_owner_releases_and_then_all_goes_out(owner, dispatcher):
    customer_mail(days=30)
    restore.make_safe(migrate=lambda: None, now=LATER)
    hold = MailHold.objects.get()
    page = signed_in(dispatcher).post(f"/holds/{hold.pk}/release/", follow=True).content.decode()
    assert "the owner decides what goes out" in page
    scan(clock=lambda: LATER)
    assert django_mail.outbox == []
    signed_in(owner).post(f"/holds/{hold.pk}/release/")
    scan(clock=lambda: LATER)
    assert len(django_mail.outbox) == 1
    assert LogEntry.objects.get(verb="mail_released").by == owner
    assert Visit.objects.count() == 1


@pytest.mark.parametrize("words", [(), ("a", "--in-place")])
def test_a_file_or_in_place_is_named_not_both(words):
    with pytest.raises(CommandError, match="Name the copy"):
        call_command("restore", *words)
