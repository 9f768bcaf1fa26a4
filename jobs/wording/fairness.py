"""What the callback report says first, and the lines below it: no name, no verdict on a person.

Contents: DOES_NOT_DECIDE, NOT_COUNTED, OWN_PERIOD, missed_in_100, found_in_100, few,
nothing_seen, look, shared, would_be_found, partly, no_match, counted, over_a_file,
since_last, known_since.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from .figures import number

WORDS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
#: stands on the page, on paper and in the first rows of a file, whatever the answer
DOES_NOT_DECIDE = "Does not decide pay or discipline."
NOT_COUNTED = "Not counted here: calls nobody logged."
NOT_FOR_RANKING = "Not for ranking."
OWN_PERIOD = (
    "A period of your own: counts and no answer. "
    "The answer is given twice a year, at its beginning and in the middle."
)
NOBODY_ELSE = "Too few jobs to tell. There is nobody to compare with."
NOBODY_WITH_TEN = "Too few jobs to tell. Nobody has ten jobs of a kind that somebody else did too."
START_WITH_THE_JOBS = "Start with the jobs, not with the person."
AFTER_A_TALK = (
    "Somebody’s jobs were read last time. Numbers that stood out fall by themselves nearly always, "
    "so a lower one now proves nothing about what was said or done."
)
#: kinds of answers where another one was given
NOW_IT_WOULD = {
    "look": "somebody’s jobs should be read",
    "nothing": "nothing seen",
    "few": "too few jobs to tell",
}
BEST_GUESS = "Our best guess for the next period, times as often as the others."


def _in_words(count: int) -> str:
    return WORDS[count] if count < len(WORDS) else number(count)


def _hundredths(share: float, *, up: bool) -> str:
    """Of 100 such periods; what would read 100 of 100 is "more than 99"."""
    exact = round(100 * share, 9)
    if exact > 99:
        return "more than 99"
    if not up and 0 < exact < 1:
        return "fewer than 1"
    return str(math.ceil(exact) if up else math.floor(exact))


def missed_in_100(share: float) -> str:
    """What is missed is rounded up."""
    return _hundredths(share, up=True)


def found_in_100(share: float) -> str:
    """What is found is rounded down."""
    return _hundredths(share, up=False)


def few(missed: float | None, *, people: int) -> str:
    """Too few to tell, with what would be missed; `missed` is None where nobody was tested."""
    if missed is None:
        return NOBODY_ELSE if people < 2 else NOBODY_WITH_TEN
    often = "usually" if missed > 0.5 else "often"
    return (
        "Too few jobs to tell. If somebody were called back twice as often as the others, "
        f"we would {often} not see it ({missed_in_100(missed)} times in 100)."
    )


def nothing_seen(missed: float) -> str:
    """Nothing seen, never without the doubling that would be missed."""
    times = f"{missed_in_100(missed)} times in 100"
    doubling = (
        f"twice as often usually would not ({times} it is missed)"
        if missed > 0.5
        else f"twice as often would still be missed {times}"
    )
    return (
        "Nothing seen beyond chance and the kind of work. "
        f"Three times as often would usually show; {doubling}."
    )


def expected_count(expected: float) -> str:
    """Below one callback no figure."""
    return "fewer than 1" if expected < 1 else number(expected, 1).removesuffix(".0")


def look(
    counts: Sequence[tuple[int, float]],
    *,
    causes: Sequence[tuple[str, int]] = (),
    answers: int | None = None,
    cluster: tuple[str, int] | None = None,
) -> str:
    """Whose jobs should be read, without a name: (called back, expected) of each.

    `causes` of all those callbacks, `answers` the person wrote to them, `cluster` a cause that
    half or more share.
    """
    who = (
        "One person’s jobs" if len(counts) == 1 else f"The jobs of {_in_words(len(counts))} people"
    )
    said = "; ".join(
        f"{number(called)} called back, {expected_count(expected)} expected"
        for called, expected in counts
    )
    reports = sum(called for called, _ in counts)
    lines = [f"{who} should be read: {said}."]
    if cluster:
        lines.append(shared(*cluster, reports))
    what = "report" if reports == 1 else "reports"
    lines.append(f"This is a reason to read {number(reports)} {what}, not a finding about anybody.")
    if causes:
        lines.append(f"Causes: {', '.join(f'{number(n)} {cause}' for cause, n in causes)}.")
    if answers is not None:
        lines.append(f"Answers written to them: {number(answers)} of {number(reports)}.")
    return " ".join(lines)


def shared(cause: str, count: int, reports: int) -> str:
    return f"{_in_words(count).capitalize()} of the {number(reports)} share one cause: {cause}."


def chance_of_it(people: int) -> str:
    """How seldom chance alone does this at two looks a year."""
    one = f"one of {_in_words(people)} people" if people > 1 else "somebody"
    return f"Chance alone does this to {one} in fewer than 1 of 40 such periods."


def would_be_found(factor: float | None) -> str:
    if factor is None:
        return (
            "Not even somebody called back twelve times as often as the others would be found "
            "in 80 of 100 such periods."
        )
    return (
        f"Somebody called back {factor:g} times as often as the others would be found "
        "in at least 80 of 100 such periods."
    )


def partly(seen: int, people: int) -> str:
    """Partial knowledge under "too few to tell"; empty where there is none."""
    if not 0 < seen < people:
        return ""
    of_whom = "1 person" if seen == 1 else f"{seen} people"
    return f"For {of_whom} of {people} three times as often would have been seen, and was not."


def no_match(unmatched: int, jobs: int) -> str:
    """Of one person; empty where every job has a match."""
    if not unmatched:
        return ""
    have = "has" if unmatched == 1 else "have"
    return (
        f"{number(unmatched)} of these {number(jobs)} jobs {have} no match: "
        "nobody else did such work."
    )


def counted(*, judged: int, recent: int, lost: int, unmatched: int) -> str:
    """The second line."""
    return (
        f"Enough time has passed for {number(judged)} jobs; {number(recent)} are too recent, "
        f"{number(lost)} left us, {number(unmatched)} have no match."
    )


def over_a_file(headline: str, day: str, narrowed: Sequence[str]) -> str:
    """The first row of a file; `day` is empty where no answer is given."""
    answered = f"Answer of {day}." if day else ""
    only = f"Only: {'; '.join(narrowed)}." if narrowed else ""
    said = (headline, answered, only, NOT_FOR_RANKING, DOES_NOT_DECIDE, NOT_COUNTED)
    return " ".join(each for each in said if each)


def since_last(jobs: int, *, called_before: bool) -> str:
    if not called_before:
        return f"No callback in {number(jobs)} jobs" if jobs else ""
    return f"Jobs since the last callback: {number(jobs)}"


def known_since(facts: int, kind: str, *, is_same: bool) -> str:
    """What was corrected or told after the answer was given, and what it would be now."""
    told = "One fact was" if facts == 1 else f"{facts} facts were"
    now = "the same" if is_same else NOW_IT_WOULD[kind]
    return f"{told} corrected or told since; with them the answer would be: {now}."
