"""The list of jobs behind the report: what may be asked of it, and that it keeps in the address."""

from urllib.parse import parse_qs, urlsplit

import pytest
from django.urls import reverse

from jobs.reports.callbacks import GROUPS, group_of
from jobs.reports.job_list import cause_of
from jobs.workflows.facts import correct_handover
from tests.acts import HOUR, booked, called_back, closed, opened, visited, worked
from tests.conftest import NOW, signed_in
from tests.factories import make_staff, make_train, some_user
from tests.jobs.random_company import TODAY, build_company
from tests.jobs.test_exports import PERIOD

pytestmark = pytest.mark.django_db


@pytest.fixture
def company(monkeypatch):
    """As people made it in some years."""
    monkeypatch.setattr("jobs.views.callbacks.company_day", lambda now: TODAY)
    monkeypatch.setattr("jobs.views.callbacks.ROWS", 10_000)
    return build_company(42, houses=14, jobs=60)


def asked(client, **words):
    answer = client.get(reverse("callbacks-jobs"), {**PERIOD, "window": 90, **words})
    assert answer.status_code == 200
    return answer


def listed(client, **words):
    return asked(client, **words).context["lines"]


def own_of(line):
    return line.callback.pk if line.callback else line.job.pk


def choices(client, name):
    field = asked(client).context["form"].fields[name]
    return [value for value, _ in field.choices if value]


def test_causes_divide_a_list_without_rest(owner_client, company):
    for what in ("jobs", "returns", "callbacks"):
        whole = listed(owner_client, what=what)
        called = [line for line in whole if line.callback]
        assert len({cause_of(line.callback) for line in called}) > 4
        by_cause, by_group = [], []
        for cause in choices(owner_client, "cause"):
            found = listed(owner_client, what=what, cause=cause)
            assert {cause_of(line.callback) for line in found} <= {cause}
            by_cause += map(own_of, found)
        for group in choices(owner_client, "group"):
            found = listed(owner_client, what=what, group=group)
            assert {group_of(cause_of(line.callback)) for line in found} <= {group}
            by_group += map(own_of, found)
        assert sorted(by_cause) == sorted(by_group) == sorted(map(own_of, called)), what


def test_kind_water_and_person_divide_a_list_without_rest(owner_client, company):
    for what, least in (("jobs", 40), ("returns", 5), ("inherited", 2)):
        whole = sorted(map(own_of, listed(owner_client, what=what)))
        assert len(whole) >= least
        for name in ("kind", "water", "installer"):
            parts = [
                sorted(map(own_of, listed(owner_client, what=what, **{name: value})))
                for value in choices(owner_client, name)
            ]
            assert sorted(sum(parts, [])) == whole, (what, name)
            assert max(map(len, parts)) < len(whole) or what == "inherited", (what, name)


def test_a_system_taken_over_shows_its_kind_and_water_and_the_address_keeps_the_question(
    owner_client, company
):
    found = listed(owner_client, what="inherited")
    assert {line.state for line in found} == {"taken over from others"}
    assert all(line.system and line.water for line in found)
    assert not any(listed(owner_client, what="inherited", group=group) for group in GROUPS)
    words = {"what": "judgeable", "kind": "filter", "water": "usual"}
    answer = asked(owner_client, **words)
    kept = parse_qs(urlsplit(answer.context["files"]).query)
    assert {name: kept[name] for name in words} == {name: [word] for name, word in words.items()}
    text = answer.content.decode()
    for value in words.values():
        assert f'<option value="{value}" selected>' in text
    assert "filter, neutralizer or aeration; neither." in " ".join(text.split())


def test_what_cannot_be_asked_is_said_at_its_field(owner_client):
    wrong = {"installer": "999", "kind": "pump", "cause": "Z", "since": "soon"}
    answer = owner_client.get(reverse("callbacks-jobs"), {**PERIOD, **wrong})
    assert answer.status_code == 422
    assert sorted(answer.context["form"].errors) == ["cause", "installer", "kind", "since"]
    assert "Not listed" in answer.content.decode()
    assert owner_client.get(reverse("callbacks-export"), wrong).status_code == 400


def test_who_helped_stands_beside_the_lead_in_list_and_file(owner_client):
    lead = make_staff("technician", first_name="Robin", last_name="Elm")
    other = make_staff("technician", first_name="Ana", last_name="Birch")
    job = opened(make_train(), at=NOW)
    closed(booked(job, lead, at=NOW, helper=other))
    back = called_back(job, at=NOW + 2 * HOUR)
    visited(back, lead, at=NOW + 3 * HOUR, cause="A_leak")
    worked(make_train(), lead, at=NOW + 6 * HOUR)
    words = {"since": "2026-01-01", "until": "2026-12-31"}
    answer = owner_client.get(reverse("callbacks-jobs"), words)
    helped = [line for line in answer.context["lines"] if line.helpers]
    assert [(line.job.pk, line.helpers[0][0]) for line in helped] == [(job.pk, "Birch, Ana")]
    assert "with Birch, Ana (" in " ".join(answer.content.decode().split())
    [line] = listed(owner_client, **words, what="returns")
    assert line.helpers[0][0] == "Birch, Ana"
    files = owner_client.get(reverse("callbacks-export"), {**words, "of": "jobs"})
    assert "Birch, Ana (" in files.content.decode()
    correct_handover(
        job=job, reason="Ana led it that day", by=some_user(), now=NOW, installer=other
    )
    swapped = next(line for line in listed(owner_client, **words) if line.helpers)
    assert (swapped.installer, [name for name, _ in swapped.helpers]) == (
        "Birch, Ana",
        ["Elm, Robin"],
    )


def test_only_the_owner_may_ask(dispatcher_client):
    technician = signed_in(make_staff("technician"))
    for client in (dispatcher_client, technician):
        assert client.get(reverse("callbacks-jobs"), {"installer": "1"}).status_code == 403
