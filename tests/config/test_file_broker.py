"""Messages appear whole, and a half-written one ends nobody."""

import contextlib
import threading
import time
import uuid
from queue import Empty

import pytest
from kombu import Connection

from config.file_broker import register, whole


@pytest.fixture
def channel(tmp_path):
    register()
    for name in ("messages", "control"):
        (tmp_path / name).mkdir()
    options = {
        "data_folder_in": str(tmp_path / "messages"),
        "data_folder_out": str(tmp_path / "messages"),
        "control_folder": str(tmp_path / "control"),
    }
    with Connection("files://localhost/", transport_options=options) as connection:
        yield connection.default_channel


def test_a_message_comes_back_as_it_was_put(channel, tmp_path):
    channel._put("celery", {"task": "tick", "id": 7})
    assert [file.suffix for file in (tmp_path / "messages").iterdir()] == [".msg"]
    assert channel._get("celery") == {"task": "tick", "id": 7}
    with pytest.raises(Empty):
        channel._get("celery")


@pytest.mark.parametrize("written", ["", '{"task": "ti'])
def test_a_half_written_message_is_no_message(channel, tmp_path, written):
    (tmp_path / "messages" / f"1_{uuid.uuid4()}.celery.msg").write_text(written)
    with pytest.raises(Empty):
        channel._get("celery")


def test_a_draft_is_not_taken(channel, tmp_path):
    (tmp_path / "messages" / f".1_{uuid.uuid4()}.celery.msg.draft").write_text("")
    with pytest.raises(Empty):
        channel._get("celery")


def test_a_reader_beside_a_writer_gets_every_message_whole(channel):
    wanted, found = 300, []

    def write():
        for number in range(wanted):
            channel._put("celery", {"number": number, "ballast": "x" * 5000})

    writer = threading.Thread(target=write)
    writer.start()
    deadline = time.monotonic() + 30
    while len(found) < wanted and time.monotonic() < deadline:
        with contextlib.suppress(Empty):
            found.append(channel._get("celery")["number"])
    writer.join()
    assert sorted(found) == list(range(wanted))


def test_a_table_that_is_being_written_is_read_when_it_is_there(channel, tmp_path):
    table = tmp_path / "control" / "celery.exchange"
    table.write_text("")
    writer = threading.Timer(0.1, table.write_text, ['[["celery", "", "celery"]]'])
    writer.start()
    assert [row.queue for row in channel.get_table("celery")] == ["celery"]
    writer.join()


def test_what_stays_broken_is_said():
    with pytest.raises(ValueError, match="never"):
        whole(lambda: (_ for _ in ()).throw(ValueError("never")))
