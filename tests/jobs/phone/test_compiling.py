"""What a phone starts with is compiled where it is packed; without node it gets the sources."""

import subprocess
import zipfile

import pytest
from django.core.management import call_command

from jobs.management.commands.build_phone import address_of
from jobs.phone import building, compiling, runtime

#: what a phone fetches once, in bytes: a budget of our own
FIRST_TRANSFER = 7_000_000
FILES = {"jobs/a.py": b"A = 1\n", "words.txt": b"unchanged"}


def named_in(place):
    with zipfile.ZipFile(place) as archive:
        return set(archive.namelist())


@pytest.mark.runtime
def test_the_same_tree_makes_the_same_files_all_of_them_compiled(tmp_path, monkeypatch):
    packed = tmp_path / "packed"
    packed.mkdir()
    names = building.build(packed, address_of, compiling.compiled)
    inside = {name: named_in(packed / called) for name, called in names.items()}
    assert not [at for at in inside["field.zip"] | inside["templates.zip"] if at.endswith(".py")]
    assert {"jobs/phone/worker.pyc", "pint/__init__.pyc"} < inside["field.zip"]
    assert {"django/template/engine.pyc", "addresses.json"} < inside["templates.zip"]
    assert "pint/default_en.txt" in inside["field.zip"]
    assert {"decimal.pyc", "dataclasses.pyc", "encodings/cp437.pyc"} < inside["standard.zip"]
    #: imported by what is imported, but not at a start
    assert {"_strptime.py", "doctest.py", runtime.LICENCE} < inside["standard.zip"]
    monkeypatch.setattr(runtime, "FOLDER", tmp_path / "elsewhere" / "runtime")
    again = tmp_path / "again"
    again.mkdir()
    assert building.build(again, address_of, compiling.compiled) == names
    assert len(list((tmp_path / "elsewhere" / "compiled").iterdir())) == 1


@pytest.mark.runtime
def test_all_that_a_phone_fetches_once_is_within_the_budget(tmp_path):
    names = building.build(tmp_path, address_of, compiling.compiled)
    standard = tmp_path / names.pop("standard.zip")
    assert not standard.with_name(f"{standard.name}{building.BROTLI}").exists()
    not_sent = (runtime.LOCK, runtime.STANDARD)
    sent = [runtime.HERE / f"{name}.br" for name in runtime.sums() if name not in not_sent]
    sent += [standard, *(tmp_path / f"{called}{building.BROTLI}" for called in names.values())]
    assert len(sent) == 6
    assert sum(each.stat().st_size for each in sent) < FIRST_TRANSFER


# --- with a node that only writes down what it is asked ---------------------------------------


@pytest.fixture
def node(tmp_path, monkeypatch):
    """What was asked of it; it makes a compiled file of each that it is handed."""
    here = tmp_path / "var" / "runtime"
    monkeypatch.setattr(runtime, "FOLDER", here)
    monkeypatch.setattr(runtime, "HERE", here / runtime.VERSION)
    runtime.HERE.mkdir(parents=True)
    (runtime.HERE / runtime.LICENCE).write_text("as it is")
    ran = []

    def runs(command, **how):
        ran.append(command)
        sources, made = map(compiling.Path, command[-2:])
        for path in sources.rglob("*.py"):
            place = made / "field" / f"{path.relative_to(sources)}c"
            place.parent.mkdir(parents=True, exist_ok=True)
            place.write_bytes(b"compiled " + path.read_bytes())
        (made / "library").mkdir()
        (made / "library" / "re.pyc").write_bytes(b"re")
        return subprocess.CompletedProcess(command, 0, "", "")

    monkeypatch.setattr(compiling.subprocess, "run", runs)
    monkeypatch.setattr(runtime.shutil, "which", lambda name: f"/bin/{name}")
    return ran


def kept():
    return sorted(path.name for path in runtime.FOLDER.with_name("compiled").iterdir())


def test_the_same_files_are_compiled_once_and_others_take_their_place(node):
    ours, standard = compiling.compiled(FILES)
    assert ours == {"jobs/a.pyc": b"compiled A = 1\n", "words.txt": b"unchanged"}
    assert standard == {"re.pyc": b"re", runtime.LICENCE: b"as it is"}
    (first,) = kept()
    assert compiling.compiled(FILES) == (ours, standard)
    assert len(node) == 1
    assert node[0][0] == "/bin/node"
    compiling.compiled(FILES | {"words.txt": b"another"})
    assert len(node) == 2
    assert len(kept()) == 1
    assert kept() != [first]


def test_another_python_compiles_anew(node, tmp_path, monkeypatch):
    compiling.compiled(FILES)
    newer = tmp_path / "newer.sha256"
    newer.write_text(runtime.SUMS.read_text().replace("a", "b"))
    monkeypatch.setattr(runtime, "SUMS", newer)
    compiling.compiled(FILES)
    assert len(node) == 2


def test_who_was_faster_is_not_disturbed(node, monkeypatch):
    compiling.compiled(FILES)
    (name,) = kept()
    made = runtime.FOLDER.with_name("compiled") / name
    made.rename(made.with_name("away"))
    really = compiling.subprocess.run

    def slowly(command, **how):
        done = really(command, **how)
        made.with_name("away").rename(made)
        (made / "library" / "theirs.pyc").touch()
        return done

    monkeypatch.setattr(compiling.subprocess, "run", slowly)
    assert "theirs.pyc" in compiling.compiled(FILES)[1]
    assert kept() == [name]


def test_what_was_not_finished_is_not_taken_for_whole(node, monkeypatch):
    really = compiling.subprocess.run

    def fails(command, **how):
        really(command, **how)
        return subprocess.CompletedProcess(command, 1, "", "odd things\nSyntaxError: there\n")

    monkeypatch.setattr(compiling.subprocess, "run", fails)
    with pytest.raises(runtime.NotHad, match="could not compile: SyntaxError: there"):
        compiling.compiled(FILES)
    assert kept() == []
    monkeypatch.setattr(compiling.subprocess, "run", really)
    assert compiling.compiled(FILES)[0]["jobs/a.pyc"]


@pytest.mark.parametrize("trouble", [OSError("no such program"), subprocess.TimeoutExpired("n", 1)])
def test_a_node_that_does_not_run_is_said(node, monkeypatch, trouble):
    def stops(command, **how):
        raise trouble

    monkeypatch.setattr(compiling.subprocess, "run", stops)
    with pytest.raises(runtime.NotHad, match="node did not run"):
        compiling.compiled(FILES)


def test_without_node_phones_are_sent_the_sources_and_that_is_said(
    tmp_path, settings, monkeypatch, capsys
):
    def has_none(name):
        raise runtime.NotHad(f"neither {name} nor uvx is here")

    monkeypatch.setattr(runtime, "borrowed", has_none)
    monkeypatch.setattr(runtime, "FOLDER", tmp_path / "var" / "runtime")
    settings.PHONE_DIR = tmp_path / "packed"
    settings.PHONE_DIR.mkdir()
    call_command("build_phone")
    said = capsys.readouterr().err
    assert "three times as long" in said
    assert "neither node nor uvx is here" in said
    names = building.packed_in(settings.PHONE_DIR)
    assert set(names) == {"field.zip", "templates.zip"}
    assert "jobs/phone/worker.py" in named_in(settings.PHONE_DIR / names["field.zip"])
