"""Facts that a newer or an older program wrote, and half a record."""

import json
from dataclasses import MISSING, fields

import pytest

from jobs.errors import WrongState
from jobs.fieldwork.facts import NUMBER
from jobs.fieldwork.facts_json import from_json, to_json

from .generated import random_facts
from .shape import FILE, KINDS, changed, known, shape_now, to_keep

KEPT = json.loads(FILE.read_text())


def test_whoever_changes_a_field_raises_the_number():
    """`python -m tests.jobs.fieldwork.shape` keeps the new shape."""
    assert changed(KEPT, shape_now()) == [], "renamed, dropped or of another type: raise NUMBER"
    assert KEPT["number"] == NUMBER


def test_whoever_adds_a_field_keeps_it_on_file():
    """Or nobody would notice that it is renamed later."""
    assert known(KEPT) == shape_now(), "run python -m tests.jobs.fieldwork.shape"


def test_an_added_field_has_a_default():
    new = {(kind, name) for kind, hints in KEPT["added"].items() for name in hints}
    bare = [
        f"{kind}.{each.name}"
        for kind in KINDS
        if kind in KEPT["fields"]
        for each in fields(KINDS[kind])
        if (kind, each.name) in new and each.default is each.default_factory is MISSING
    ]
    assert bare == [], "older facts have no such field"


OF_OLD = {"number": 4, "fields": {"Step": {"number": "int", "skipped": "str"}}, "added": {}}


def test_what_is_kept_grows_until_the_number_is_raised():
    grown = {"Step": {"number": "int", "skipped": "str", "against": "str"}}
    kept = to_keep(OF_OLD, grown, 4)
    assert kept == {**OF_OLD, "added": {"Step": {"against": "str"}}}
    renamed = {"Step": {"number": "int", "skipped": "str", "opposed": "str"}}
    assert changed(kept, renamed) == ["Step.against"]
    with pytest.raises(SystemExit, match="Step.against. Raise NUMBER first"):
        to_keep(kept, renamed, 4)
    assert to_keep(kept, renamed, 5) == {"number": 5, "fields": renamed, "added": {}}


def test_facts_of_a_newer_program_are_read_without_what_is_new():
    facts = random_facts(3)
    said = json.loads(to_json(facts))
    said["of_a_later_version"] = {"x": 1}
    said["answers"] = [{**row, "new": 1} for row in said["answers"]]
    assert said["answers"]
    assert from_json(json.dumps(said)) == facts


def test_facts_of_an_older_program_have_the_defaults_of_what_is_new():
    said = json.loads(to_json(random_facts(3)))
    for row in said["lines"]:
        del row["hint"]
    del said["notices"]
    read = from_json(json.dumps(said))
    assert {line.hint for line in read.lines} == {""}
    assert read.notices == ()


@pytest.mark.parametrize("number", [NUMBER - 1, NUMBER + 1, None, str(NUMBER)])
def test_facts_of_another_form_are_refused_in_a_sentence(number):
    said = json.loads(to_json(random_facts(3)))
    said["number"] = number
    with pytest.raises(WrongState, match=f"has the form {number}, .* knows the form {NUMBER}"):
        from_json(json.dumps(said))


def test_facts_without_a_number_are_refused():
    said = json.loads(to_json(random_facts(3)))
    del said["number"]
    with pytest.raises(WrongState, match="bring both up to date"):
        from_json(json.dumps(said))


@pytest.mark.parametrize("path", [("record", "uuid"), ("record", "opened_at"), ("lines",)])
def test_half_a_record_is_refused_and_not_read_as_less(path):
    said = json.loads(to_json(random_facts(3)))
    inner = said
    for name in path[:-1]:
        inner = inner[name]
    del inner[path[-1]]
    with pytest.raises(WrongState, match=f"not whole.*{path[-1]}"):
        from_json(json.dumps(said))
