"""What counts as a reason."""

import pytest

from jobs.errors import BadEntry
from jobs.workflows.reasons import ANY, FULL, LONGEST, SHORT, explained, reason_given


@pytest.mark.parametrize(
    ("typed", "least", "said"),
    [
        ("", ANY, "Say why it ends."),
        (" \n ", ANY, "Say why it ends."),
        ("four", SHORT, "Say why it ends, in five letters or more."),
        ("nine   lett", FULL, "Say why it ends, in ten letters or more."),
        ("nine\n\n\nle", FULL, "Say why it ends, in ten letters or more."),
    ],
    ids=["nothing", "blanks", "four", "nine", "nine over lines"],
)
def test_too_few_letters_are_refused_with_their_number(typed, least, said):
    with pytest.raises(BadEntry) as refused:
        reason_given(typed, "Say why it ends.", least=least, field="why")
    assert str(refused.value) == said
    assert refused.value.field == "why"


def test_spaces_count_once_and_the_least_is_enough():
    assert reason_given("  a\n b ", "Say why.") == "a b"
    assert reason_given("fiver", least=SHORT) == "fiver"
    assert explained("ten letter") == "ten letter"
    assert len(explained("long " * 100)) == LONGEST


def test_what_moves_a_count_needs_ten():
    with pytest.raises(BadEntry, match="Say why, in ten letters or more"):
        explained("too short")
