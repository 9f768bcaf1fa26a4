"""What holds for every calculation of the registry."""

import inspect

import pytest

from equipment.engineering.errors import EngineeringError
from equipment.engineering.registry import compute, load
from equipment.engineering.results import Answer
from equipment.engineering.units import UNITS

from .examples import EXAMPLES

ENTRIES = sorted(
    (entry for entry in load().values() if entry.function.__module__.startswith("equipment.")),
    key=lambda entry: entry.name,
)


@pytest.fixture(params=ENTRIES, ids=lambda entry: entry.name)
def entry(request):
    return request.param


def test_arguments_of_the_function_are_the_keys(entry):
    arguments = inspect.signature(entry.function).parameters.values()
    assert {argument.name for argument in arguments} == {key.name for key in entry.keys}
    assert all(argument.kind is argument.KEYWORD_ONLY for argument in arguments)
    needed = {argument.name for argument in arguments if argument.default is argument.empty}
    assert needed <= {key.name for key in entry.keys if key.required}


def test_names_and_units_are_known(entry):
    assert entry.title
    assert entry.name == entry.name.lower().replace("_", "-")
    for key in entry.keys:
        assert key.help, key.name
        assert not key.unit or key.unit in UNITS
        assert set(key.units) <= set(UNITS)
    for spec in entry.answer.result_fields():
        assert spec.metadata["help"], spec.name
        assert not spec.metadata["unit"] or spec.metadata["unit"] in UNITS


def test_answer_names_its_method(entry):
    assert issubclass(entry.answer, Answer)
    name, _, version = entry.answer.method.partition("/")
    assert name
    assert version.isdigit()


def test_docstring_says_where_the_method_comes_from(entry):
    text = inspect.getdoc(entry.function) or ""
    assert "ource" in text
    assert "Raises" in text


def test_no_key_takes_nan_inf_or_nothing(entry):
    for key in entry.keys:
        if key.kind in ("quantity", "number"):
            for text in ("nan", "inf", "-inf", "nan mg/L", "1e999", ""):
                with pytest.raises(EngineeringError) as refused:
                    key.read(text)
                assert refused.value.key == key.name


def test_no_quantity_is_taken_without_a_unit(entry):
    for key in entry.keys:
        if key.kind == "quantity":
            with pytest.raises(EngineeringError) as refused:
                key.read("3")
            assert refused.value.key == key.name


def test_a_missing_key_is_named(entry):
    for key in entry.keys:
        if key.required:
            with pytest.raises(EngineeringError):
                entry.read_inputs([])


def test_only_a_calculation_and_its_inverse_share_a_method():
    names = {}
    for entry in ENTRIES:
        names.setdefault(entry.answer.method, []).append(entry.name)
    assert [shared for shared in names.values() if len(shared) > 1] == [
        ["dose-from-setting", "feed-setting"]
    ]


def test_what_is_remembered_is_what_would_be_worked_out(entry):
    typed = EXAMPLES[entry.name]
    json, answer = compute(entry.name, **typed)
    assert compute(entry.name, **typed)[1] is answer
    pairs = [
        (name, text)
        for name, given in typed.items()
        for text in (given if isinstance(given, list) else [given])
    ]
    values = entry.read_inputs(pairs)
    assert json == entry.as_json(values, entry.run(values))
