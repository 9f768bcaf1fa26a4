"""Are some people called back more often than chance and the kind of work explain?

One of three answers: LOOK, NOTHING (seen), FEW (too few to tell); or OWN, which is none: a period
that somebody chose gives counts. Verdicts fall on two days a year, whoever opens the page and how
often. Pure: tables of counts in, no database, no clock.

Contents: Person, Answer, answer_of, compared, own_period, shared_cause, verdict_day,
verdict_period.
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

from .fair_exact import EVERYDAY_SPREAD, largest_bound, spread_of, tails
from .fair_guess import ENOUGH_PEOPLE, best_guess, strength_of, true_spread
from .fair_power import TRIPLE, Power, power_of
from .fair_table import Matched, Table, matched

#: names the rules of this file; a stored verdict keeps the one it was found by
METHOD = "fair/1"
LOOK, NOTHING, FEW, OWN = "look", "nothing", "few", "own"
#: false alarms of one look; there are two a year (common practice, no source)
ALPHA = 0.025
#: expected callbacks from which a large company's own spread is estimated (common practice)
ENOUGH_EXPECTED = 100
#: "nothing seen" is said where this many times as often would have been found
AT_MOST = TRIPLE
WINDOW_DAYS = 90
YEARS = 2
VERDICT_MONTHS = (1, 7)
#: groups of causes that may have come with a delivery, a design, the water or the office; without
#: workmanship and setting, and without what nobody could name
SHARED = "RCDEFGHIJ"


@dataclass(frozen=True)
class Person:
    """One person as the page shows him. Without a test there is neither p nor expected."""

    key: Hashable
    jobs: int
    called: int
    matched_jobs: int
    matched_called: int
    unmatched_jobs: int
    unmatched_called: int
    expected: float | None = None
    p: float | None = None
    guess: float | None = None
    power: Power | None = None
    stands_out: bool = False


@dataclass(frozen=True)
class Answer:
    kind: str
    people: tuple[Person, ...]
    bound: float = 0.0
    tau: float = EVERYDAY_SPREAD
    method: str = METHOD

    @property
    def tested(self) -> tuple[Person, ...]:
        return tuple(person for person in self.people if person.p is not None)

    @property
    def named(self) -> tuple[Person, ...]:
        """Whose jobs should be read; the page puts them in the order of the alphabet."""
        return tuple(person for person in self.people if person.stands_out)

    @property
    def named_keys(self) -> frozenset[Hashable]:
        return frozenset(person.key for person in self.named)

    @property
    def powers(self) -> tuple[Power, ...]:
        return tuple(person.power for person in self.people if person.power)

    @property
    def missed(self) -> float | None:
        """Share of such periods in which a doubling is missed, of the person hardest to see."""
        return max((1 - power.doubling for power in self.powers), default=None)

    @property
    def factor(self) -> float | None:
        """Times as often that would be found for everybody; None when nothing would."""
        factors = [power.factor for power in self.powers]
        known = [factor for factor in factors if factor is not None]
        return max(known) if known and len(known) == len(factors) else None

    @property
    def seen_at_triple(self) -> int:
        """Persons for whom three times as often would have been seen."""
        return sum(_is_seen(power) for power in self.powers)


def _is_seen(power: Power) -> bool:
    return power.factor is not None and power.factor <= AT_MOST


def answer_of(table: Table, *, alpha: float = ALPHA, tau: float | None = None) -> Answer:
    """The answer of one verdict day; `tau` replaces the everyday spread."""
    found = matched(table)
    tested = [person for person in found if person.tested]
    spread = tau if tau is not None else _spread(tested)
    bound, chance = compared(tested, tau=spread, alpha=alpha)
    level = alpha / len(tested) if tested else alpha
    strength = strength_of(true_spread(_pairs(tested)))
    people = []
    for person in found:
        plain = _counted(table, person)
        if person.tested:
            p = chance[person.place]
            plain = Person(
                **vars(plain)
                | {
                    "expected": person.expected,
                    "p": p,
                    "guess": best_guess(person.called, person.expected, strength),
                    "power": power_of(person, tau=spread, level=level),
                    "stands_out": p <= bound,
                }
            )
        people.append(plain)
    return Answer(_kind(people), tuple(people), bound, spread)


def compared(
    people: Iterable[Matched], *, tau: float, alpha: float = ALPHA
) -> tuple[float, dict[int, float]]:
    """The bound for all together, and the p of each by his place: at or below it stands out."""
    rows = {each: tails(each.classes, spread_of(each, tau)) for each in people}
    bound = largest_bound(rows.values(), alpha)
    return bound, {each.place: row.at(each.called) for each, row in rows.items()}


def own_period(table: Table) -> Answer:
    """Counts, expected and best guess of a period somebody chose; no test, so no answer."""
    found = matched(table)
    strength = strength_of(true_spread(_pairs([each for each in found if each.tested])))
    people = []
    for person in found:
        plain = _counted(table, person)
        if person.tested:
            guess = best_guess(person.called, person.expected, strength)
            plain = Person(**vars(plain) | {"expected": person.expected, "guess": guess})
        people.append(plain)
    return Answer(OWN, tuple(people))


def _counted(table: Table, person: Matched) -> Person:
    return Person(
        key=table.people[person.place],
        jobs=sum(table.jobs[person.place]),
        called=sum(table.called[person.place]),
        matched_jobs=person.jobs,
        matched_called=person.called,
        unmatched_jobs=person.unmatched_jobs,
        unmatched_called=person.unmatched_called,
    )


def _pairs(tested: list[Matched]) -> list[tuple[int, float]]:
    return [(person.called, person.expected) for person in tested]


def _spread(tested: list[Matched]) -> float:
    """The everyday spread; in a large company its own, when that is wider."""
    pairs = _pairs(tested)
    if len(pairs) < ENOUGH_PEOPLE or sum(expected for _, expected in pairs) < ENOUGH_EXPECTED:
        return EVERYDAY_SPREAD
    return max(EVERYDAY_SPREAD, true_spread(pairs) or 0.0)


def _kind(people: list[Person]) -> str:
    if any(person.stands_out for person in people):
        return LOOK
    powers = [person.power for person in people if person.power]
    return NOTHING if powers and all(_is_seen(power) for power in powers) else FEW


def shared_cause(causes: Mapping[str, int]) -> tuple[str, int] | None:
    """A cause outside workmanship and setting that half or more of the callbacks share.

    One bad delivery gives many callbacks; that is said before anybody's jobs are.
    """
    total = sum(causes.values())
    common = [
        (cause, count)
        for cause, count in causes.items()
        if count > 1 and 2 * count >= total and cause[:1] in SHARED
    ]
    return max(common, key=lambda each: (each[1], each[0])) if common else None


def verdict_day(today: date) -> date:
    """The newest verdict day: 1 January or 1 July."""
    return date(today.year, max(m for m in VERDICT_MONTHS if m <= today.month), 1)


def verdict_period(day: date, window_days: int = WINDOW_DAYS) -> tuple[date, date]:
    """First and last day of handover of the jobs that are judged on a verdict day.

    Two years that end so long before it that every job has had its whole window.
    """
    last = day - timedelta(days=window_days)
    after = last + timedelta(days=1)
    years_before = after.year - YEARS
    if (after.month, after.day) == (2, 29):
        return date(years_before, 3, 1), last
    return after.replace(year=years_before), last
