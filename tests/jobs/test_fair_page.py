"""The answer on the owner's page, from the acts that lead to it: no name in it, two days a year."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.reports.fair_cells import period_before
from jobs.wording import fairness as words
from tests.acts import called_back, visited, worked
from tests.factories import make_staff, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)
BEGIN = date(2026, 1, 5)
LOOKED = date(2026, 9, 3)


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


def _selection():
    from jobs.reports.callback_jobs import Selection

    return Selection(date(2024, 4, 3), date(2026, 7, 1), 90, date(2026, 7, 1))
