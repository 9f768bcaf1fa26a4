"""Which jobs the owner asks the callback report about."""

from datetime import date

import pytest
from django.urls import reverse

from jobs.models.company import company_day
from tests.conftest import NOW

pytestmark = pytest.mark.django_db
TODAY = company_day(NOW)  # 10 June 2026


@pytest.fixture
def asked(owner_client, clock):
    return lambda **words: owner_client.get(reverse("callbacks"), words)


@pytest.mark.parametrize(
    ("since", "until", "said"),
    [
        ("2016-06-02", "2026-06-10", ""),  # 3660 days
        ("2016-06-01", "2026-06-10", "Choose ten years at most."),
        ("2026-06-10", "2026-06-10", ""),
        ("2026-06-11", "2026-06-10", "must not be later than the last"),
    ],
)
def test_a_period_runs_forward_and_is_ten_years_long_at_most(asked, since, until, said):
    answer = asked(since=since, until=until)
    assert answer.status_code == (422 if said else 200)
    assert said in answer.content.decode()


def test_the_usual_report_is_the_answer_of_the_last_verdict_day(asked):
    selection = asked().context["report"].selection
    assert (selection.until, selection.today) == (date(2026, 1, 1), date(2026, 1, 1))
    assert selection.window_days == 90
    again = asked(since=selection.since, until=selection.until, window=90).context["report"]
    assert again.selection == selection
    assert (
        asked(since=selection.since, until=selection.until, window=30)
        .context["report"]
        .selection.today
        == TODAY
    )


def test_the_last_day_of_a_report_is_today_at_the_latest(asked):
    report = asked(since="2026-01-01", until="2027-01-01").context["report"]
    assert report.selection.until == TODAY
