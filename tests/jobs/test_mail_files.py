"""Mail as files: whole, private, one for each Message-ID."""

import email
import stat

import pytest
from django.core.mail import EmailMessage, EmailMultiAlternatives

from jobs.mail.files import FileMailBackend, file_name


@pytest.fixture
def folder(settings, tmp_path):
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    return tmp_path / "mail"


def letter(message_id="<visit-1@example.com>", to="ana@example.com"):
    return EmailMultiAlternatives(
        "Recheck on Monday", "Body", "office@example.com", [to], headers={"Message-ID": message_id}
    )


def test_message_is_one_readable_private_file(folder):
    message = letter()
    message.attach_alternative("<p>Body</p>", "text/html")
    message.attach("visit.ics", "BEGIN:VCALENDAR", "text/calendar")
    assert FileMailBackend().send_messages([message]) == 1
    (path,) = folder.iterdir()
    read = email.message_from_bytes(path.read_bytes())
    assert path.name == "visit-1@example.com.eml"
    assert (read["To"], read["Subject"]) == ("ana@example.com", "Recheck on Monday")
    assert read["Message-ID"] == "<visit-1@example.com>"
    assert {part.get_content_type() for part in read.walk()} >= {"text/html", "text/calendar"}
    assert stat.S_IMODE(path.stat().st_mode) == 0o600


def test_same_message_again_stays_one_file(folder):
    assert FileMailBackend().send_messages([letter(), letter()]) == 2
    assert len(list(folder.iterdir())) == 1


def test_message_to_nobody_is_not_counted(folder):
    assert FileMailBackend().send_messages([EmailMessage("Subject", "Body", to=[])]) == 0


def test_nothing_half_written_stays_when_writing_fails(folder, monkeypatch):
    def full_disk(descriptor):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full_disk)
    with pytest.raises(OSError, match="No space left"):
        FileMailBackend().send_messages([letter()])
    assert list(folder.iterdir()) == []


@pytest.mark.parametrize("message_id", ["<../../etc/x@example.com>", "<.hidden>", "<a b/c@d>"])
def test_file_name_never_leaves_the_folder(message_id):
    name = file_name(message_id)
    assert name
    assert "/" not in name
    assert not name.startswith(".")
