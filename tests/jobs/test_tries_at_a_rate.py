"""A technician tries every address of the report for another's rate; `pytest -s` prints the table.

Two people have worked; the tries are all pages, lists and files of the report with every word that
narrows them, the pages of jobs, facts and corrections, and what the technician may open otherwise.
"""

from collections import Counter
from datetime import date, timedelta
from itertools import product

import pytest
from django.urls import reverse

from jobs.models import CallbackFact, HandoverFact
from jobs.reports import chemicals, job_list
from jobs.reports.callback_jobs import KINDS, WINDOWS
from jobs.reports.water_classes import WATERS
from tests.acts import booked, called_back, opened, visited, worked
from tests.conftest import NOW, signed_in
from tests.factories import make_staff, make_train
from tests.jobs.random_company import noon

pytestmark = pytest.mark.django_db
DAY = date(2026, 1, 10)
PERIOD = {"since": "2026-01-01", "until": "2026-06-10"}


@pytest.fixture
def people(clock):
    """Who tries, and the other, who was called back on two of twelve jobs."""
    curious = make_staff("technician", first_name="Cy", last_name="Marsh")
    other = make_staff("technician", first_name="Ida", last_name="Rowan")
    for number in range(12):
        day = noon(DAY) + timedelta(days=number)
        job = worked(make_train(stages=("softener",)), other, at=day)
        if number < 2:
            at = day + timedelta(days=30)
            visited(called_back(job, at=at), other, at=at, cause="A_leak", cause_note="seen")
    house = make_train(stages=("softener",))
    worked(house, curious, at=noon(DAY))
    booked(opened(house, at=NOW), curious, at=NOW)
    return curious, other, house


def _narrowed(other):
    """Every word of the list of jobs, one at a time, with the other's number."""
    words = [{"installer": other.pk}]
    words += [{"installer": other.pk, "what": what} for what, _ in job_list.CHOICES if what]
    words += [{"installer": other.pk, "kind": kind} for kind in KINDS]
    words += [{"installer": other.pk, "water": water} for water in WATERS]
    words += [{"installer": other.pk, "page": 2}]
    return words


def _tries(other):
    """(group, address, words)"""
    yield from _at_lists(other)
    yield from _at_rows(other)


def _at_lists(other):
    for window, words in product(WINDOWS, [{}, {"installer": other.pk}, {"person": other.pk}]):
        yield "report", reverse("callbacks"), {**PERIOD, "window": window, **words}
    for words in _narrowed(other):
        yield "lists of jobs", reverse("callbacks-jobs"), {**PERIOD, "window": 90, **words}
    for kind, of in product(("csv", "xlsx", "pdf"), ("", "jobs", "people")):
        for words in _narrowed(other):
            asked = {**PERIOD, "window": 90, "as": kind, "of": of, **words}
            yield "files", reverse("callbacks-export"), asked
    for name in ("chemicals", "chemicals-fills", "chemicals-file"):
        for only in ("", *chemicals.ONLY):
            yield "chemicals", reverse(name), {**PERIOD, "person": other.pk, "only": only}
    for name in ("who-changed", "who-changed-file"):
        yield "changes", reverse(name), {"person": other.pk}
    for name in ("people", "worklist", "charges", "charges-file", "day", "week"):
        yield "office", reverse(name), {"person": other.pk, "installer": other.pk}


def _at_rows(other):
    yield "office", reverse("person-edit", args=[other.pk]), {}
    for fact in HandoverFact.objects.filter(installer=other):
        yield "jobs by person", reverse("job-detail", args=[fact.job_id]), {}
        yield "corrections", reverse("handover-correct", args=[fact.pk]), {}
    for fact in CallbackFact.objects.all():
        yield "corrections", reverse("report-correct", args=[fact.pk]), {}
        yield "causes", reverse("cause-decide", args=[fact.job_id]), {}
        yield "causes", reverse("question-settle", args=[fact.job_id]), {}
    yield "causes", reverse("cause-review"), {"installer": other.pk}
    for name in ("callback-rate", "observed-expected"):
        yield "worksheets", reverse("worksheet", args=[name]), {}


def test_no_address_tells_a_technician_of_another(people, owner):
    curious, other, _ = people
    client, counted = signed_in(curious), Counter()
    through = []
    for group, address, words in _tries(other):
        for method in ("get", "head", "post"):
            answer = getattr(client, method)(address, words)
            counted[group, answer.status_code] += 1
            if answer.status_code not in (403, 404, 405):
                through.append((method, address, words, answer.status_code))
    groups = dict.fromkeys(group for group, _ in counted)
    for group in groups:
        found = {status: n for (of, status), n in counted.items() if of == group}
        told = ", ".join(f"{status}: {n}" for status, n in sorted(found.items()))
        print(f"| {group} | {sum(found.values())} | {told} |")
    print(f"| all | {counted.total()} | refused {counted.total() - len(through)} |")
    assert through == []
    assert counted.total() > 500
    asked = {**PERIOD, "window": 90}
    assert signed_in(owner).get(reverse("callbacks"), asked).status_code == 200, "the owner may"


def test_what_a_technician_may_open_names_no_rate(people):
    """Own house, day, history, search and worksheets, with the words that narrow the report."""
    curious, other, house = people
    client = signed_in(curious)
    opened_pages = 0
    for name, arguments in (
        ("home", []),
        ("my-day", []),
        ("search", []),
        ("worksheets", []),
        ("account", []),
        ("site-detail", [house.site_id]),
        ("site-history", [house.site_id]),
    ):
        words = {"installer": other.pk, "person": other.pk, "q": other.last_name}
        answer = client.get(reverse(name, args=arguments), words, follow=True)
        assert answer.status_code == 200, name
        text = answer.content.decode()
        opened_pages += 1
        # the word that was searched for stands in its own box
        shown = text.replace(f'value="{other.last_name}"', "")
        assert f"{other.first_name} {other.last_name}" not in shown, name
        for owners in ("callbacks", "chemicals", "who-changed", "people"):
            assert f'href="{reverse(owners)}' not in text, name
    assert opened_pages == 7
