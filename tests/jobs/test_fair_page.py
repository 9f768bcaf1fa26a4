"""The answer on the owner's page, from the acts that lead to it: no name in it, two days a year."""

import csv
import io
import zipfile
from datetime import date, timedelta
from xml.etree import ElementTree

import openpyxl
import pytest
from django.urls import reverse

from jobs.models import CallbackFact, Verdict
from jobs.reports.fair_answer import answer_of
from jobs.reports.fair_cells import period_before
from jobs.reports.fair_kept import read_again, table_read
from jobs.wording import fairness as words
from jobs.workflows import nights
from jobs.workflows.fact_corrections import correct_report
from jobs.workflows.verdicts import keep_verdict
from tests.acts import called_back, visited, worked
from tests.factories import make_staff, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
BEGIN = date(2026, 1, 5)
LOOKED = date(2026, 9, 3)
#: the first night from a day of answers on
NIGHT = noon(date(2026, 7, 2))


@pytest.fixture(autouse=True)
def in_september(monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: LOOKED)


def did(last, jobs, *causes, begin=BEGIN):
    """So many softeners started, a day apart; customers of the first call a month later."""
    who = make_staff("technician", last_name=last, first_name="X")
    for number in range(jobs):
        train = make_train(stages=("softener",))
        job = worked(train, who, "startup", at=noon(begin + number * DAY))
        if number < len(causes):
            at = noon(job.index_on + 30 * DAY)
            back = called_back(job, at=at)
            visited(back, who, at=at + timedelta(hours=1), cause=causes[number], cause_note="seen")
    return who


def page(client, **asked):
    answer = client.get(reverse("callbacks"), asked)
    return " ".join(answer.content.decode().split()), answer.context["fair"]


def test_one_who_is_called_back_eight_of_ten_times(owner_client):
    """8 of 10 against 1 of 30: expected 10 / 30, below one no figure. The name is a click away."""
    did("Ash", 10, *["A_leak"] * 3, *["C_size"] * 5)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    text, fair = page(owner_client)
    assert fair.headline.startswith(
        "One person’s jobs should be read: 8 called back, fewer than 1 expected. "
    )
    assert "This is a reason to read 8 reports, not a finding about anybody." in fair.headline
    assert "Causes: 5 design, 3 workmanship." in fair.headline
    head, _, below = text.partition("Whose jobs to read")
    assert "Ash" not in head
    assert "Ash, X</a>: 8 called back" in below
    assert words.START_WITH_THE_JOBS in text
    assert words.DOES_NOT_DECIDE in text
    assert words.NOT_COUNTED in text
    assert "Answer of July 1, 2026" in text or "Answer of 1 July 2026" in text
    assert [row.person.name for row in fair.rows] == ["Ash, X", "Elm, X", "Oak, X"]
    assert [person.name for person, _, _ in fair.named] == ["Ash, X"]


def test_one_cause_of_half_of_them_is_said_before(owner_client):
    did("Ash", 10, *["A_leak"] * 3, *["E_equipment"] * 5)
    did("Elm", 15)
    did("Oak", 15, "G_source")
    _, fair = page(owner_client)
    assert "expected. Five of the 8 share one cause: " in fair.headline


def test_few_jobs_are_too_few(owner_client):
    did("Ash", 10, "A_leak", "A_leak")
    did("Elm", 10)
    text, fair = page(owner_client)
    assert fair.headline.startswith("Too few jobs to tell. If somebody were called back twice")
    assert fair.named == ()
    assert "Whose jobs to read" not in text
    assert [(row.expected, row.guess) for row in fair.rows] == [
        ("fewer than 1", "1.20"),
        ("2", "0.83"),
    ]


def test_one_installer_alone_is_compared_with_nobody(owner_client):
    """Ten of twenty called back once read "No": there was nobody to tell it by."""
    did("Ash", 20, *["A_leak"] * 10)
    text, fair = page(owner_client)
    assert fair.headline == words.NOBODY_ELSE
    assert "20 of these 20 jobs have no match: nobody else did such work." in text
    assert "counts only" in text


def test_a_period_of_ones_own_has_counts_and_no_answer(owner_client):
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    text, fair = page(owner_client, since="2026-01-01", until="2026-03-01", window=90)
    assert fair.headline == words.OWN_PERIOD
    assert fair.named == ()
    assert fair.answered_on is None
    assert "should be read" not in text
    assert fair.rows[1].expected == "4.8"


def test_the_answer_stays_until_the_next_verdict_day(owner_client, monkeypatch):
    """Whoever looks again in December reads what was read in July."""
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15)
    _, in_september = page(owner_client)
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: date(2026, 12, 31))
    did("Oak", 12, *["A_leak"] * 12, begin=date(2026, 9, 5))
    _, in_december = page(owner_client)
    assert (in_december.headline, in_december.lines) == (in_september.headline, in_september.lines)
    assert [row.expected for row in in_december.rows] == [row.expected for row in in_september.rows]


def test_the_period_before_stands_beside(owner_client):
    did("Ash", 10, "A_leak")
    elm = did("Elm", 10, "A_leak", begin=date(2024, 1, 5))
    assert elm
    _, fair = page(owner_client)
    assert [(row.person.name, row.before) for row in fair.rows] == [("Ash, X", "")]
    _, fair = page(owner_client, since="2024-04-03", until="2026-07-02", window=90)
    before = period_before(_selection())
    assert (before.since, before.until) == (date(2022, 4, 4), date(2024, 4, 2))


def test_no_figure_leaves_without_the_answer_above_it(owner_client):
    """In both files of both lists, read by the workbook library and as plain XML; no name in it."""
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    _, fair = page(owner_client)
    told = f"{fair.headline} Answer of 1 July 2026. "
    assert "should be read: 8 called back" in told
    for asked, only in (
        ({}, ""),
        ({"of": "jobs", "water": "untested"}, "Only: raw water not tested. "),
    ):
        text = _file(owner_client, **asked, **{"as": "csv"}).content.decode("utf-8-sig")
        row = next(csv.reader(io.StringIO(text)))
        expected = told + only + "Not for ranking. Does not decide pay or discipline. "
        assert row[0] == expected + words.NOT_COUNTED
        assert "Ash" not in row[0]
        answer = _file(owner_client, **asked, **{"as": "xlsx"})
        assert "Ash" not in answer.headers["Content-Disposition"]
        book = openpyxl.load_workbook(io.BytesIO(answer.content))
        assert book.worksheets[0]["A1"].value == row[0]
        assert book.worksheets[1].title == "Rules"
        with zipfile.ZipFile(io.BytesIO(answer.content)) as parts:
            strings = ElementTree.fromstring(parts.read("xl/worksheets/sheet1.xml"))
        assert row[0] in list(strings.itertext())


def _file(client, **asked):
    return client.get(reverse("callbacks-export"), asked)


def test_a_file_of_a_period_of_ones_own_says_that_it_has_no_answer(owner_client):
    did("Ash", 10, *["A_leak"] * 8)
    asked = {"since": "2026-01-01", "until": "2026-03-01", "window": 90, "as": "csv"}
    text = _file(owner_client, **asked).content.decode("utf-8-sig")
    assert next(csv.reader(io.StringIO(text)))[0].startswith(words.OWN_PERIOD + " Not for ranking.")


def _selection():
    from jobs.reports.callback_jobs import Selection

    return Selection(date(2024, 4, 3), date(2026, 7, 1), 90, date(2026, 7, 1))


# --- kept as it was given -----------------------------------------------------------------------


def test_the_night_keeps_the_answer_and_the_page_reads_it(owner_client):
    did("Ash", 10, *["A_leak"] * 3, *["C_size"] * 5)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    before, fresh = page(owner_client)
    keep_verdict(NIGHT)
    keep_verdict(NIGHT + DAY)
    kept = Verdict.objects.get()
    assert (kept.day, kept.kind, kept.recorded_at) == (date(2026, 7, 1), "look", NIGHT)
    assert kept.causes == {"A_leak": 3, "C_size": 5}
    after, read = page(owner_client)
    assert (read.headline, read.named, read.lines) == (fresh.headline, fresh.named, fresh.lines)
    assert [row.expected for row in read.rows] == [row.expected for row in fresh.rows]
    assert "corrected or told since" not in before + after


def test_what_is_read_again_is_the_same_to_the_digit(owner_client):
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    keep_verdict(NIGHT)
    kept = Verdict.objects.get()
    table = table_read(kept.table)
    assert read_again(kept.answer) == answer_of(table)
    assert (table.people, sum(map(sum, table.jobs))) == (tuple(sorted(table.people)), 40)
    assert kept.method == answer_of(table).method


def test_a_correction_changes_no_answer_that_was_given_and_is_said(owner_client, owner):
    """Of eight callbacks one was none: seven of ten are still as many."""
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    keep_verdict(NIGHT)
    _, before = page(owner_client)
    none_after_all(owner, 1)
    text, after = page(owner_client)
    assert after.headline == before.headline
    told = "One fact was corrected or told since; with them the answer would be: the same."
    assert told in text


def test_corrections_that_would_give_another_answer_say_which(owner_client, owner):
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    keep_verdict(NIGHT)
    none_after_all(owner, 8)
    text, fair = page(owner_client)
    assert fair.headline.startswith("One person’s jobs should be read: 8 called back")
    assert "8 facts were corrected or told since; with them the answer would be: " in text
    assert "too few jobs to tell." in text


def test_a_person_who_left_and_another_name_change_no_answer(owner_client):
    ash = did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    keep_verdict(NIGHT)
    kept = Verdict.objects.get()
    ash.last_name, ash.is_active = "Ashby", False
    ash.save()
    _, fair = page(owner_client)
    assert [person.name for person, _, _ in fair.named] == ["Ashby, X"]
    assert "Ash" not in str(kept.answer) + str(kept.table) + str(kept.causes)


def test_a_period_of_ones_own_and_the_next_day_of_answers_read_no_kept_one(
    owner_client, monkeypatch
):
    did("Ash", 10, *["A_leak"] * 8)
    did("Elm", 15, "G_source")
    did("Oak", 15)
    keep_verdict(NIGHT)
    _, own = page(owner_client, since="2026-01-01", until="2026-03-01", window=90)
    assert own.headline == words.OWN_PERIOD
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: date(2027, 1, 2))
    _, fair = page(owner_client)
    assert fair.answered_on == date(2027, 1, 1)
    keep_verdict(noon(date(2027, 1, 2)))
    assert [row.day for row in Verdict.objects.all()] == [date(2027, 1, 1), date(2026, 7, 1)]


def test_the_night_does_it(owner_client):
    assert keep_verdict in nights.PARTS


def none_after_all(owner, how_many):
    """So many of the callbacks of the first installer are taken back by the owner."""
    facts = CallbackFact.objects.standing().filter(answer="yes", cause="A_leak").order_by("pk")
    for fact in list(facts[:how_many]):
        correct_report(
            job=fact.job,
            answer="no",
            origin=None,
            reason="it was the new heater",
            by=owner,
            now=noon(LOOKED),
        )
