"""A range as people type it on a telephone: the dash, the word, the sign."""

import math

import pytest

from equipment.engineering.errors import WrongInput
from equipment.engineering.oxidant.kits import KITS, printed_bands
from equipment.engineering.spans import (
    band_typed,
    ends_typed,
    read_span,
    sign_of,
    signed,
    span_words,
)


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("5-10", ("5", "10")),
        ("5 to 10 mg/L", ("5", "10 mg/L")),
        ("0.5\u20132", ("0.5", "2")),
        ("5", None),
        ("1-1/2", None),  # one and a half
        ("< 5", None),
        ("-5", None),
    ],
)
def test_both_ends_as_typed(text, ends):
    assert ends_typed(text) == ends


@pytest.mark.parametrize(
    ("text", "span", "said"),
    [
        ("5-10", (5, 10), "5 to 10"),
        ("<0.5", (0, 0.5), "0 to 0.5"),
        (">50", (50, math.inf), "above 50"),
        ("12", (12, 12), "12 to 12"),
    ],
)
def test_a_span_is_read_and_said(text, span, said):
    assert read_span("residual", text) == span
    assert span_words(*span) == said


def test_a_range_the_wrong_way_round_is_refused():
    with pytest.raises(WrongInput, match="must not be below"):
        read_span("residual", "10-5")


@pytest.mark.parametrize(
    ("text", "sign", "whole"),
    [
        ("10", "5 to", "5 to 10"),
        ("10", "<", "< 10"),
        ("< 10", ">", "< 10"),
        ("2-5", "5 to", "2-5"),
        ("10", "from 5", "10"),
        ("", "5 to", ""),
    ],
)
def test_what_is_picked_stands_before_a_figure_and_gives_way_to_what_was_typed(text, sign, whole):
    assert signed(text, sign) == whole


@pytest.mark.parametrize(
    ("text", "parts"),
    [("5 to 10", ("", "5 to 10")), ("> 10", (">", "10")), ("<8", ("<", "8")), ("8", ("", "8"))],
)
def test_a_kept_answer_is_taken_apart_for_its_box(text, parts):
    assert sign_of(text) == parts


def test_bands_lie_between_the_printed_values_and_the_last_has_no_upper_end():
    assert printed_bands("chlorine") == KITS["chlorine"].bands
    iron = printed_bands("iron")
    assert iron[:2] == ((0, 0.3), (0.3, 0.5))
    assert iron[-1] == (5, math.inf)
    assert printed_bands("pressure") == ()


@pytest.mark.parametrize("band", [*printed_bands("peroxide"), *printed_bands("hardness")])
def test_a_band_is_read_as_it_is_typed(band):
    assert read_span("residual", band_typed(*band)) == band
