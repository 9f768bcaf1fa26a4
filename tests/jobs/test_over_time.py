"""The callback page over time, from what people did."""

from datetime import date, timedelta

import pytest
from django.urls import reverse

from jobs.models import HandoverFact
from tests.acts import called_back, sold, worked
from tests.factories import make_staff, make_train
from tests.jobs.random_company import noon
from tests.jobs.test_fair_page import LOOKED, did

pytestmark = pytest.mark.django_db
DAY = timedelta(days=1)


@pytest.fixture(autouse=True)
def in_september(monkeypatch):
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: LOOKED)


def over(client, **asked):
    answer = client.get(reverse("callbacks"), asked)
    return " ".join(answer.content.decode().split()), answer.context["over"]


def test_each_job_is_a_tick_in_the_order_of_handover(owner_client):
    """Twelve in January, the first two called back; the eleventh sold; one of June too recent."""
    ash = did("Ash", 12, "A_leak", "C_size")
    eleventh = HandoverFact.objects.order_by("day")[10]
    sold(eleventh.site, on=eleventh.day + 20 * DAY, at=noon(LOOKED), buyer="unknown")
    worked(make_train(stages=("softener",)), ash, "startup", at=noon(date(2026, 6, 10)))
    text, found = over(owner_client)
    (row,) = found.rows
    ticks = [each.tick for each in row.ticks]
    assert [tick.called for tick in ticks] == [True] * 2 + [False] * 11
    assert [tick.state for tick in ticks] == ["judged"] * 10 + ["lost", "judged", "too recent"]
    assert row.said == "Jobs since the last callback: 9"
    assert "Jobs since the last callback: 9" in text
    assert text.count('class="lived"') == 1
    assert text.count('class="stem"') == 1


def test_recent_jobs_count_for_the_days_they_were_followed(owner_client):
    """Own arithmetic: ten of January and ten of two days ago, one of each group called back.

    Day 1: 1 of 20 followed; day 30: the ten of January, 9 of them not; (19/20) / 10 more.
    """
    did("Ash", 10, "A_leak")
    at = noon(LOOKED - 2 * DAY)
    crew = [make_staff("technician") for _ in range(10)]
    jobs = [worked(make_train(stages=("softener",)), each, "startup", at=at) for each in crew]
    called_back(jobs[0], at=noon(LOOKED - DAY))
    asked = {"since": "2026-01-01", "until": "2026-09-03", "window": 90}
    text, found = over(owner_client, **asked)
    share, _, _, lost = found.last
    assert share == pytest.approx(1 / 20 + 19 / 20 / 10)
    assert lost == 0
    assert [mark.followed for mark in found.marks] == [20, 10, 9, 9]
    # fewer than ten are followed after day 30, so nothing is drawn or said of day 90
    assert found.last_day == 30
    assert [mark.called for mark in found.marks][2:] == [None, None]
    assert "By day 30 after handover 14.5" in text


def test_loss_is_an_ending_of_its_own(owner_client):
    """Of fourteen one is called back on day 30 and one lost on day 40."""
    did("Ash", 14, "A_leak")
    lost = HandoverFact.objects.order_by("day")[5]
    sold(lost.site, on=lost.day + 40 * DAY, at=noon(LOOKED), buyer="not_ours")
    _, found = over(owner_client)
    share, _, _, gone = found.last
    assert share == pytest.approx(1 / 14)
    assert gone == pytest.approx(1 / 14)


def test_nothing_is_joined_across_a_change_of_the_rules(owner_client, monkeypatch):
    did("Ash", 12, "A_leak")
    monkeypatch.setattr("jobs.pages.over_time.new_rules_since", lambda: date(2026, 1, 9))
    text, found = over(owner_client)
    assert found.rows[0].change == 4 * 9
    assert [mark.followed for mark in found.marks][0] == 8
    assert found.curve == ""
    assert "Fewer than ten jobs are followed: no curve." in text
    assert "From January 9, 2026" in text or "From 9 January 2026" in text


def test_an_empty_company_draws_nothing(owner_client):
    text, _ = over(owner_client)
    assert "Over time" not in text
