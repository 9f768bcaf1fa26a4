"""The page of the callback report: rules on it, order of the alphabet, empty states."""

import re
from datetime import date

import pytest
from django.urls import reverse

from jobs.models import Job
from tests.factories import make_job, make_staff, make_train
from tests.jobs.random_company import TODAY, build_company
from tests.jobs.test_exports import PERIOD, _address

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def at_today(monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)


def page(client, **words):
    return client.get(_address("callbacks", **{**PERIOD, **words}))


def test_definitions_stand_on_the_page(owner_client):
    build_company(1, houses=2, jobs=3)
    text = page(owner_client).content.decode()
    for word in (
        "A job",
        "A callback",
        "Judgeable",
        "Workmanship",
        "recheck was overdue",
        "In alphabetical order, not ranked",
        "Not on a rate alone",
        "Let a lawyer who knows the labour law",
    ):
        assert word in text, word


def test_persons_are_listed_by_name_whatever_their_rate(owner_client):
    build_company(42)
    text = page(owner_client).content.decode()
    table = text.split("Each installer beside the others")[1].split("</table>")[0]
    names = re.findall(r'<th scope="row">\s*<a [^>]*>([^<]+)</a>', table)
    assert len(names) >= 4
    assert names == sorted(names, key=str.casefold)


def test_no_person_is_marked_by_a_colour(owner_client):
    build_company(42, houses=4, jobs=8)
    text = page(owner_client).content.decode()
    assert 'class="pick"' not in text
    for mark in ('class="late"', 'class="stop"', 'class="ok"'):
        assert mark not in text


def test_each_number_group_and_stratum_leads_to_as_many_jobs(owner_client):
    build_company(19)
    answer = page(owner_client)
    person = max(answer.context["report"].people, key=lambda each: each.counts.callbacks)
    for what, number in [
        ("judgeable", person.counts.judgeable),
        ("callbacks", person.counts.callbacks),
        ("workmanship", person.counts.workmanship),
        ("recent", person.counts.recent),
        ("lost", person.counts.lost),
        ("outside", person.counts.outside),
        ("defects", person.counts.defects),
        ("returns", person.returns),
        ("excluded", person.counts.excluded),
    ]:
        listed = owner_client.get(
            _address("callbacks-jobs", **PERIOD, what=what, installer=person.pk)
        )
        assert listed.context["page_obj"].paginator.count == number, what
    report = answer.context["report"]
    for line in report.groups:
        words = {"what": "callbacks", "group": line.group.replace("?", "%3F")}
        listed = owner_client.get(_address("callbacks-jobs", **PERIOD, **words))
        assert listed.context["page_obj"].paginator.count == line.jobs
    for row in report.strata:
        words = {"what": "judgeable", "kind": row.kind, "water": row.water}
        listed = owner_client.get(_address("callbacks-jobs", **PERIOD, **words))
        assert listed.context["page_obj"].paginator.count == row.judgeable


def test_below_ten_jobs_the_page_shows_the_count_only(owner_client):
    installer = make_staff("technician", last_name="Rowan")
    make_job(
        train=make_train(),
        kind=Job.Kind.STARTUP,
        status="completed",
        index_on=date(2026, 1, 10),
        installer=installer,
    )
    text = page(owner_client).content.decode()
    assert "counts only" in text
    assert "not shown" in text


def test_an_empty_period_says_so(owner_client):
    text = page(owner_client, since="2020-01-01", until="2020-02-01").content.decode()
    assert "No job was handed over in this period" in text


def test_without_words_the_answer_that_stands_is_shown(owner_client):
    """Two years that end ninety days before 1 January, and what came after as too recent."""
    selection = owner_client.get(reverse("callbacks")).context["report"].selection
    assert (selection.since, selection.until) == (date(2023, 10, 4), date(2026, 1, 1))
    assert (selection.window_days, selection.today) == (90, date(2026, 1, 1))


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"since": "2026-05-01", "until": "2026-04-01"}, "must not be later"),
        ({"since": "1990-01-01"}, "ten years at most"),
        ({"since": "yesterday"}, "Write a day, such as"),
        ({"window": 45}, "Choose one of those offered."),
    ],
)
def test_a_selection_that_cannot_be_counted_is_refused(owner_client, words, said):
    answer = page(owner_client, **words)
    assert answer.status_code == 422
    assert said in answer.content.decode()


def test_report_and_list_ask_the_database_a_fixed_number_of_times(
    owner_client, django_assert_max_num_queries
):
    build_company(5, houses=4, jobs=8)
    with django_assert_max_num_queries(22):
        page(owner_client)
    with django_assert_max_num_queries(12):
        owner_client.get(_address("callbacks-jobs", **PERIOD))
