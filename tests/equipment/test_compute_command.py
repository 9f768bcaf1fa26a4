"""The compute command: one JSON object or one line of refusal, from the shell and from code."""

import io
import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from django.core.management import CommandError, call_command

ROOT = Path(__file__).parents[2]
BUCKET = ("bucket-flow", "volume=5 gal", "time=30 s")


def shell(*words, cwd=ROOT):
    """The command as typed, in a bare environment without settings of an installation."""
    bare = {"PATH": os.environ["PATH"], "LANG": "C.UTF-8"}
    return subprocess.run(
        [sys.executable, str(ROOT / "manage.py"), "compute", *words],
        capture_output=True,
        text=True,
        env=bare,
        cwd=cwd,
        check=False,
        timeout=60,
    )


def called(*words):
    out = io.StringIO()
    call_command("compute", *words, stdout=out)
    return out.getvalue()


def test_shell_prints_one_json_object_and_exits_0(tmp_path):
    done = shell(*BUCKET, cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert done.stderr == ""
    printed = json.loads(done.stdout)
    # 5 gal in half a minute is 10 gpm: the definition of flow
    assert printed["results"]["flow"] == {"value": pytest.approx(10), "unit": "gpm"}
    assert list(printed) == [
        "name",
        "method_version",
        "inputs",
        "results",
        "warnings",
        "cautions",
        "sources",
    ]


def test_shell_refuses_with_one_line_and_exits_2(tmp_path):
    done = shell("bucket-flow", "volume=5", "time=30 s", cwd=tmp_path)
    assert done.returncode == 2
    assert done.stdout == ""
    assert done.stderr.count("\n") == 1
    assert done.stderr.startswith("volume: needs a unit")


def test_shell_lists_and_explains(tmp_path):
    assert "bucket-flow" in shell("--list", cwd=tmp_path).stdout
    helped = shell("bucket-flow", "--help", cwd=tmp_path)
    assert helped.returncode == 0
    assert "volume" in helped.stdout


def test_shell_takes_another_unit(tmp_path):
    done = shell(*BUCKET, "--unit", "flow=L/min", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    flow = json.loads(done.stdout)["results"]["flow"]
    assert flow == {"value": pytest.approx(37.854, abs=0.001), "unit": "L/min"}


def test_call_command_writes_to_stdout():
    assert json.loads(called(*BUCKET))["name"] == "bucket-flow"
    assert called(*BUCKET).count("\n") == 1


def test_call_command_takes_every_word_of_the_shell():
    lines = called("--list").splitlines()
    assert [line.split()[0] for line in lines] == sorted(line.split()[0] for line in lines)
    assert "Results:" in called("bucket-flow", "--help")
    for words in (("--unit", "flow=L/min"), ("--unit=flow=L/min",)):
        assert json.loads(called(*BUCKET, *words))["results"]["flow"]["unit"] == "L/min"


def test_help_names_keys_units_ranges_and_results():
    text = called("well-volume", "--help")
    for word in ("casing_diameter", "1 to 144", "unknown", "volume_per_length", "gal/ft"):
        assert word in text


def test_every_calculation_has_help_for_every_key_and_result():
    for line in called("--list").splitlines():
        name = line.split()[0]
        for row in called(name, "--help").splitlines()[3:]:
            assert row.strip() == "" or row == "Results:" or len(row) > 45, (name, row)


BAD = [
    ((), "name: "),
    (("no-such-name",), "name: "),
    (("bucket-flow",), "volume: "),
    (("bucket-flow", "volume=5 gal"), "time: "),
    (("bucket-flow", "volume=5", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=5 psi", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=5 gall0ns", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=nan gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=inf gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=1e999 gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=-5 gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=500 gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=5 gal", "volume=6 gal", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=", "time=30 s"), "volume: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "colour=red"), "colour: "),
    (("bucket-flow", "volume=5 gal", "time"), "time: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--unit", "flow=psi"), "--unit: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--unit", "depth=ft"), "--unit: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--unit", "flow=furlong"), "--unit: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--unit"), "--unit: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--colour"), "--colour: "),
    (("bucket-flow", "volume=5 gal", "time=30 s", "--colour=red"), "--colour=red: "),
    (("bucket-flow", "volume=5 gal", "time\n=30 s"), "time =30 s: "),
    (("bucket-flow", ""), "'': "),
    (("hypochlorous", "temperature=10 C", "ph=70 percent"), "ph: "),
    (("hypochlorous", "temperature=10", "ph=7"), "temperature: "),
    (("contact", "volume=9 gal", "baffling_factor=0.05", "flow=5 gpm"), "baffling_factor: "),
    (
        (
            "shock-chlorination",
            "volume=9 gal",
            "target=50 ppm",
            "product=liquid",
            "strength=6 percent",
        ),
        "target: ",
    ),
    (("dechlorination", "volume=9 gal", "residual=50 mg/L", "agent=vinegar"), "agent: "),
    (("bucket-flow", "volume=5 gal\nmore", "time=30 s"), "volume: "),
]


@pytest.mark.parametrize(("words", "start"), BAD, ids=lambda part: " ".join(part)[:60])
def test_bad_input_is_one_line_that_names_the_key(words, start):
    out, err = io.StringIO(), io.StringIO()
    with pytest.raises(CommandError) as refused:
        call_command("compute", *words, stdout=out, stderr=err)
    assert refused.value.returncode == 2
    assert str(refused.value).startswith(start)
    assert "\n" not in str(refused.value)
    assert out.getvalue() == ""
    assert err.getvalue() == ""


def test_no_database_is_touched():
    # pytest-django blocks every query of a test without the database mark
    assert json.loads(called("turnover", "volume=140 gal", "flow=5 gpm"))["results"]
