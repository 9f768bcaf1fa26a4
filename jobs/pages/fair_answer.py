"""The first sentences of the callback report, and each person beside what the others had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from jobs.reports import callback_jobs, fair_answer
from jobs.reports.callbacks import GROUPS, Person, Report, cause_label, group_of
from jobs.reports.fair_answer import FEW, LOOK, NOTHING, Answer
from jobs.reports.fair_cells import causes_of, period_before, work_table
from jobs.wording import fairness as words
from jobs.wording.figures import number

#: an answer is a matter of its counts alone, so the same counts are not weighed twice
answer_of = lru_cache(maxsize=32)(fair_answer.answer_of)
own_period = lru_cache(maxsize=32)(fair_answer.own_period)


@dataclass(frozen=True)
class Row:
    person: Person
    #: empty where fewer than ten jobs have a match
    expected: str
    guess: str
    before: str
    note: str


@dataclass(frozen=True)
class FairPage:
    headline: str
    lines: tuple[str, ...]
    rows: tuple[Row, ...]
    #: whose jobs should be read: (person, called back, expected); one click below
    named: tuple[tuple[Person, int, str], ...]
    answered_on: date | None


def fair_page(report: Report, *, verdict_on: date | None) -> FairPage:
    """`verdict_on` is the day the answer holds for; None for a period somebody chose."""
    table = work_table(report.cells)
    answer = answer_of(table) if verdict_on else own_period(table)
    found = {each.key: each for each in answer.people}
    cells = callback_jobs.judged_cells(period_before(report.selection))
    before = {each.key: each for each in own_period(work_table(cells)).people}
    return FairPage(
        headline=_headline(answer, report.cells),
        lines=tuple(filter(None, _lines(answer, report))),
        rows=tuple(
            _row(person, found.get(person.pk), before.get(person.pk)) for person in report.people
        ),
        named=tuple(
            (person, own.matched_called, words.expected_count(own.expected or 0.0))
            for person in report.people
            if (own := found.get(person.pk)) and own.stands_out
        ),
        answered_on=verdict_on,
    )


def _headline(answer: Answer, cells: Sequence[callback_jobs.Alike]) -> str:
    if answer.kind == LOOK:
        tally = causes_of(cells, [int(str(person.key)) for person in answer.named])
        groups = Counter[str]()
        for cause, jobs in tally.items():
            groups[group_of(cause)] += jobs
        cluster = fair_answer.shared_cause(tally)
        return words.look(
            [(person.matched_called, person.expected or 0.0) for person in answer.named],
            causes=[(GROUPS[group].name, jobs) for group, jobs in groups.most_common()],
            cluster=(cause_label(cluster[0]), cluster[1]) if cluster else None,
        )
    if answer.kind == NOTHING and answer.missed is not None:
        return words.nothing_seen(answer.missed)
    if answer.kind == FEW:
        return words.few(answer.missed, people=len(answer.people))
    return words.OWN_PERIOD


def _lines(answer: Answer, report: Report) -> list[str]:
    lines = []
    if answer.kind == LOOK:
        lines = [words.START_WITH_THE_JOBS, words.chance_of_it(len(answer.tested))]
    elif answer.powers:
        lines = [words.would_be_found(answer.factor)]
        lines.append(words.partly(answer.seen_at_triple, len(answer.powers)))
    total = report.total
    unmatched = sum(person.unmatched_jobs for person in answer.people)
    lines.append(
        words.counted(
            judged=total.judgeable, recent=total.recent, lost=total.lost, unmatched=unmatched
        )
    )
    return [*lines, words.NOT_COUNTED]


def _row(person: Person, own: fair_answer.Person | None, before: fair_answer.Person | None) -> Row:
    return Row(
        person=person,
        expected=_expected(own),
        guess=number(own.guess, 2) if own and own.guess is not None else "",
        before=f"{number(before.called)} / {_expected(before) or '–'}" if before else "",
        note=words.no_match(own.unmatched_jobs, own.jobs) if own else "",
    )


def _expected(own: fair_answer.Person | None) -> str:
    return "" if own is None or own.expected is None else words.expected_count(own.expected)
