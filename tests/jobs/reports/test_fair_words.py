"""What the page says first: rounded so that it never promises too much, and without a name."""

import pytest

from jobs.wording import fairness as words


@pytest.mark.parametrize(
    ("share", "missed", "found"),
    [
        (0.0, "0", "0"),
        (0.004, "1", "fewer than 1"),
        (0.921, "93", "92"),
        (0.93, "93", "93"),
        (0.07 * 3, "21", "21"),  # 0.21000000000000002
        (0.99, "99", "99"),
        (0.996, "more than 99", "more than 99"),
        (1.0, "more than 99", "more than 99"),
    ],
)
def test_what_is_missed_is_rounded_up_and_what_is_found_down(share, missed, found):
    assert words.missed_in_100(share) == missed
    assert words.found_in_100(share) == found


def test_too_few_says_what_would_be_missed():
    assert words.few(0.921, people=6) == (
        "Too few jobs to tell. If somebody were called back twice as often as the others, "
        "we would usually not see it (93 times in 100)."
    )
    assert "(more than 99 times in 100)" in words.few(1.0, people=6)
    assert "we would often not see it (40 times in 100)" in words.few(0.4, people=6)
    assert words.few(None, people=1) == words.NOBODY_ELSE
    assert words.few(None, people=3) == words.NOBODY_WITH_TEN


def test_nothing_seen_is_never_said_without_the_doubling_that_is_missed():
    assert words.nothing_seen(0.79) == (
        "Nothing seen beyond chance and the kind of work. Three times as often would usually "
        "show; twice as often usually would not (79 times in 100 it is missed)."
    )
    assert words.nothing_seen(0.43).endswith(
        "twice as often would still be missed 43 times in 100."
    )


def test_a_look_is_a_reason_to_read_and_no_finding():
    assert words.look(
        [(14, 3.0)], causes=[("workmanship", 6), ("design", 5), ("unknown", 3)], answers=9
    ) == (
        "One person’s jobs should be read: 14 called back, 3 expected. This is a reason to read "
        "14 reports, not a finding about anybody. Causes: 6 workmanship, 5 design, 3 unknown. "
        "Answers written to them: 9 of 14."
    )
    assert words.look([(1, 0.04)]) == (
        "One person’s jobs should be read: 1 called back, fewer than 1 expected. "
        "This is a reason to read 1 report, not a finding about anybody."
    )
    two = words.look([(14, 3.25), (9, 2.0)])
    assert two.startswith(
        "The jobs of two people should be read: 14 called back, 3.3 expected; "
        "9 called back, 2 expected. This is a reason to read 23 reports"
    )


def test_one_bad_delivery_stands_before_the_reports():
    said = words.look([(14, 3.0)], cluster=("equipment", 10))
    assert "3 expected. Ten of the 14 share one cause: equipment. This is" in said


def test_lines_below():
    assert words.would_be_found(2.75).startswith("Somebody called back 2.75 times as often")
    assert words.would_be_found(None).startswith("Not even somebody called back twelve times")
    assert words.partly(2, 6).startswith("For 2 people of 6 three times as often would have been")
    assert words.partly(1, 6).startswith("For 1 person of 6")
    assert words.partly(0, 6) == words.partly(6, 6) == ""
    assert words.no_match(30, 40).startswith("30 of these 40 jobs have no match: nobody else")
    assert words.no_match(0, 40) == ""
    assert words.counted(judged=12400, recent=3, lost=1, unmatched=0).startswith(
        "Enough time has passed for 12\u202f400 jobs; 3 are too recent, 1 left us"
    )
    assert words.since_last(14, called_before=True) == "Jobs since the last callback: 14"
    assert words.since_last(14, called_before=False) == "No callback in 14 jobs"
    assert words.since_last(0, called_before=False) == ""
    assert "one of four people" in words.chance_of_it(4)
    assert "twelve" not in words.chance_of_it(12)


#: fairness of the words: none of these stands anywhere in the home of the words
FORBIDDEN = (
    "judgeable",
    "standardi",
    "ratio",
    "funnel",
    "limit",
    "risk",
    "significan",
    "p-value",
    "best installer",
    "worst",
    "rank of",
    "bonus",
    "rate",
)


@pytest.mark.parametrize("word", FORBIDDEN)
def test_words_to_avoid_are_avoided(word):
    said = [
        words.few(0.9, people=6),
        words.nothing_seen(0.79),
        words.look([(14, 3.0)], causes=[("design", 14)], answers=1, cluster=("design", 14)),
        words.counted(judged=1, recent=1, lost=1, unmatched=1),
        words.would_be_found(3),
        words.no_match(1, 2),
        words.partly(1, 2),
        words.chance_of_it(4),
        *(
            value
            for name, value in vars(words).items()
            if name.isupper() and isinstance(value, str)
        ),
    ]
    assert [text for text in said if word in text.lower()] == []
