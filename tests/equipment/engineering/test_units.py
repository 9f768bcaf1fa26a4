"""Reading typed quantities: our own splitter and unit list, not the library's parser."""

from dataclasses import FrozenInstanceError

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from equipment.engineering.errors import (
    EngineeringError,
    MissingInput,
    OutOfRange,
    WrongInput,
    WrongUnit,
)
from equipment.engineering.registry import Key, compute
from equipment.engineering.results import Answer, Interval, plain, q
from equipment.engineering.units import (
    SPELLINGS,
    UNITS,
    magnitude,
    number,
    quantity,
    ranged,
    read_quantity,
    split_typed,
    unit_name,
)


@pytest.mark.parametrize(
    ("text", "value", "name"),
    [
        ("8 gpm", 8.0, "gpm"),
        ("8gpm", 8.0, "gpm"),
        ("  8   gpm ", 8.0, "gpm"),
        ("4 fl oz", 4.0, "fl oz"),
        ("4 fl  oz", 4.0, "fl oz"),
        ("20 C", 20.0, "C"),
        ("20 °C", 20.0, "degC"),
        ("68 F", 68.0, "F"),
        ("3/4 in", 0.75, "in"),
        ("1 1/2 in", 1.5, "in"),
        ("1-1/4 in", 1.25, "in"),
        ('6"', 6.0, "in"),
        (".5 mg/L", 0.5, "mg/L"),
        ("5. mg/l", 5.0, "mg/L"),
        ("1e3 mg/L", 1000.0, "mg/L"),
        ("-4 ft", -4.0, "ft"),
        ("35 %", 35.0, "percent"),
        ("35 percent", 35.0, "percent"),
        ("2 imperial gal", 2.0, "imperial gal"),
        ("10 GPM", 10.0, "gpm"),
        ("7", 7.0, ""),
    ],
)
def test_split(text, value, name):
    assert split_typed("key", text) == (value, name)


@pytest.mark.parametrize(
    "text", ["", "gpm", "eight gpm", "nan gpm", "inf gpm", "1,5 gpm", "--4 ft"]
)
def test_what_is_no_number(text):
    with pytest.raises(EngineeringError) as refused:
        read_quantity("flow", text, "gpm")
    assert refused.value.key == "flow"


@pytest.mark.parametrize("text", ["nan", "inf", "-inf", "1e999", "NaN", "0x10", "1_000", "½", "٣"])
def test_bare_numbers_are_finite_plain_digits(text):
    with pytest.raises(WrongInput):
        number("ph", text)


def test_fraction_over_zero():
    with pytest.raises(WrongInput, match="below the line"):
        number("size", "3/0")


@pytest.mark.parametrize("text", ["5 ppm", "5 PPM", "5 ppb"])
def test_ppm_is_refused_and_mg_per_litre_named(text):
    with pytest.raises(WrongUnit, match="mg/L"):
        read_quantity("iron", text, "mg/L")


@pytest.mark.parametrize(
    ("text", "canonical"),
    [
        ("8", "gpm"),
        ("8 gal", "gpm"),
        ("8 furlong", "gpm"),
        ("8 g/L", "percent"),
        ("5 percent", "mg/L"),
        ("20 min", "degC"),
    ],
)
def test_wrong_dimension_names_key_and_unit(text, canonical):
    with pytest.raises(WrongUnit) as refused:
        read_quantity("thing", text, canonical)
    assert str(refused.value).startswith("thing: ")


# What one unit is in another: NIST Special Publication 811 and Handbook 44 appendix C (MEMORY),
# and the operators' Formula/Conversion Table of Feb 24 2014 (SEEN) where it rounds.
@pytest.mark.parametrize(
    ("text", "canonical", "expected", "tolerance"),
    [
        ("1 gal", "L", 3.785412, 1e-6),
        ("1 imperial gal", "L", 4.54609, 1e-6),
        ("1 ft3", "gal", 7.48052, 1e-5),
        ("1 fl oz", "mL", 29.57353, 1e-5),
        ("1 cup", "mL", 236.588, 1e-3),
        ("1 pint", "mL", 473.1765, 1e-4),
        ("1 qt", "mL", 946.3529, 1e-4),
        ("1 oz", "g", 28.34952, 1e-5),
        ("1 lb", "g", 453.59237, 1e-5),
        ("1 grain", "mg", 64.79891, 1e-5),
        ("1 gpg", "mg/L", 17.118, 1e-3),
        ("1 gpg", "mg/L", 17.1, 0.05),
        ("1 lb/gal", "g/L", 119.8264, 1e-4),
        ("694.4 gpm", "gpd", 1e6, 100),
        ("1 gpm", "mL/min", 3785.412, 1e-3),
        ("1 psi", "kPa", 6.894757, 1e-6),
        ("1 atm", "psi", 14.69595, 1e-5),
        ("1 atm", "mmHg", 760, 1e-3),
        ("1 in", "mm", 25.4, 1e-9),
        ("1 ft", "m", 0.3048, 1e-9),
        ("32 F", "degC", 0, 1e-9),
        ("212 degF", "degC", 100, 1e-9),
        ("50 F", "degC", 10, 1e-9),
        ("20 C", "degF", 68, 1e-9),
        ("1 gpm/ft2", "m/h", 2.4446, 1e-3),
        ("1 day", "h", 24, 1e-9),
    ],
)
def test_conversion(text, canonical, expected, tolerance):
    assert abs(magnitude("key", read_quantity("key", text, canonical), canonical) - expected) <= (
        tolerance
    )


def test_every_unit_is_read_back_under_its_own_name():
    for name in UNITS:
        value = read_quantity("key", f"2 {name}", name)
        assert magnitude("key", value, name) == pytest.approx(2)
    for spelling, name in SPELLINGS.items():
        assert unit_name("key", spelling) == name


def test_magnitude_wants_a_quantity():
    with pytest.raises(WrongUnit, match="gpm"):
        magnitude("flow", 8.0, "gpm")
    with pytest.raises(WrongInput, match="finite"):
        magnitude("flow", quantity(float("nan"), "gpm"), "gpm")
    with pytest.raises(WrongUnit, match="flow"):
        magnitude("flow", quantity(8, "gal"), "gpm")


@pytest.mark.parametrize(("text", "fits"), [("0 ft", False), ("1 ft", True), ("11 ft", False)])
def test_ranged(text, fits):
    value = read_quantity("depth", text, "ft")
    if fits:
        assert ranged("depth", value, "ft", 0, 10, low_open=True) == 1
    else:
        with pytest.raises(OutOfRange, match="above 0 to 10 ft"):
            ranged("depth", value, "ft", 0, 10, low_open=True)


def test_key_reads_choice_word_bool_size_and_number():
    assert Key(name="k", help="", kind="choice", choices=("a", "b")).read("b") == "b"
    assert Key(name="k", help="", unit="ft", words=("unknown",)).read("unknown") == "unknown"
    assert Key(name="k", help="", kind="bool").read("yes") is True
    assert Key(name="k", help="", kind="bool").read("false") is False
    assert Key(name="k", help="", kind="size").read("3/4 in") == "3/4 in"
    assert Key(name="k", help="", kind="size").read("1-1/4 in") == "1 1/4 in"
    assert Key(name="k", help="", kind="number").read("0.95") == 0.95


@pytest.mark.parametrize(
    ("key", "text"),
    [
        (Key(name="k", help="", kind="choice", choices=("a",)), "c"),
        (Key(name="k", help="", kind="bool"), "perhaps"),
        (Key(name="k", help="", kind="size"), "3/4"),
        (Key(name="k", help="", kind="number"), "95 percent"),
        (Key(name="k", help="", kind="number"), "95%"),
        (Key(name="k", help="", kind="number"), "8 gpm"),
        (Key(name="k", help="", unit="ft", low=0), "-1 ft"),
        (Key(name="k", help="", unit="ft", words=("unknown",)), "unsure"),
        (Key(name="k", help="", unit="ft"), " "),
    ],
)
def test_key_refuses_and_names_itself(key, text):
    with pytest.raises(EngineeringError) as refused:
        key.read(text)
    assert refused.value.key == "k"


def test_doubled_and_unknown_and_missing_keys():
    from equipment.engineering.registry import calculation

    bucket = calculation("bucket-flow")
    with pytest.raises(WrongInput, match="volume: is given twice"):
        bucket.read_inputs([("volume", "5 gal"), ("volume", "6 gal")])
    with pytest.raises(WrongInput, match="colour: is not a key"):
        bucket.read_inputs([("colour", "red")])
    with pytest.raises(MissingInput, match="time: is missing"):
        bucket.read_inputs([("volume", "5 gal")])
    with pytest.raises(WrongInput, match="not a calculation"):
        calculation("no-such-thing")


def test_blank_texts_are_left_out_of_a_form():
    printed, answer = compute("turnover", volume="100 gal", flow="5 gpm", turnovers=" ")
    assert "turnovers" not in printed["inputs"]
    assert answer.water.m_as("gallon") == pytest.approx(300)


def test_inputs_are_printed_as_entered():
    printed, _ = compute("bucket-flow", volume="20 L", time="0.5 min")
    assert printed["inputs"] == {
        "volume": {"value": 20.0, "unit": "L"},
        "time": {"value": 0.5, "unit": "min"},
    }


def test_plain_forms():
    assert plain(Interval(q(1, "ft"), q(2, "ft")), "in") == {
        "low": pytest.approx(12),
        "high": pytest.approx(24),
        "unit": "in",
    }
    assert plain("word", "ft") == {"value": "word", "unit": ""}
    assert plain(True, "") == {"value": True, "unit": ""}
    assert plain([q(1, "ft")], "ft") == [{"value": 1.0, "unit": "ft"}]


def test_an_answer_is_frozen_and_equal_to_one_that_says_the_same():
    typed = {"volume": "100 gal", "flow": "5 gpm"}
    (_, one), (_, same) = compute("turnover", **typed), compute("turnover", **typed)
    assert one == same
    assert one != compute("turnover", **typed, turnovers="2")[1]
    assert one != Answer(warnings=one.warnings)
    assert repr(one).startswith(f"{type(one).__name__}(warnings=")
    assert f"water={one.water!r}" in repr(one)
    with pytest.raises(FrozenInstanceError):
        one.water = same.time
    with pytest.raises(TypeError):
        type(one)(no_such_result=1)


@settings(max_examples=60, derandomize=True, deadline=None)
@given(st.text(max_size=20))
def test_any_text_is_read_or_refused_with_the_key(text):
    said = ""
    try:
        read_quantity("flow", text, "gpm")
    except EngineeringError as refused:
        said = str(refused)
    assert said == "" or said.startswith("flow: ")
    assert "\n" not in said
