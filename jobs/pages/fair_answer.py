"""The first sentences of the callback report, and each person beside what the others had."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache

from jobs.models import Verdict
from jobs.reports import callback_jobs, fair_answer
from jobs.reports.callbacks import GROUPS, Person, Report, cause_label, group_of
from jobs.reports.fair_answer import FEW, LOOK, NOTHING, Answer
from jobs.reports.fair_cells import causes_of, period_before, work_table
from jobs.reports.fair_kept import read_again, table_read
from jobs.reports.fair_since import known_since
from jobs.reports.fair_table import Table
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
    table, kept = work_table(report.cells), _kept(verdict_on)
    answer = read_again(kept.answer) if kept else _answer(table, verdict_on)
    found = {each.key: each for each in answer.people}
    cells = callback_jobs.judged_cells(period_before(report.selection))
    before = {each.key: each for each in own_period(work_table(cells)).people}
    return FairPage(
        headline=_headline(answer, _causes(answer, report, kept)),
        lines=tuple(filter(None, [*_since(answer, table, kept), *_lines(answer, report)])),
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


def file_sentence(report: Report, verdict_on: date | None, narrowed: Sequence[str]) -> str:
    """What stands over the figures in a file: the answer, its day and what was asked for."""
    kept = _kept(verdict_on)
    answer = read_again(kept.answer) if kept else _answer(work_table(report.cells), verdict_on)
    day = f"{verdict_on:%-d %B %Y}" if verdict_on else ""
    return words.over_a_file(_headline(answer, _causes(answer, report, kept)), day, narrowed)


def _answer(table: Table, verdict_on: date | None) -> Answer:
    return answer_of(table) if verdict_on else own_period(table)


def _kept(verdict_on: date | None) -> Verdict | None:
    """None for a period that somebody chose, and before the first night from that day on."""
    return Verdict.objects.filter(day=verdict_on).first() if verdict_on else None


def _causes(answer: Answer, report: Report, kept: Verdict | None) -> Mapping[str, int]:
    """Of the callbacks of whom it names."""
    if kept:
        causes: Mapping[str, int] = kept.causes
        return causes
    return causes_of(report.cells, [int(str(person.key)) for person in answer.named])


def _since(answer: Answer, table: Table, kept: Verdict | None) -> list[str]:
    """What became known after the answer was given, and whether it would be another now."""
    if kept is None or table == table_read(kept.table):
        return []
    again = answer_of(table)
    is_same = (again.kind, again.named_keys) == (answer.kind, answer.named_keys)
    return [words.known_since(known_since(kept), again.kind, is_same=is_same)]


def _headline(answer: Answer, tally: Mapping[str, int]) -> str:
    if answer.kind == LOOK:
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
